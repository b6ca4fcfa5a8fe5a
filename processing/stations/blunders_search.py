# SPDX-License-Identifier: GPL-2.0-or-later
"""The state of a search for blunders: what is out, and what the network says without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from ..angles import Floats
from ..progress import SILENT, Progress
from .adjustment import Adjustment, solve, solve_linear
from .adjustment_problem import Problem
from .adjustment_updates import Updated
from .observations import Bools, Unknowns
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


class Search:
    """Takes observations out and back. `testable (m,)` may be rejected while their redundancy stays
    above `least_redundancy`, at most `most` of them."""

    adjustment: Adjustment

    def __init__(
        self, problem: Problem, testable: Bools, least_redundancy: float, most: int
    ) -> None:
        self._problem, self._testable, self._most = problem, testable, most
        self._used = problem.used
        self._stays_at: Unknowns | None = None
        # The second bound keeps what is left determined, whatever the caller asks for.
        self._least = max(least_redundancy, LEAST_REDUNDANCY)
        self._freedom = np.ones(problem.observations.rows)
        for _, kind, at in problem.observations.kinds():
            if kind.correlated:
                self._freedom[at] = kind.components
        self.rejected: dict[int, Rejection] = {}
        self._taken_back: set[int] = set()

    def adjust(self, start: Unknowns, progress: Progress = SILENT) -> None:
        """Adjust what is not rejected."""
        self.adjustment = solve(self._current(), start, progress)
        self._stays_at = None
        self._begin(self.adjustment)

    def adjust_again(self) -> None:
        """Adjust what is not rejected now, from where the linear equations see it."""
        self.adjust(self._problem.unknowns.with_vector(self._now.vector))

    def linearise(self, at: Unknowns) -> None:
        """Statistics of the linear equations at given values, there to stay while observations are
        taken out."""
        self._stays_at = at
        self._begin(solve_linear(self._current(), at))

    @property
    def settled(self) -> bool:
        """Whether the adjustment is that of what is not rejected."""
        return self._updated is None or not self._updated.changed

    def _current(self) -> Problem:
        if not np.array_equal(self._problem.used, self._used):
            self._problem = self._problem.with_used(self._used)
        return self._problem

    def _begin(self, adjustment: Adjustment) -> None:
        self._begun = adjustment
        self._updated: Updated | None = None
        self._statistics: Statistics | None = None

    @property
    def _now(self) -> Updated:
        if self._updated is None:
            self._updated = Updated(self._begun)
        return self._updated

    @property
    def statistics(self) -> Statistics:
        """Those of what is not rejected, taken when they are asked for."""
        if self._statistics is None:
            self._statistics = statistics_of(self._now)
        return self._statistics

    def plainly_failing(self) -> bool:
        """Whether the scalar row that is off by most standard errors may be rejected and fails its
        test: told from that row alone, without the statistics of all."""
        solution, rows = self._begun.solution, self._testable & self._used & (self._freedom == 1)
        if not rows.any() or len(self.rejected) >= self._most:
            return False
        off = np.where(rows, np.abs(self._begun.residual) / solution.sigma, 0.0)
        row = int(np.argmax(off))
        if off[row] <= W_CRITICAL:
            return False
        own = solution.jacobian[[row]].toarray()[0]
        redundancy = 1.0 - float(own @ solution.solve(own)) / solution.sigma[row] ** 2
        return redundancy > self._least and off[row] > W_CRITICAL * np.sqrt(redundancy)

    def _candidates(self) -> Bools:
        if len(self.rejected) >= self._most:
            return np.zeros_like(self._testable)
        controlled = self.statistics.control > self._least
        return np.asarray(self._testable & self._used & controlled)

    def failing(self) -> Bools:
        """Rows that may be rejected and fail their test."""
        return np.asarray(self._candidates() & (self.statistics.test > self.statistics.critical))

    def worst(self) -> int:
        """The failing row whose test is the least probable, or -1."""
        test = self.statistics.test
        return self._least_probable(np.where(self._freedom > 1, test, test**2), self.failing())

    def farthest(self, off: Floats) -> int:
        """Of rows that may be rejected and are `off (m,)` by too many standard errors (root mean
        square of an item) the least probable, or -1."""
        square = off**2 * self._freedom
        critical = np.where(self._freedom > 1, chi2.isf(0.001, self._freedom), W_CRITICAL**2)
        return self._least_probable(square, self._candidates() & (square > critical))

    def _least_probable(self, square: Floats, among: Bools) -> int:
        rows = np.flatnonzero(among)
        if not len(rows):
            return -1
        chance = chi2.logsf(square[rows], self._freedom[rows])
        # Of equals the first, whatever rounding says.
        return int(rows[np.flatnonzero(chance <= chance.min() * (1.0 - _SAME_TEST))[0]])

    def agreeing(self) -> int:
        """The rejected row that the network predicts best, if it passes its test, or -1. A row
        comes back once only, so that the search ends."""
        share = self.statistics.test / self.statistics.critical
        rows = [row for row in self.rejected if row not in self._taken_back and share[row] <= 1.0]
        return min(rows, key=lambda row: float(share[row]), default=-1)

    def reject(self, row: int) -> None:
        """Take a row, or all of its correlated item, out."""
        self.rejected[row] = self._rejection(row)
        self._switch(row, on=False)

    def take_back(self, row: int) -> None:
        """Take a rejected row, or all of its correlated item, back in."""
        self._taken_back.add(row)
        del self.rejected[row]
        self._switch(row, on=True)

    def _switch(self, row: int, *, on: bool) -> None:
        observations = self._problem.observations
        name, item, _ = observations.locate(row)
        kind = getattr(observations, name)
        rows = slice(row, row + 1)
        if kind.correlated:
            first = observations.rows_of(name).start + item * kind.components
            rows = slice(first, first + kind.components)
        self._now.switch(rows, on=on)
        self._used = self._now.used
        # Where the unknowns move so far that the linear equations no longer tell, or changes have
        # become many, all is solved anew.
        if self._stays_at is not None and self._now.many:
            self.linearise(self._stays_at)
        elif self._stays_at is None and not self._now.is_linear():
            self.adjust_again()
        else:
            self._statistics = None

    def _rejection(self, row: int) -> Rejection:
        statistics, unknowns = self.statistics, self._problem.unknowns
        observations = self._problem.observations
        name, item, component = observations.locate(row)
        test, critical = float(statistics.test[row]), float(statistics.critical[row])
        same = np.abs(statistics.test - test) <= _SAME_TEST * test
        same &= self._candidates() & (statistics.critical == critical)
        own = observations.describe(unknowns, row)
        texts = [observations.describe(unknowns, int(other)) for other in np.flatnonzero(same)]
        return Rejection(
            kind=name,
            item=item,
            component=-1 if self._freedom[row] > 1 else component,
            test=test,
            critical=critical,
            redundancy=float(statistics.control[row]),
            rivals=tuple(text for text in dict.fromkeys(texts) if text != own),
            reason="",
        )
