# SPDX-License-Identifier: GPL-2.0-or-later
"""The list of ties while it is put together: one tie at a time, then all as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .model import TieKind, Ties

NAN = float("nan")


@dataclass(frozen=True)
class Tie:
    """One tie; what its fields say, and their units, as in `Ties`."""

    name: str
    kind: TieKind
    from_station: int
    to_station: int = -1
    to_target: int = -1
    residual_m: float = NAN
    residual_rad: float = NAN
    standardised: float = NAN
    redundancy: float = NAN
    used: bool = True
    reason: str = ""
    detectable_m: float = NAN
    detectable_rad: float = NAN


def ties_of(rows: Sequence[Tie]) -> Ties:
    """All ties, in the order put down."""

    def column(name: str, kind: type) -> np.ndarray:
        return np.array([getattr(row, name) for row in rows], dtype=kind)

    return Ties(
        name=tuple(row.name for row in rows),
        kind=tuple(row.kind for row in rows),
        from_station=column("from_station", np.int64),
        to_station=column("to_station", np.int64),
        to_target=column("to_target", np.int64),
        residual_m=column("residual_m", float),
        residual_rad=column("residual_rad", float),
        standardised=column("standardised", float),
        redundancy=column("redundancy", float),
        used=column("used", bool),
        reason=tuple(row.reason for row in rows),
        detectable_m=column("detectable_m", float),
        detectable_rad=column("detectable_rad", float),
    )
