# SPDX-License-Identifier: GPL-2.0-or-later
"""Data snooping: finding blunders one at a time.

Baarda, *A testing procedure for use in geodetic networks* (1968); Ghilani, *Adjustment
Computations*, 5th ed., ch. 21. Two things are added for ties that are wrong by metres or half a
turn: what disagrees with robust values of the unknowns goes first, and what the final network
agrees with comes back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .adjustment import Adjustment, FreeNetwork
from .adjustment_problem import Problem
from .adjustment_robust import robust_values
from .blunders_search import Rejection, Search
from .observations import Bools, Observations, Unknowns
from .statistics import Statistics

__all__ = ["Rejection", "Snooping", "snoop"]


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
    """Adjust, take out the observation with the least probable residual, adjust again, until all
    pass; a rejected observation that the final network agrees with after all is taken back.

    `testable (m,)` limits which rows may be rejected; an observation whose redundancy (of a
    correlated item: in its least controlled direction) is below `least_redundancy` is never
    rejected; `most` limits the number of rejections. Raises SurveyError as `adjust` does.
    """
    may = observations.all_used() if testable is None else np.array(testable, dtype=bool)
    if may.shape != (observations.rows,):
        raise SurveyError(
            f"Data snooping: testable is {may.shape}, expected ({observations.rows},)."
        )
    problem = Problem(unknowns, observations, used, None if free is None else free.places)
    search = Search(problem, may, least_redundancy, observations.rows if most is None else most)
    search.adjust(unknowns, progress.part(0.0, 0.3))
    if search.plainly_failing() or search.failing().any():
        robust, off = robust_values(
            problem, may, search.adjustment.unknowns, progress.part(0.3, 0.6)
        )
        # At a solution that gross errors bend, redundancies would be wrong: take them at the
        # robust values.
        search.linearise(robust)
        while (row := search.farthest(off)) >= 0:
            progress.at(0.7)
            search.reject(row)
        search.adjust(robust)
    while True:
        progress.at(0.9)
        if (row := search.worst()) >= 0:
            search.reject(row)
        elif (row := search.agreeing()) >= 0:
            search.take_back(row)
        elif search.settled:
            break
        else:
            search.adjust_again()
    progress.at(1.0)
    rejected = tuple(
        _told(rejection, search.statistics, row) for row, rejection in search.rejected.items()
    )
    return Snooping(search.adjustment, search.statistics, rejected)


def _told(rejection: Rejection, statistics: Statistics, row: int) -> Rejection:
    """A rejection with its test against the final network, and its reason in words."""
    test = float(statistics.test[row])
    symbol = "|w|" if rejection.component >= 0 else "chi-square"
    reason = (
        f"{symbol} {test:.2f} > {rejection.critical:.2f} against the rest of the network, "
        f"redundancy {rejection.redundancy:.2f}"
    )
    if rejection.rivals:
        others = ", ".join(rejection.rivals[:3])
        reason += f"; {others} would explain the misclosure as well"
    return replace(rejection, test=test, reason=reason)
