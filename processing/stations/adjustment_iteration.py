# SPDX-License-Identifier: GPL-2.0-or-later
"""From approximate values to the least sum of squares.

Gauss-Newton, with Levenberg's and Marquardt's damping brought in only after a step that makes
things worse (Madsen, Nielsen & Tingleff, *Methods for non-linear least squares problems*, 2004,
sec. 3.2), so that good approximations cost nothing and bad ones still converge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..progress import SILENT, Progress
from .adjustment_normals import Factor
from .adjustment_problem import Linear, Problem

# The network has converged when the next step is shorter than this many standard errors
# (Mahalanobis length), or as short as rounding lets it become.
_STEP_IN_SIGMAS = 1e-9
_ROUNDING_IN_SIGMAS = 1e-4
# A step must bring this share of what it promised. Damping starts here once one does not, and ends
# where it makes no difference.
_LEAST_GAIN = 1e-3
_FIRST_DAMPING = 1e-3
_LEAST_DAMPING = 1e-7


# The factors of the step before serve again while that shortens steps to this share: at the end
# the equations hardly change, and a factorisation costs ten times a step.
_GOOD_ENOUGH = 0.1


@dataclass(frozen=True, eq=False)
class Optimum:
    """Where the iteration ended: the equations there, the sums of squares at the start and after
    each step, and whether it converged."""

    linear: Linear
    sums_of_squares: tuple[float, ...]
    converged: bool


def iterate(
    problem: Problem, vector: Floats, max_iterations: int, progress: Progress = SILENT
) -> Optimum:
    """Iterate from a vector of unknowns to the optimum."""
    linear = Linear(problem, vector)
    sums = [linear.sum_of_squares]
    damping, growth, before, bent = 0.0, 2.0, np.inf, False
    factor = problem.factor(linear, check=True)
    fresh = True
    for iteration in range(max_iterations):
        progress.at(iteration / max_iterations)
        change, length = _change(factor, linear, damping)
        if not fresh and length > _GOOD_ENOUGH * before:
            factor, fresh = problem.factor(linear, check=False, damping=damping), True
            change, length = _change(factor, linear, damping)
        # Rounding shows in steps that no longer get shorter.
        rounding = length < _ROUNDING_IN_SIGMAS and length > 0.5 * before
        if length < _STEP_IN_SIGMAS or rounding:
            if damping == 0.0:
                if bent:
                    problem.factor(linear, check=True)
                return Optimum(linear, tuple(sums), True)
            damping, before = 0.0, np.inf
            factor, fresh = problem.factor(linear, check=False), True
            continue
        candidate = Linear(problem, problem.step(linear.vector, change))
        gain = (linear.sum_of_squares - candidate.sum_of_squares) / length**2
        if gain >= _LEAST_GAIN or length < _ROUNDING_IN_SIGMAS:
            linear = candidate
            sums.append(linear.sum_of_squares)
            before, growth, fresh = length, 2.0, False
            if damping:
                damping *= max(1.0 / 3.0, 1.0 - (2.0 * gain - 1.0) ** 3)
                damping = 0.0 if damping < _LEAST_DAMPING else damping
                factor, fresh = problem.factor(linear, check=False, damping=damping), True
        elif not fresh:
            factor, fresh = problem.factor(linear, check=False), True
        else:
            bent = True
            damping = max(damping * growth, _FIRST_DAMPING)
            growth *= 2.0
            factor = problem.factor(linear, check=False, damping=damping)
    return Optimum(linear, tuple(sums), False)


def _change(factor: Factor, linear: Linear, damping: float) -> tuple[Floats, float]:
    """The change of the unknowns and the root of what the linear equations promise it brings;
    undamped, that is its length in standard errors."""
    change = -factor.solve(linear.gradient)
    promise = float(change @ (damping * factor.damped_diagonal * change - linear.gradient))
    return change, max(promise, 0.0) ** 0.5
