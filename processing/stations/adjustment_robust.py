# SPDX-License-Identifier: GPL-2.0-or-later
"""Values that a few gross errors do not pull away: where data snooping starts from.

A tie that is wrong by metres bends a least-squares solution so far that its tests, which are
linear, blame others. Iterated reweighting does not let it: first with Huber's weights, which have
one solution whatever the start, then with those of Geman and McClure, under which a gross error
counts for nothing (Huber, *Robust statistics*, 1981, ch. 7; Black & Rangarajan, *Int. J. Computer
Vision* 19, 1996; for networks Krarup, Juhl & Kubik, *Goetterdaemmerung over least squares
adjustment*, 1980).
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..progress import SILENT, Progress
from .adjustment_iteration import iterate
from .adjustment_problem import Linear, Problem
from .observations import Bools, Unknowns

# Residuals in standard errors from which weights fall, and to which the bound of Geman and McClure
# is brought down from its first value, halved at each round.
_HUBER = 1.5
_REDESCENDING = 4.0
_ROUNDS = 12
_STEPS = 3
# Rounds end early when no residual changes by this many standard errors any more.
_SETTLED = 0.05


def robust_values(
    problem: Problem, testable: Bools, start: Unknowns, progress: Progress = SILENT
) -> tuple[Unknowns, Floats]:
    """Robust values of the unknowns, and how many standard errors each row is off there ``(m,)``
    (root mean square over the components of a correlated item).

    Only rows under `testable (m,)` lose weight. The datum is that of `start`.
    """
    may = problem.used & testable
    vector = start.vector
    off = _off(problem, vector)
    step, bound, redescending = 0, np.inf, False
    while step < 2 * _ROUNDS:
        progress.at(step / (2 * _ROUNDS))
        if redescending:
            bound = max(_REDESCENDING, min(0.5 * bound, 0.5 * float(off[may].max(initial=0.0))))
            weights = 1.0 / (1.0 + (off / bound) ** 2) ** 2
        else:
            weights = np.minimum(1.0, _HUBER / np.maximum(off, _HUBER))
        # A weight of zero may leave something undetermined; this one is as good.
        weights = np.where(may, np.maximum(weights, 1e-8), 1.0)
        vector = iterate(problem.reweighted(weights), vector, _STEPS).linear.vector
        before, off = off, _off(problem, vector)
        step += 1
        settled = np.abs(off - before).max(initial=0.0) < _SETTLED
        if settled and bound == _REDESCENDING:
            break
        if not redescending and (settled or step == _ROUNDS):
            step, redescending = _ROUNDS, True
    return problem.unknowns.with_vector(vector), off


def _off(problem: Problem, vector: Floats) -> Floats:
    linear = Linear(problem, vector)
    off = np.zeros(problem.observations.rows)
    for equation, residual in zip(problem.equations, linear.residuals):
        v = np.matmul(equation.whitening, residual[..., None])[..., 0]
        if equation.kind.correlated:
            v = np.repeat(np.sqrt(np.mean(v * v, axis=1)), v.shape[1])
        off[equation.rows] = np.abs(v).ravel()
    return off
