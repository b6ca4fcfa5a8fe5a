# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted least-squares adjustment of a plane network on sparse normal equations (Ghilani,
*Adjustment Computations*, 5th ed., ch. 11 and 13-17)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .adjustment_datum import STransformation
from .adjustment_iteration import Optimum, iterate
from .adjustment_normals import Factor, Layout, PatternInverse
from .adjustment_problem import Linear, Problem
from .observations import Bools, Observations, Unknowns
from .observations_equations import Equation

_AT_ONCE = 96
"""So many columns of a covariance are solved for at once."""


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


class Solution:
    """The normal equations at the adjusted values, and the covariances that follow from them."""

    def __init__(self, problem: Problem, linear: Linear) -> None:
        self._problem, self._linear = problem, linear

    @property
    def _layout(self) -> Layout:
        return self._problem.layout

    @cached_property
    def _factor(self) -> Factor:
        return self._problem.factor(self._linear, check=False)

    @cached_property
    def _inverse(self) -> PatternInverse:
        return PatternInverse(self._layout, self._linear.entries)

    @cached_property
    def _datum(self) -> STransformation | None:
        inner = self._problem.inner
        if inner is None or not inner.motions.shape[1]:
            return None
        return inner.transformation(self._linear.vector, self._layout, self._factor)

    def covariance(self, rows: Ints, columns: Ints, progress: Progress = SILENT) -> Floats:
        block = np.zeros((len(rows), len(columns)))
        # A few columns at a time: of each all unknowns are found, of which few are asked for.
        for start in progress.over(range(0, len(columns), _AT_ONCE)):
            some = columns[start : start + _AT_ONCE]
            unit = np.zeros((len(self._layout.place) - 1, len(some)))
            unit[some, np.arange(len(some))] = 1.0
            solved = np.zeros_like(unit)
            if len(self._layout.solved):
                solved[self._layout.solved] = self._factor.solve(unit[self._layout.solved])
            block[:, start : start + _AT_ONCE] = solved[rows]
        return block if self._datum is None else self._datum.apply(block, rows, columns)

    def blocks(self, columns: Ints) -> Floats:
        block = self._inverse.blocks(columns)
        return block if self._datum is None else self._datum.apply(block, columns, columns)

    @cached_property
    def jacobian(self) -> sparse.csr_matrix:
        """How each row ``(m, c)``, used or not, follows the unknowns solved for."""
        return self._stacked(self._linear.jacobians)

    @cached_property
    def _white(self) -> sparse.csr_matrix:
        """The whitened Jacobian ``(m, c)``, kind after kind, of the unknowns solved for."""
        return self._stacked(self._linear.white_jacobians)

    def _stacked(self, jacobians: list[Floats]) -> sparse.csr_matrix:
        parts = []
        for e, jacobian in zip(self._problem.equations, jacobians):
            n, d, k = jacobian.shape
            columns = np.broadcast_to(e.columns[:, None, :], jacobian.shape).ravel()
            shape = n * d, len(self._layout.place)
            parts.append(
                sparse.csr_matrix(
                    (jacobian.ravel(), columns, np.arange(0, n * d * k + 1, k)), shape
                )
            )
        return sparse.vstack(parts, format="csc")[:, self._layout.solved].tocsr()

    def solve(self, right: Floats) -> Floats:
        """The solution ``(c, k)`` of the normal equations, pinned, for right sides ``(c, k)``."""
        return self._factor.solve(right)

    def vector_after(self, change: Floats) -> Floats:
        """The vector of unknowns after a change ``(c,)`` of those solved for."""
        return self._problem.step(self._linear.vector, change)

    def residual_after(self, change: Floats) -> Floats:
        """What the equations themselves, not their linear form, leave of each row ``(m,)`` after a
        change ``(c,)`` of the unknowns solved for."""
        linear = Linear(self._problem, self.vector_after(change))
        return np.concatenate([part.ravel() for part in linear.residuals])

    def influence(self, change: Floats) -> tuple[Floats, Floats, Floats]:
        count = change.shape[1]
        whitened = [
            np.einsum("nij,njk->nik", w, change[e.rows].reshape(len(w), -1, count))
            for e, w in zip(self._problem.equations, self._problem.weights)
        ]
        flat = np.concatenate([part.reshape(-1, count) for part in whitened])
        right = self._white.T @ flat
        moved = np.zeros((len(self._layout.place) - 1, count))
        moved[self._layout.solved] = self._factor.solve(right)
        residual = np.concatenate([part.ravel() for part in self._linear.white_residuals])
        information = flat.T @ flat - right.T @ moved[self._layout.solved]
        free = moved if self._datum is None else self._datum.of_changes(moved)
        return free, information, flat.T @ residual

    def response(self, columns: Ints) -> Floats:
        right = np.zeros((len(self._layout.place) - 1, len(columns)))
        right[columns, np.arange(len(columns))] = 1.0
        if self._datum is not None:
            right = self._datum.to_pinned(right)
        flat = self._white @ self._factor.solve(right[self._layout.solved])
        out = np.zeros((self._problem.observations.rows, len(columns)))
        first = 0
        for e, w in zip(self._problem.equations, self._problem.weights):
            n, d, _ = w.shape
            part = flat[first : first + n * d].reshape(n, d, len(columns))
            out[e.rows] = (np.swapaxes(w, 1, 2) @ part).reshape(n * d, len(columns))
            first += n * d
        return out

    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        # Adjusted observations do not depend on the datum: the pinned network will do.
        out: list[tuple[Equation, Floats]] = []
        for equation, jacobian in zip(self._problem.equations, self._linear.jacobians):
            block = self._inverse.blocks(equation.columns)
            out.append((equation, jacobian @ block @ np.swapaxes(jacobian, 1, 2)))
        return out


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
