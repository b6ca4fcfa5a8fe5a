# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted least-squares adjustment of a plane network.

Gauss-Newton on sparse normal equations (Ghilani, *Adjustment Computations*, 5th ed., ch. 13-16),
with Levenberg's and Marquardt's damping brought in only after a step that makes things worse
(Madsen, Nielsen & Tingleff, *Methods for non-linear least squares problems*, 2004, sec. 3.2), so
that good approximations cost nothing and bad ones still converge.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .adjustment_datum import InnerConstraints, STransformation
from .adjustment_normals import Factor, Layout, PatternInverse, Singular
from .adjustment_rank import undetermined
from .observations import Bools, Observations, Unknowns
from .observations_equations import Equation, equations

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

    def covariance(self, columns: ArrayLike, others: ArrayLike | None = None) -> Floats:
        """Covariance ``(k, l)`` between unknowns given by columns; zero rows for held ones."""
        rows = np.asarray(columns, dtype=np.int64).ravel()
        return self.solution.covariance(
            rows, rows if others is None else np.asarray(others, dtype=np.int64).ravel()
        )

    def station_covariance(self) -> Floats:
        """Covariances ``(S, 3, 3)`` of (x, y, orientation) in m and rad."""
        return self.solution.blocks(np.arange(3 * len(self.unknowns.station)).reshape(-1, 3))

    def point_covariance(self) -> Floats:
        """Covariances ``(P, 2, 2)`` of the points in square metres."""
        s, p = len(self.unknowns.station), len(self.unknowns.point)
        return self.solution.blocks(3 * s + np.arange(2 * p).reshape(-1, 2))

    def full_covariance(self) -> Floats:
        """The full covariance ``(U, U)`` in the order of the vector of unknowns (dense)."""
        return self.covariance(np.arange(self.unknowns.size))

    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        """Covariances ``(n, d, d)`` of the adjusted observations, by kind with its equations."""
        return self.solution.observation_covariance()


class Solution:
    """The normal equations at the adjusted values, and the covariances that follow from them."""

    def __init__(self, problem: _Problem, linear: _Linear, factor: Factor) -> None:
        self._problem, self._linear, self._factor = problem, linear, factor

    @property
    def _layout(self) -> Layout:
        return self._problem.layout

    @cached_property
    def _inverse(self) -> PatternInverse:
        return PatternInverse(self._layout, self._linear.entries)

    @cached_property
    def _datum(self) -> STransformation | None:
        inner = self._problem.inner
        if inner is None or not inner.motions.shape[1]:
            return None
        return inner.transformation(self._linear.vector, self._layout, self._factor)

    def covariance(self, rows: Ints, columns: Ints) -> Floats:
        unit = np.zeros((len(self._layout.place) - 1, len(columns)))
        unit[columns, np.arange(len(columns))] = 1.0
        solved = np.zeros_like(unit)
        if len(self._layout.solved):
            solved[self._layout.solved] = self._factor.solve(unit[self._layout.solved])
        block = solved[rows]
        return block if self._datum is None else self._datum.apply(block, rows, columns)

    def blocks(self, columns: Ints) -> Floats:
        block = self._inverse.blocks(columns)
        return block if self._datum is None else self._datum.apply(block, columns, columns)

    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        # Adjusted observations do not depend on the datum: the pinned network will do.
        out: list[tuple[Equation, Floats]] = []
        for equation, jacobian in zip(self._problem.equations, self._linear.jacobians):
            block = self._inverse.blocks(equation.columns)
            out.append((equation, jacobian @ block @ np.swapaxes(jacobian, 1, 2)))
        return out


class _Linear:
    """The observation equations at one vector of unknowns: residuals, Jacobians, normals."""

    def __init__(self, problem: _Problem, vector: Floats) -> None:
        self._problem = problem
        self.vector = vector
        extended = np.append(vector, 0.0)
        self.residuals, self.jacobians = [], []
        self.white_residuals: list[Floats] = []
        for equation, weight in zip(problem.equations, problem.weights):
            residual, jacobian = equation.evaluate(extended)
            self.residuals.append(residual)
            self.jacobians.append(jacobian)
            self.white_residuals.append(np.matmul(weight, residual[..., None])[..., 0])
        self.sum_of_squares = float(sum(np.sum(v * v) for v in self.white_residuals))

    @cached_property
    def white_jacobians(self) -> list[Floats]:
        return [np.matmul(w, j) for w, j in zip(self._problem.weights, self.jacobians)]

    @cached_property
    def entries(self) -> Floats:
        return self._problem.layout.normal(self.white_jacobians)

    @cached_property
    def gradient(self) -> Floats:
        return self._problem.layout.gradient(self.white_jacobians, self.white_residuals)


class _Problem:
    """A network ready to be solved."""

    def __init__(
        self,
        unknowns: Unknowns,
        observations: Observations,
        used: Bools,
        free: FreeNetwork | None,
    ) -> None:
        self.unknowns = unknowns
        self.equations = equations(unknowns, observations)
        _check_start(self.equations, unknowns)
        self.weights = [_weights(equation, used[equation.rows]) for equation in self.equations]
        solved = np.append(~unknowns.held, False)
        self.inner: InnerConstraints | None = None
        if free is not None:
            extended = np.append(unknowns.vector, 0.0)
            jacobians = [
                np.matmul(w, e.evaluate(extended)[1]) for w, e in zip(self.weights, self.equations)
            ]
            self.inner = InnerConstraints(unknowns, self.equations, jacobians, free.places)
            solved[self.inner.pinned] = False
        self.layout = Layout(unknowns, self.equations, solved)

    def step(self, vector: Floats, change: Floats) -> Floats:
        moved = vector.copy()
        moved[self.layout.solved] += change
        return moved


def adjust(
    unknowns: Unknowns,
    observations: Observations,
    *,
    used: Bools | None = None,
    free: FreeNetwork | None = None,
    progress: Progress = SILENT,
    max_iterations: int = 100,
) -> Adjustment:
    """Adjust a network by weighted least squares from approximate values.

    The datum is whatever `unknowns` hold or priors give; with `free` it is the inner constraints.
    Rows outside `used (m,)` (rows of one correlated item alike) take no part. Raises SurveyError
    naming the stations and points that the observations do not determine.
    """
    taken = observations.all_used() if used is None else np.array(used, dtype=bool)
    if taken.shape != (observations.rows,):
        raise SurveyError(f"Adjustment: used is {taken.shape}, expected ({observations.rows},).")
    if not np.isfinite(unknowns.vector).all():
        where = unknowns.owner(int(np.flatnonzero(~np.isfinite(unknowns.vector))[0]))
        raise SurveyError(f"The approximate values of {where} are not finite numbers.")
    problem = _Problem(unknowns, observations, taken, free)
    linear, factor, sums, converged = _iterate(problem, max_iterations, progress)
    if problem.inner is not None:
        linear = _Linear(problem, problem.inner.fit(linear.vector))
        factor = _factor(problem, linear, check=True)
    residual = np.zeros(observations.rows)
    for equation, values in zip(problem.equations, linear.residuals):
        residual[equation.rows] = values.ravel()
    return Adjustment(
        unknowns=unknowns.with_vector(linear.vector),
        observations=observations,
        used=taken,
        residual=residual,
        sum_of_squares=linear.sum_of_squares,
        degrees_of_freedom=int(taken.sum()) - len(problem.layout.solved),
        converged=converged,
        iterations=len(sums) - 1,
        sums_of_squares=tuple(sums),
        solution=Solution(problem, linear, factor),
    )


def _iterate(
    problem: _Problem, max_iterations: int, progress: Progress
) -> tuple[_Linear, Factor, list[float], bool]:
    """Iterate to the optimum; the factor returned is the undamped one there."""
    linear = _Linear(problem, problem.unknowns.vector)
    sums = [linear.sum_of_squares]
    damping, growth, before, converged = 0.0, 2.0, np.inf, False
    factor = _factor(problem, linear, check=True)
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
            factor = _factor(problem, linear, check=False)
            continue
        candidate = _Linear(problem, problem.step(linear.vector, change))
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
        factor = _factor(problem, linear, check=False, damping=damping)
    if damping:
        factor = _factor(problem, linear, check=True)
    return linear, factor, sums, converged


def _factor(problem: _Problem, linear: _Linear, *, check: bool, damping: float = 0.0) -> Factor:
    """Factor the normal equations; SurveyError naming what they do not determine."""
    columns: Ints
    try:
        factor = problem.layout.factor(linear.entries, damping)
    except Singular as singular:
        if len(singular.columns):
            columns, defect = singular.columns, len(singular.columns)
        else:
            columns, defect = undetermined(problem.layout, linear.white_jacobians)
    else:
        if not check or factor.smallest_pivot() > 1e-8:
            return factor
        columns, defect = undetermined(problem.layout, linear.white_jacobians)
        if not defect:
            return factor
    owners = list(dict.fromkeys(problem.unknowns.owner(int(c)) for c in np.sort(columns)))
    named = ", ".join(owners[:8]) + (f" and {len(owners) - 8} more" if len(owners) > 8 else "")
    raise SurveyError(
        f"The observations do not determine {named} (rank defect {defect}): "
        "expected a held station, a free network, or more observations there."
    )


def _check_start(every: list[Equation], unknowns: Unknowns) -> None:
    extended = np.append(unknowns.vector, 0.0)
    for equation in every:
        residual, jacobian = equation.evaluate(extended)
        known = np.isfinite(residual).all(axis=1) & np.isfinite(jacobian).all(axis=(1, 2))
        if not known.all():
            item = int(np.flatnonzero(~known)[0])
            columns = equation.columns[item]
            owners = dict.fromkeys(unknowns.owner(int(c)) for c in columns if c < unknowns.size)
            raise SurveyError(
                f"Item {item} of {equation.name}: two of {', '.join(owners)} have the same "
                "approximate position, expected them apart."
            )


def _weights(equation: Equation, used: Bools) -> Floats:
    """Whitening matrices ``(n, d, d)`` with zero rows for what is not used."""
    taken = used.reshape(-1, equation.kind.components)
    if equation.kind.correlated and (taken.any(axis=1) != taken.all(axis=1)).any():
        raise SurveyError(f"An item of {equation.name} can only be used or left out as a whole.")
    return equation.whitening * taken[:, :, None]
