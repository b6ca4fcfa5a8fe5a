# SPDX-License-Identifier: GPL-2.0-or-later
"""Data snooping: finding blunders one at a time."""

from __future__ import annotations

from dataclasses import dataclass

from ..progress import SILENT, Progress
from .adjustment import Adjustment, FreeNetwork
from .observations import Bools, Observations, Unknowns
from .statistics import Statistics


@dataclass(frozen=True)
class Rejection:
    """An observation taken out, in the order of rejection: `kind` is the field name in
    `Observations`, `component` -1 for a correlated item; `test` against `critical`; `reason` is a
    sentence for the report."""

    kind: str
    item: int
    component: int
    test: float
    critical: float
    redundancy: float
    reason: str


@dataclass(frozen=True, eq=False)
class Snooping:
    """The adjustment without the rejected observations, its statistics, and what was rejected."""

    adjustment: Adjustment
    statistics: Statistics
    rejected: tuple[Rejection, ...]


def snoop(
    unknowns: Unknowns,
    observations: Observations,
    *,
    used: Bools | None = None,
    testable: Bools | None = None,
    free: FreeNetwork | None = None,
    least_redundancy: float = 0.05,
    most: int | None = None,
    progress: Progress = SILENT,
) -> Snooping:
    """Adjust, take out the observation with the largest exceedance, adjust again, until none is.

    `testable (m,)` limits which rows may be rejected; an observation whose redundancy is below
    `least_redundancy` is never rejected; `most` limits the number of rejections.
    """
    raise NotImplementedError
