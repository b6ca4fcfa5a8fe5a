# SPDX-License-Identifier: GPL-2.0-or-later
"""A network ready to be solved, and its observation equations at given values."""

from __future__ import annotations

from copy import copy
from functools import cached_property

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError
from .adjustment_datum import InnerConstraints
from .adjustment_normals import Factor, Layout, Singular
from .adjustment_rank import undetermined
from .observations import Bools, Observations, Unknowns
from .observations_equations import Equation, equations

# A pivot of the scaled normal matrix below this needs a closer look.
_SMALL_PIVOT = 1e-8


class Problem:
    """Equations with their weights, the datum and the layout of the normal matrix.

    `taking_part (S+P,)` are the places of the inner constraints, None for a datum of held unknowns
    or priors. Raises SurveyError for values that are not finite and places that coincide.
    """

    def __init__(
        self,
        unknowns: Unknowns,
        observations: Observations,
        used: Bools | None,
        taking_part: Bools | None,
    ) -> None:
        self.used = _mask(used, observations.rows)
        _check_finite(unknowns)
        self.unknowns, self.observations = unknowns, observations
        self.equations = equations(unknowns, observations)
        _check_apart(self.equations, unknowns)
        self.weights = self._weights(self.used.astype(float))
        self._taking_part = taking_part
        solved = np.append(~unknowns.held, False)
        self.inner: InnerConstraints | None = None
        if taking_part is not None:
            start = Linear(self, unknowns.vector)
            self.inner = InnerConstraints(
                unknowns, self.equations, start.white_jacobians, taking_part
            )
            solved[self.inner.pinned] = False
        self.layout = Layout(unknowns, self.equations, solved)

    def _weights(self, factors: Floats) -> list[Floats]:
        return [_weights(equation, factors[equation.rows]) for equation in self.equations]

    def with_used(self, used: Bools) -> Problem:
        """The same network with other rows taking part."""
        other = copy(self)
        other.used = _mask(used, self.observations.rows)
        other.weights = self._weights(other.used.astype(float))
        if self.inner is not None and self._taking_part is not None:
            # What the observations leave open may be another thing then.
            jacobians = Linear(other, self.unknowns.vector).white_jacobians
            other.inner = InnerConstraints(
                self.unknowns, self.equations, jacobians, self._taking_part
            )
            if not np.array_equal(other.inner.pinned, self.inner.pinned):
                return Problem(self.unknowns, self.observations, used, self._taking_part)
        return other

    def reweighted(self, factors: Floats) -> Problem:
        """The same network with the weights times factors ``(m,)``, one for a correlated item."""
        other = copy(self)
        other.weights = self._weights(np.sqrt(np.where(self.used, factors, 0.0)))
        return other

    def step(self, vector: Floats, change: Floats) -> Floats:
        """The vector of unknowns after a change ``(c,)`` of those that are solved for."""
        moved = vector.copy()
        moved[self.layout.solved] += change
        return moved

    def factor(self, linear: Linear, *, check: bool, damping: float = 0.0) -> Factor:
        """Factor the normal equations; with `check`, SurveyError naming what is undetermined."""
        columns: Ints
        try:
            factor = self.layout.factor(linear.entries, damping)
        except Singular as singular:
            columns, defect = singular.columns, len(singular.columns)
            if not defect:
                columns, defect = undetermined(self.layout, linear.white_jacobians)
        else:
            if not check or factor.smallest_pivot() > _SMALL_PIVOT:
                return factor
            columns, defect = undetermined(self.layout, linear.white_jacobians)
            if not defect:
                return factor
        owners = list(dict.fromkeys(self.unknowns.owner(int(c)) for c in np.sort(columns)))
        more = f" and {len(owners) - 8} more" if len(owners) > 8 else ""
        raise SurveyError(
            f"The observations do not determine {', '.join(owners[:8])}{more} (rank defect "
            f"{defect}): expected a held station, a free network, or more observations there."
        )


class Linear:
    """The observation equations at one vector of unknowns: residuals, Jacobians, normals."""

    def __init__(self, problem: Problem, vector: Floats) -> None:
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


def _check_apart(every: list[Equation], unknowns: Unknowns) -> None:
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


def _mask(used: Bools | None, rows: int) -> Bools:
    mask = np.ones(rows, dtype=bool) if used is None else np.array(used, dtype=bool)
    if mask.shape != (rows,):
        raise SurveyError(f"Adjustment: used is {mask.shape}, expected ({rows},).")
    return mask


def _check_finite(unknowns: Unknowns) -> None:
    lost = np.flatnonzero(~np.isfinite(unknowns.vector))
    if len(lost):
        where = unknowns.owner(int(lost[0]))
        raise SurveyError(f"The approximate values of {where} are not finite numbers.")


def _weights(equation: Equation, factors: Floats) -> Floats:
    """Whitening matrices ``(n, d, d)`` times a factor for each row, zero for what is not used."""
    by_item = factors.reshape(-1, equation.kind.components)
    if equation.kind.correlated and (by_item != by_item[:, :1]).any():
        raise SurveyError(f"An item of {equation.name} can only be used or left out as a whole.")
    return equation.whitening * by_item[:, :, None]
