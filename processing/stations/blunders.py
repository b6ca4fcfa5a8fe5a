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
from scipy.stats import chi2

from ..angles import Floats
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .adjustment import Adjustment, FreeNetwork, adjust, linearised
from .adjustment_robust import robust_values
from .observations import Bools, Observations, Unknowns
from .statistics import LEAST_REDUNDANCY, W_CRITICAL, Statistics, statistics_of

# Tests that differ by less than this share cannot be told apart: the same misclosure is seen.
_SAME_TEST = 1e-6


@dataclass(frozen=True)
class Rejection:
    """An observation taken out, in the order of rejection.

    `kind` is the field name in `Observations`, `component` -1 for a correlated item; `test` is
    that of its difference from what the rest of the final network predicts, against `critical`;
    `redundancy` the least in any direction when it was taken out; `rivals` describe observations
    that then explained the misclosure as well, so that a person should look; `reason` is for the
    report.
    """

    kind: str
    item: int
    component: int
    test: float
    critical: float
    redundancy: float
    rivals: tuple[str, ...]
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
    """Adjust, take out the observation with the least probable residual, adjust again, until all
    pass; a rejected observation that the final network agrees with after all is taken back.

    `testable (m,)` limits which rows may be rejected; an observation whose redundancy (of a
    correlated item: in its least controlled direction) is below `least_redundancy` is never
    rejected; `most` limits the number of rejections. Raises SurveyError as `adjust` does.
    """
    may = observations.all_used() if testable is None else np.array(testable, dtype=bool)
    taken = observations.all_used() if used is None else np.array(used, dtype=bool)
    for label, mask in (("testable", may), ("used", taken)):
        if mask.shape != (observations.rows,):
            raise SurveyError(
                f"Data snooping: {label} is {mask.shape}, expected ({observations.rows},)."
            )
    limit = observations.rows if most is None else most
    network = _Network(unknowns, observations, free, may)
    adjustment = adjust(
        unknowns, observations, used=taken, free=free, progress=progress.part(0, 0.3)
    )
    statistics = statistics_of(adjustment)
    rejected: dict[int, Rejection] = {}
    if limit and network.failing(statistics, taken, least_redundancy).any():
        robust, off = robust_values(
            unknowns,
            observations,
            used=taken,
            testable=may,
            free=free,
            start=adjustment.unknowns,
            progress=progress.part(0.3, 0.6),
        )
        progress = progress.part(0.6, 1.0)
        taken = network.reject_gross(
            robust, off, taken, rejected, limit, least_redundancy, progress
        )
        adjustment = adjust(unknowns, observations, used=taken, free=free, start=robust)
        statistics = statistics_of(adjustment)
    returned: set[int] = set()
    while True:
        progress.at(0.5)
        failing = network.failing(statistics, taken, least_redundancy)
        if failing.any() and len(rejected) < limit:
            row = network.worst(statistics, failing)
            rejected[row] = network.rejection(statistics, row, taken, least_redundancy)
            taken = network.switched(taken, row, on=False)
        else:
            row = _agreeing(statistics, [r for r in rejected if r not in returned])
            if row < 0:
                break
            returned.add(row)
            del rejected[row]
            taken = network.switched(taken, row, on=True)
        adjustment = adjust(
            unknowns, observations, used=taken, free=free, start=adjustment.unknowns
        )
        statistics = statistics_of(adjustment)
    progress.at(1.0)
    told = tuple(_told(rejection, statistics, row) for row, rejection in rejected.items())
    return Snooping(adjustment, statistics, told)


class _Network:
    """What does not change while observations are taken out and back."""

    def __init__(
        self, unknowns: Unknowns, observations: Observations, free: FreeNetwork | None, may: Bools
    ) -> None:
        self._unknowns, self._observations, self._free = unknowns, observations, free
        self._may = may
        self._freedom = np.ones(observations.rows)
        for _, kind, at in observations.kinds():
            if kind.correlated:
                self._freedom[at] = kind.components

    def _candidates(self, statistics: Statistics, taken: Bools, least: float) -> Bools:
        # The second bound keeps what is left determined, whatever the caller asks for.
        return self._may & taken & (statistics.control > max(least, LEAST_REDUNDANCY))

    def failing(self, statistics: Statistics, taken: Bools, least: float) -> Bools:
        """Rows that may be rejected and fail their test."""
        candidates = self._candidates(statistics, taken, least)
        return np.asarray(candidates & (statistics.test > statistics.critical))

    def worst(self, statistics: Statistics, failing: Bools) -> int:
        """The failing row whose test is the least probable."""
        square = np.where(self._freedom > 1, statistics.test, statistics.test**2)
        return self._least_probable(square, failing)

    def _least_probable(self, square: Floats, among: Bools) -> int:
        rows = np.flatnonzero(among)
        chance = chi2.logsf(square[rows], self._freedom[rows])
        # Of equals the first, whatever rounding says.
        return int(rows[np.flatnonzero(chance <= chance.min() * (1.0 - _SAME_TEST))[0]])

    def reject_gross(
        self,
        robust: Unknowns,
        off: Floats,
        taken: Bools,
        rejected: dict[int, Rejection],
        limit: int,
        least: float,
        progress: Progress,
    ) -> Bools:
        """Take out, the worst first, what is too far `off (m,)` at the robust values. Control is
        that of the equations there: at a solution that gross errors bend it would be wrong."""
        square = off**2 * self._freedom
        far = square > np.where(self._freedom > 1, chi2.isf(0.001, self._freedom), W_CRITICAL**2)
        while len(rejected) < limit:
            progress.at(0.0)
            linear = linearised(
                self._unknowns, self._observations, used=taken, free=self._free, start=robust
            )
            statistics = statistics_of(linear)
            among = far & self._candidates(statistics, taken, least)
            if not among.any():
                break
            row = self._least_probable(square, among)
            rejected[row] = self.rejection(statistics, row, taken, least)
            taken = self.switched(taken, row, on=False)
        return taken

    def switched(self, taken: Bools, row: int, *, on: bool) -> Bools:
        """The mask with a row, or all rows of its correlated item, taken in or out."""
        name, item, _ = self._observations.locate(row)
        kind = getattr(self._observations, name)
        mask = taken.copy()
        if kind.correlated:
            first = self._observations.rows_of(name).start + item * kind.components
            mask[first : first + kind.components] = on
        else:
            mask[row] = on
        return mask

    def rejection(self, statistics: Statistics, row: int, taken: Bools, least: float) -> Rejection:
        """The rejection of a row, told with the statistics that led to it."""
        name, item, component = self._observations.locate(row)
        correlated = getattr(self._observations, name).correlated
        test, critical = float(statistics.test[row]), float(statistics.critical[row])
        equal = np.abs(statistics.test - test) <= _SAME_TEST * test
        same = equal & (statistics.critical == critical)
        same &= self._candidates(statistics, taken, least)
        own = self._observations.describe(self._unknowns, row)
        texts = [self._observations.describe(self._unknowns, int(r)) for r in np.flatnonzero(same)]
        rivals = tuple(text for text in dict.fromkeys(texts) if text != own)
        where = -1 if correlated else component
        redundancy = float(statistics.control[row])
        return Rejection(name, item, where, test, critical, redundancy, rivals, "")


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


def _agreeing(statistics: Statistics, rows: list[int]) -> int:
    """The rejected row that the network predicts best, if it passes its test, or -1."""
    passing = [row for row in rows if statistics.test[row] <= statistics.critical[row]]
    return min(passing, key=lambda row: statistics.test[row] / statistics.critical[row], default=-1)
