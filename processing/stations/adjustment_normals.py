# SPDX-License-Identifier: GPL-2.0-or-later
"""Normal equations of a network: fixed sparse pattern, ordering, solution, covariances."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from ..angles import Floats
from ..captures.model import Ints
from .adjustment_fronts import Fronts, elimination_order
from .adjustment_pattern import NodePairs, Pattern
from .observations import Bools, Unknowns
from .observations_equations import Equation


class Singular(Exception):
    """The normal matrix has no inverse; `columns` are unknowns without any observation, if so."""

    def __init__(self, columns: Ints) -> None:
        super().__init__("singular normal matrix")
        self.columns = columns


class Layout:
    """Which unknowns are solved for, in what order, and where the normal matrix has entries.

    `free (U + 1,)` says which columns are solved for; `solved (c,)` lists them in order of
    elimination, the unknowns of a station or point together.
    """

    def __init__(self, unknowns: Unknowns, equations: list[Equation], free: Bools) -> None:
        self.equations = equations
        owner = _owners(unknowns)
        nodes, node = np.unique(owner[:-1][free[:-1]], return_inverse=True)
        number = np.full(int(owner.max(initial=0)) + 1, -1, dtype=np.int64)
        number[nodes] = np.arange(len(nodes))
        groups = [_groups(owner[e.columns]) for e in equations]
        cliques = [number[owner[e.columns[:, at]]] for e, (at, _) in zip(equations, groups)]
        pairs = NodePairs(cliques, len(nodes))
        rank = np.argsort(elimination_order(pairs.first, pairs.second, len(nodes)))
        columns = np.flatnonzero(free[:-1])
        by_node = np.argsort(rank[node], kind="stable")
        self.solved: Ints = columns[by_node]
        self._node = rank[node][by_node]
        self._edge = rank[pairs.first], rank[pairs.second]
        self.place = np.full(len(free), -1, dtype=np.int64)
        self.place[self.solved] = np.arange(len(self.solved))
        # Columns that are damped together: the two coordinates of a place, all else by itself.
        alone = np.arange(len(free) - 1)
        first = unknowns.place_column(np.arange(len(unknowns.place_xy_m())))
        alone[first + 1] = first
        _, self._together = np.unique(alone[self.solved], return_inverse=True)
        places = [self.place[e.columns] for e in equations]
        self.pattern = Pattern(pairs, rank, self._node, places, [of for _, of in groups])

    def over_places(self, values: Floats) -> Floats:
        """Values ``(c,)``, the larger of the two for both coordinates of a place."""
        largest = np.zeros(int(self._together.max(initial=-1)) + 1)
        np.maximum.at(largest, self._together, values)
        return largest[self._together]

    def normal(self, jacobians: list[Floats]) -> Floats:
        """Entries of the normal matrix on its pattern, from whitened Jacobians by kind."""
        return self.pattern.gather([np.matmul(np.swapaxes(j, 1, 2), j) for j in jacobians])

    def gradient(self, jacobians: list[Floats], residuals: list[Floats]) -> Floats:
        """J'v ``(c,)`` of whitened Jacobians and residuals by kind."""
        full = np.zeros(len(self.place))
        for e, j, v in zip(self.equations, jacobians, residuals):
            parts = np.matmul(v[:, None, :], j).ravel()
            full += np.bincount(e.columns.ravel(), weights=parts, minlength=len(full))
        return full[self.solved]

    def factor(self, entries: Floats, damping: float = 0.0) -> Factor:
        """Factor the normal matrix, its diagonal times 1 + damping; raises Singular."""
        return Factor(self, entries, damping)

    def diagonal(self, entries: Floats) -> Floats:
        """The diagonal ``(c,)`` of the normal matrix; zero for unknowns without observations."""
        return entries[self.pattern.diagonal]

    def matrix(
        self, entries: Floats, scale: Floats, added: Floats | float = 0.0
    ) -> sparse.csc_matrix:
        """The normal matrix ``(c, c)``, rows and columns scaled, with something added to the
        diagonal after that."""
        p = self.pattern
        scaled = entries * scale[p.row] * scale[p.column]
        scaled[p.diagonal] += added
        return sparse.csc_matrix((scaled, p.row, p.start), shape=(len(scale), len(scale)))

    @cached_property
    def fronts(self) -> Fronts:
        return Fronts(self._node, *self._edge)

    def on_fronts(self, entries: Floats, scale: Floats) -> Floats:
        """The scaled normal matrix in the flat storage of the fronts."""
        p = self.pattern
        flat = np.zeros(self.fronts.storage)
        flat[self.fronts.positions(p.row, p.column)] = entries * scale[p.row] * scale[p.column]
        return flat


class PatternInverse:
    """The inverse of a normal matrix wherever two unknowns occur in one observation."""

    def __init__(self, layout: Layout, entries: Floats) -> None:
        self._layout = layout
        self._scale = unit_scale(layout.diagonal(entries))
        self._inverse = layout.fronts.inverse(layout.on_fronts(entries, self._scale))

    def blocks(self, columns: Ints) -> Floats:
        """Blocks ``(n, k, k)`` for groups of columns ``(n, k)`` of the vector of unknowns that
        occur together in an observation; zero for columns not solved for."""
        at = self._layout.place[columns]
        row, column = np.broadcast_arrays(at[:, :, None], at[:, None, :])
        known = (row >= 0) & (column >= 0)
        block = np.zeros(row.shape)
        r, c = row[known], column[known]
        values = self._inverse[self._layout.fronts.positions(r, c)]
        block[known] = values * self._scale[r] * self._scale[c]
        return block


class Factor:
    """A factored normal matrix; `damping` times `damped_diagonal (c,)` is added to its diagonal."""

    def __init__(self, layout: Layout, entries: Floats, damping: float) -> None:
        diagonal = layout.diagonal(entries)
        if (diagonal <= 0.0).any():
            raise Singular(layout.solved[diagonal <= 0.0])
        self._scale = unit_scale(diagonal)
        # x and y of a place are damped alike, so that it does not matter how the axes lie.
        self.damped_diagonal = layout.over_places(diagonal)
        added = damping * self.damped_diagonal * self._scale**2
        self._lu: SuperLU | None = None
        if not len(diagonal):
            return
        try:
            self._lu = splu(
                layout.matrix(entries, self._scale, added),
                permc_spec="NATURAL",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        except RuntimeError:
            raise Singular(np.empty(0, dtype=np.int64)) from None

    def solve(self, right: Floats) -> Floats:
        """The solution for right-hand sides ``(c,)`` or ``(c, k)`` in the order of `solved`."""
        if self._lu is None:
            return right
        scale = self._scale if right.ndim == 1 else self._scale[:, None]
        return scale * self._lu.solve(scale * right)

    def smallest_pivot(self) -> float:
        """The smallest pivot; 1 is the largest there can be."""
        return 1.0 if self._lu is None else float(self._lu.U.diagonal().min())


def unit_scale(diagonal: Floats) -> Floats:
    """Factors that scale a matrix to a unit diagonal for the sake of mixed units; zero where the
    diagonal is."""
    positive = diagonal > 0.0
    return np.where(positive, 1.0 / np.sqrt(np.where(positive, diagonal, 1.0)), 0.0)


def _owners(unknowns: Unknowns) -> Ints:
    """Number of the station, point or scalar of each column ``(U + 1,)``."""
    s, p, n = len(unknowns.station), len(unknowns.point), len(unknowns.scalar_name)
    things = s + p + n
    return np.concatenate(
        [
            np.repeat(np.arange(s), 3),
            np.repeat(np.arange(s, s + p), 2),
            np.arange(s + p, things + 1),
        ]
    )


def _groups(owner: Ints) -> tuple[Ints, Ints]:
    """The first of the columns ``(n, k)`` that belong to one thing, in every item, and the group
    ``(k,)`` of each column."""
    if not owner.shape[1]:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    new = np.concatenate([[True], (owner[:, 1:] != owner[:, :-1]).any(axis=0)])
    return np.flatnonzero(new), np.cumsum(new) - 1
