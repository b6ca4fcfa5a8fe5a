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


@dataclass(frozen=True, eq=False)
class Optimum:
    """Where the iteration ended: the equations there, their factored normal matrix (undamped), the
    sums of squares at the start and after each step, and whether it converged."""

    linear: Linear
    factor: Factor
    sums_of_squares: tuple[float, ...]
    converged: bool


def iterate(
    problem: Problem, vector: Floats, max_iterations: int, progress: Progress = SILENT
) -> Optimum:
    """Iterate from a vector of unknowns to the optimum."""
    linear = Linear(problem, vector)
    sums = [linear.sum_of_squares]
    damping, growth, before, converged = 0.0, 2.0, np.inf, False
    factor = problem.factor(linear, check=True)
    for iteration in range(max_iterations):
        progress.at(iteration / max_iterations)
        change = -factor.solve(linear.gradient)
        # What the linearised network promises; undamped, the square of the step's length in sigmas.
        promise = float(change @ (damping * factor.damped_diagonal * change - linear.gradient))
        length = np.sqrt(max(promise, 0.0))
        # Rounding shows in steps that no longer get shorter.
        rounding = length < _ROUNDING_IN_SIGMAS and length > 0.5 * before
        if length < _STEP_IN_SIGMAS or rounding:
            if damping == 0.0:
                converged = True
                break
            damping = 0.0
            factor = problem.factor(linear, check=False)
            continue
        candidate = Linear(problem, problem.step(linear.vector, change))
        gain = (linear.sum_of_squares - candidate.sum_of_squares) / promise
        if gain >= _LEAST_GAIN or length < _ROUNDING_IN_SIGMAS:
            linear = candidate
            sums.append(linear.sum_of_squares)
            before, growth = length, 2.0
            damping *= max(1.0 / 3.0, 1.0 - (2.0 * gain - 1.0) ** 3)
            if damping < _LEAST_DAMPING:
                damping = 0.0
        else:
            damping = max(damping * growth, _FIRST_DAMPING)
            growth *= 2.0
        factor = problem.factor(linear, check=False, damping=damping)
    if damping:
        factor = problem.factor(linear, check=True)
    return Optimum(linear, factor, tuple(sums), converged)
