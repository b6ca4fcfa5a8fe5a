# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted least-squares adjustment of a plane network on sparse normal equations (Ghilani,
*Adjustment Computations*, 5th ed., ch. 11 and 13-17)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from ..angles import Floats
from ..progress import SILENT, Progress
from .adjustment_iteration import Optimum, iterate
from .adjustment_problem import Linear, Problem
from .adjustment_solution import Solution
from .observations import Bools, Observations, Unknowns
from .observations_equations import Equation


@dataclass(frozen=True, eq=False)
class FreeNetwork:
    """Minimum constraint by inner constraints: among all positions of the network as a whole, the
    one nearest (least squares) to the approximate coordinates of the places that take part.

    `places (S+P,)` says which places take part (their x and y; orientations and scalars follow).
    """

    places: Bools


@dataclass(frozen=True, eq=False)
class Adjustment:
    """What an adjustment gave. Covariances are a priori (unit weight 1, never scaled).

    `unknowns` hold the adjusted values; `residual (m,)` is adjusted less observed for each row, in
    the row's own unit, also for rows not `used (m,)`; `sum_of_squares` is the weighted sum over
    the used rows, `sums_of_squares` the same at the start and after each iteration;
    `degrees_of_freedom` the redundancy of the network.
    """

    unknowns: Unknowns
    observations: Observations
    used: Bools
    residual: Floats
    sum_of_squares: float
    degrees_of_freedom: int
    converged: bool
    iterations: int
    sums_of_squares: tuple[float, ...]
    solution: Solution = field(repr=False)

    def covariance(
        self, columns: ArrayLike, others: ArrayLike | None = None, progress: Progress = SILENT
    ) -> Floats:
        """Covariance ``(k, l)`` between unknowns given by columns; zero rows for held ones. Takes
        as long as the `others`, or the columns themselves, are many."""
        rows = np.asarray(columns, dtype=np.int64).ravel()
        across = rows if others is None else np.asarray(others, dtype=np.int64).ravel()
        return self.solution.covariance(rows, across, progress)

    def station_covariance(self) -> Floats:
        """Covariances ``(S, 3, 3)`` of (x, y, orientation) in m and rad."""
        return self.solution.blocks(np.arange(3 * len(self.unknowns.station)).reshape(-1, 3))

    def point_covariance(self) -> Floats:
        """Covariances ``(P, 2, 2)`` of the points in square metres."""
        s, p = len(self.unknowns.station), len(self.unknowns.point)
        return self.solution.blocks(3 * s + np.arange(2 * p).reshape(-1, 2))

    def influence(self, change: Floats) -> tuple[Floats, Floats, Floats]:
        """What further parameters of the observations would do, to first order (tests of
        additional parameters: Teunissen, *Testing theory*, 2006, ch. 4).

        `change (m, k)` is by how much each observed row grows when it is corrected by a unit of
        each parameter. Gives how the unknowns follow ``(U, k)``, and the normal equations of the
        parameters, matrix ``(k, k)`` and right side ``(k,)``, the unknowns eliminated.
        """
        return self.solution.influence(change)

    def response(self, columns: ArrayLike) -> Floats:
        """How unknowns given by columns follow each observed row ``(m, k)``: derivatives of the
        adjusted values."""
        return self.solution.response(np.asarray(columns, dtype=np.int64).ravel())

    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        """Covariances ``(n, d, d)`` of the adjusted observations, by kind with its equations."""
        return self.solution.observation_covariance()


def adjust(
    unknowns: Unknowns,
    observations: Observations,
    *,
    used: Bools | None = None,
    free: FreeNetwork | None = None,
    start: Unknowns | None = None,
    progress: Progress = SILENT,
    max_iterations: int = 100,
) -> Adjustment:
    """Adjust a network by weighted least squares from approximate values.

    The datum is whatever `unknowns` hold or priors give; with `free` it is the inner constraints.
    Rows outside `used (m,)` (rows of one correlated item alike) take no part. `start` are better
    values to start from than `unknowns`, to whose coordinates the inner constraints still refer.
    Raises SurveyError naming the stations and points that the observations do not determine.
    """
    problem = Problem(unknowns, observations, used, None if free is None else free.places)
    return solve(problem, unknowns if start is None else start, progress, max_iterations)


def solve(
    problem: Problem,
    start: Unknowns,
    progress: Progress = SILENT,
    max_iterations: int = 100,
) -> Adjustment:
    """Adjust a network that is ready to be solved, from values to start from."""
    optimum = iterate(problem, _vector(problem, start), max_iterations, progress)
    linear = optimum.linear
    if problem.inner is not None:
        linear = Linear(problem, problem.inner.fit(linear.vector))
    return _adjustment(problem, linear, linear.residuals, optimum)


def solve_linear(problem: Problem, start: Unknowns) -> Adjustment:
    """The adjustment of the linear equations at `start`: unknowns stay there, residuals are what
    the linear equations leave. Its tests do not care how large a blunder is."""
    linear = Linear(problem, _vector(problem, start))
    factor = problem.factor(linear, check=True)
    change = np.zeros(len(linear.vector) + 1)
    change[problem.layout.solved] = -factor.solve(linear.gradient)
    residuals = [
        v + np.einsum("ndk,nk->nd", j, change[e.columns])
        for e, v, j in zip(problem.equations, linear.residuals, linear.jacobians)
    ]
    return _adjustment(problem, linear, residuals, None)


def _vector(problem: Problem, start: Unknowns) -> Floats:
    return np.where(problem.unknowns.held, problem.unknowns.vector, start.vector)


def _adjustment(
    problem: Problem,
    linear: Linear,
    residuals: list[Floats],
    optimum: Optimum | None,
) -> Adjustment:
    rows = np.zeros(problem.observations.rows)
    squares = 0.0
    for equation, weight, values in zip(problem.equations, problem.weights, residuals):
        rows[equation.rows] = values.ravel()
        squares += float(np.sum(np.matmul(weight, values[..., None]) ** 2))
    return Adjustment(
        unknowns=problem.unknowns.with_vector(linear.vector),
        observations=problem.observations,
        used=problem.used,
        residual=rows,
        sum_of_squares=squares,
        degrees_of_freedom=int(problem.used.sum()) - len(problem.layout.solved),
        converged=optimum is not None and optimum.converged,
        iterations=0 if optimum is None else len(optimum.sums_of_squares) - 1,
        sums_of_squares=(squares,) if optimum is None else optimum.sums_of_squares,
        solution=Solution(problem, linear),
    )
