# SPDX-License-Identifier: GPL-2.0-or-later
"""The normal equations at adjusted values, and what follows from their inverse: covariances, and
how unknowns and observations follow each other."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from scipy import sparse

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .adjustment_datum import STransformation
from .adjustment_normals import Factor, Layout, PatternInverse
from .adjustment_problem import Linear, Problem
from .observations_equations import Equation

_AT_ONCE = 96
"""So many columns of a covariance are solved for at once."""


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

    @cached_property
    def sigma(self) -> Floats:
        """The standard error ``(m,)`` that each row was given."""
        diagonal = [np.einsum("nii->ni", e.covariance).ravel() for e in self._problem.equations]
        return np.sqrt(np.concatenate([np.empty(0), *diagonal]))

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
