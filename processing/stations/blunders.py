# SPDX-License-Identifier: GPL-2.0-or-later
"""Data snooping: finding blunders one at a time.

Baarda, *A testing procedure for use in geodetic networks* (1968); Ghilani, *Adjustment
Computations*, 5th ed., ch. 21. Scalar observations and correlated items are compared by the
probability of their tests, so that neither is favoured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .adjustment import Adjustment, FreeNetwork, adjust
from .observations import Bools, Observations, Unknowns
from .statistics import Statistics, statistics_of

# Tests that differ by less than this share cannot be told apart: the same misclosure is seen.
_SAME_TEST = 1e-6


@dataclass(frozen=True)
class Rejection:
    """An observation taken out, in the order of rejection.

    `kind` is the field name in `Observations`, `component` -1 for a correlated item; `test` against
    `critical` and the least `redundancy` as they were then; `rivals` describe observations that
    explain the misclosure as well, so that a person should look; `reason` is a sentence for the
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
    rejected: dict[int, Rejection] = {}
    returned: set[int] = set()
    start = unknowns
    while True:
        progress.at(len(rejected) / max(limit, 1))
        adjustment = adjust(start, observations, used=taken, free=free)
        statistics = statistics_of(adjustment)
        # The inner constraints refer to the approximate coordinates: only without them may the
        # next round start from here.
        start = adjustment.unknowns if free is None else unknowns
        worst = -1
        if len(rejected) < limit:
            candidates = may & taken & (statistics.control > least_redundancy)
            worst = _worst(statistics, candidates, observations)
        if worst >= 0:
            rejected[worst] = _rejection(unknowns, observations, statistics, worst, candidates)
            taken = _switch(observations, taken, worst, False)
            continue
        back = _agreeing(statistics, [row for row in rejected if row not in returned])
        if back < 0:
            break
        returned.add(back)
        del rejected[back]
        taken = _switch(observations, taken, back, True)
    progress.at(1.0)
    return Snooping(adjustment, statistics, tuple(rejected.values()))


def _worst(statistics: Statistics, candidates: Bools, observations: Observations) -> int:
    """The row with the least probable test among those that fail, or -1."""
    failing = np.flatnonzero(candidates & (statistics.test > statistics.critical))
    if not len(failing):
        return -1
    chance = _log_probability(statistics, failing, observations)
    # Of equals the first, whatever rounding says.
    return int(failing[np.flatnonzero(chance <= chance.min() * (1.0 - _SAME_TEST))[0]])


def _log_probability(statistics: Statistics, rows: Ints, observations: Observations) -> Floats:
    freedom = np.ones(observations.rows)
    square = statistics.test**2
    for _, kind, at in observations.kinds():
        if kind.correlated:
            freedom[at], square[at] = kind.components, statistics.test[at]
    return np.asarray(chi2.logsf(square[rows], freedom[rows]), dtype=float)


def _agreeing(statistics: Statistics, rows: list[int]) -> int:
    """The rejected row that the network predicts best, if it passes its test, or -1."""
    passing = [row for row in rows if statistics.test[row] <= statistics.critical[row]]
    return min(passing, key=lambda row: statistics.test[row] / statistics.critical[row], default=-1)


def _switch(observations: Observations, taken: Bools, row: int, on: bool) -> Bools:
    name, item, _ = observations.locate(row)
    rows = observations.rows_of(name)
    kind = getattr(observations, name)
    mask = taken.copy()
    if kind.correlated:
        first = rows.start + item * kind.components
        mask[first : first + kind.components] = on
    else:
        mask[row] = on
    return mask


def _rejection(
    unknowns: Unknowns,
    observations: Observations,
    statistics: Statistics,
    row: int,
    candidates: Bools,
) -> Rejection:
    name, item, component = observations.locate(row)
    correlated = getattr(observations, name).correlated
    test, critical = float(statistics.test[row]), float(statistics.critical[row])
    redundancy = float(statistics.control[row])
    equal = np.abs(statistics.test - test) <= _SAME_TEST * test
    same = np.flatnonzero(candidates & equal & (statistics.critical == critical))
    own = observations.describe(unknowns, row)
    rivals = tuple(
        dict.fromkeys(
            text
            for text in (observations.describe(unknowns, int(other)) for other in same)
            if text != own
        )
    )
    symbol = "chi-square" if correlated else "|w|"
    reason = f"{symbol} {test:.2f} > {critical:.2f}, redundancy {redundancy:.2f}"
    if rivals:
        reason += f"; {', '.join(rivals[:3])} would explain the misclosure as well"
    return Rejection(
        name, item, -1 if correlated else component, test, critical, redundancy, rivals, reason
    )
