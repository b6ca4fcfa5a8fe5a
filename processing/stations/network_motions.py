# SPDX-License-Identifier: GPL-2.0-or-later
"""The motions of a group's stations that its observations leave open.

They are eigenvectors of the normal equations between stations with small eigenvalues. A matrix of
all stations would be dense, and its eigenvalues cost the cube of their number. But how many lie
below a limit is seen from the signs of the pivots of the sparse normal equations with the limit
taken off (Sylvester's law of inertia; points and surfaces, which stay in, add none: Haynsworth,
*Lin. Algebra Appl.* 1, 1968). Three are known beforehand, the motions of the whole; mostly there
are no others. Where there are, Lanczos' method looks for as many.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.linalg import eigh
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import ArpackError, LinearOperator, SuperLU, eigsh, splu

from ..angles import Floats
from ..captures.model import Ints
from .observations import Bools, Observations, Unknowns
from .observations_equations import equations

LEVER_M = 3.0
"""A turn counts as the movement of a wall this far away."""

SMALL = 60
"""So many stations are searched faster in one dense matrix."""

# The limit may be off by this share where rounding comes in, else a dense matrix decides.
_ROUNDING = 1e-3
# A motion of the whole changes no observation: it has no more than this share of the largest
# eigenvalue there can be.
_UNSEEN = 1e-9


@dataclass(frozen=True, eq=False)
class StationNormals:
    """Normal equations of a group: `poses (3S, 3S)` of its stations at `xy_m (S, 2)`, `inner
    (k, k)` of its points and scalars, and `cross (k, 3S)` between. Turns are in units of
    1 / `LEVER_M`, so that all motions are in metres."""

    xy_m: Floats
    poses: sparse.csc_matrix
    cross: sparse.csc_matrix
    inner: sparse.csc_matrix

    @classmethod
    def of(cls, unknowns: Unknowns, observations: Observations, used: Bools) -> StationNormals:
        """The normal equations at given values."""
        jacobian = _jacobian(unknowns, observations, used)
        count = 3 * len(unknowns.station)
        size = np.tile([1.0, 1.0, 1.0 / LEVER_M], count // 3)
        own = (jacobian[:, :count] @ sparse.diags(size)).tocsc()
        others = jacobian[:, count:-1]
        inner = others.T @ others
        # What no used observation touches must not make the matrix singular.
        ridge = np.maximum(inner.diagonal() * 1e-12, 1e-12)
        return cls(
            unknowns.station_xy_m,
            (own.T @ own).tocsc(),
            (others.T @ own).tocsc(),
            (inner + sparse.diags(ridge)).tocsc(),
        )

    def pieces(self) -> Ints:
        """The piece ``(S,)``, numbered from 0, that each station belongs to: pieces have no
        observation in common. A small group is not looked at: all is one."""
        if len(self.xy_m) <= SMALL:
            return np.zeros(len(self.xy_m), dtype=np.int64)
        every = sparse.bmat([[self.poses, self.cross.T], [self.cross, self.inner]]).tocoo()
        there = every.data != 0.0
        x = np.arange(0, self.poses.shape[0], 3)
        first = np.concatenate([every.row[there], x, x])
        second = np.concatenate([every.col[there], x + 1, x + 2])
        graph = sparse.coo_matrix((np.ones(len(first)), (first, second)), every.shape)
        _, piece = connected_components(graph, directed=False)
        return np.unique(piece[x], return_inverse=True)[1]

    def among(self, stations: Ints) -> StationNormals:
        """Those of a whole piece."""
        at = (3 * stations[:, None] + np.arange(3)).ravel()
        cross = self.cross[:, at]
        seen = np.flatnonzero(np.diff(cross.tocsr().indptr))
        return StationNormals(
            self.xy_m[stations],
            self.poses[:, at][at],
            cross[seen],
            self.inner[:, seen][seen],
        )

    def of_each(self) -> Floats:
        """The blocks ``(S, 3, 3)`` of the stations without points and scalars."""
        count = len(self.xy_m)
        if count <= SMALL:
            station = np.arange(count)
            return np.asarray(self._dense.reshape(count, 3, count, 3)[station, :, station])
        inner = _inverse(self.inner) @ self.cross
        blocks = np.empty((count, 3, 3))
        for i in range(3):
            for k in range(3):
                own = self.poses[i::3, k::3].diagonal()
                through = self.cross[:, i::3].multiply(inner[:, k::3]).sum(axis=0)
                blocks[:, i, k] = own - np.asarray(through).ravel()
        return blocks

    def open_motions(self, limit_m: float) -> Floats:
        """Motions of all stations (x, y, turn) ``(3S, k)`` with a standard error above a limit."""
        below = limit_m**-2.0
        motions = self._searched(below) if len(self.xy_m) > SMALL else None
        if motions is None:
            _, motions = eigh(self._dense, subset_by_value=(-np.inf, below))
        return np.asarray(motions / np.tile([1.0, 1.0, LEVER_M], len(self.xy_m))[:, None])

    @cached_property
    def _dense(self) -> Floats:
        """The normal matrix ``(3S, 3S)`` without points and scalars."""
        return np.asarray((self.poses - self.cross.T @ _inverse(self.inner) @ self.cross).toarray())

    def _searched(self, below: float) -> Floats | None:
        """Eigenvectors of eigenvalues below a limit; None where it is not sure to find them all."""
        whole = self._of_the_whole()
        left = self.cross @ whole
        energy = whole.T @ (self.poses @ whole) - left.T @ (_inverse(self.inner) @ left)
        largest = float(self.poses.diagonal().max())
        count = self._count(below)
        if count is None or count < 3 or np.abs(energy).max() > _UNSEEN * largest:
            return None
        if count == 3:
            return whole
        more = self._further(below, count - 3, whole)
        return None if more is None else np.column_stack([whole, more])

    def _of_the_whole(self) -> Floats:
        """Shifts and turn of all stations together, orthonormal ``(3S, 3)``."""
        away = self.xy_m - self.xy_m.mean(axis=0)
        motions = np.zeros((len(away), 3, 3))
        motions[:, 0, 0] = motions[:, 1, 1] = 1.0
        # A clockwise turn moves a point at (x, y) by (y, -x).
        motions[:, :, 2] = np.column_stack([away[:, 1], -away[:, 0], np.full(len(away), LEVER_M)])
        return np.asarray(np.linalg.qr(motions.reshape(-1, 3))[0])

    def _count(self, below: float) -> int | None:
        """How many eigenvalues lie below a limit; None where rounding leaves it open."""
        largest = float(self.poses.diagonal().max())
        solver, _ = self._factored(-below)
        if solver is None or not np.array_equal(solver.perm_r, solver.perm_c):
            return None
        upper = solver.U
        growth = np.abs(solver.L) @ (np.abs(upper) @ np.ones(upper.shape[1]))
        # The factors are exact for a matrix that differs by so much (Higham, *Accuracy and
        # Stability of Numerical Algorithms*, 2nd ed., theorem 9.3, for sums of a few terms).
        error = 8.0 * np.finfo(float).eps * growth.max(initial=1.0) * largest
        return int((upper.diagonal() < 0.0).sum()) if error < _ROUNDING * below else None

    def _factored(self, added: float) -> tuple[SuperLU | None, Floats]:
        """Factors of the normal equations with something added to the diagonal of the stations,
        scaled, and the scale."""
        largest = float(self.poses.diagonal().max())
        poses = self.poses.shape[0]
        shifted = self.poses + added * sparse.identity(poses)
        scale = np.append(np.full(poses, largest**-0.5), self.inner.diagonal() ** -0.5)
        matrix = sparse.bmat([[shifted, self.cross.T], [self.cross, self.inner]])
        matrix = (sparse.diags(scale) @ matrix @ sparse.diags(scale)).tocsc()
        options = {"SymmetricMode": True}
        try:
            return (
                splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options),
                scale,
            )
        except RuntimeError:
            return None, scale

    def _further(self, below: float, count: int, whole: Floats) -> Floats | None:
        """So many more eigenvectors of eigenvalues below a limit, beside those of the whole, as the
        largest of the inverse; None where not all are found."""
        poses = self.poses.shape[0]
        solver, scale = self._factored(below)
        if solver is None or count > poses // 4:
            return None

        def inverse(right: Floats) -> Floats:
            full = np.append(scale[:poses] * right.ravel(), np.zeros(len(scale) - poses))
            return (scale * solver.solve(full))[:poses] - whole @ (whole.T @ right.ravel()) / below

        operator = LinearOperator((poses, poses), matvec=inverse, dtype=float)
        start = np.random.default_rng(0).normal(size=poses)
        try:
            value, vectors = eigsh(operator, k=count, which="LA", v0=start)
        except ArpackError:
            return None
        # Of a multiple eigenvalue it may miss some.
        return np.asarray(vectors) if value.min() > (1.0 - _ROUNDING) / (2.0 * below) else None


def _jacobian(unknowns: Unknowns, observations: Observations, used: Bools) -> sparse.csc_matrix:
    """The Jacobian of all observations, whitened; nothing in rows that are not used."""
    extended = np.append(unknowns.vector, 0.0)
    rows, columns, values = [], [], []
    for equation in equations(unknowns, observations):
        _, jacobian = equation.evaluate(extended)
        weighted = equation.whitening @ jacobian
        weighted = weighted * used[equation.rows].reshape(*weighted.shape[:2], 1)
        row = np.arange(equation.rows.start, equation.rows.stop).reshape(weighted.shape[:2])
        rows.append(np.broadcast_to(row[:, :, None], weighted.shape).ravel())
        columns.append(np.broadcast_to(equation.columns[:, None, :], weighted.shape).ravel())
        values.append(weighted.ravel())
    shape = (observations.rows, len(extended))
    if not rows:
        return sparse.csc_matrix(shape)
    place = np.concatenate(rows), np.concatenate(columns)
    jacobian = sparse.csc_matrix((np.concatenate(values), place), shape=shape)
    jacobian.eliminate_zeros()
    return jacobian


def _inverse(matrix: sparse.csc_matrix) -> sparse.csc_matrix:
    """The inverse of a matrix that falls into many small parts: the unknowns of a point or of a
    surface."""
    _, part = connected_components(matrix, directed=False)
    size = np.bincount(part)
    order = np.argsort(part, kind="stable")
    first = np.cumsum(size) - size
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order)) - np.repeat(first, size)
    entries = matrix.tocoo()
    rows, columns, values = [], [], []
    for width in np.unique(size):
        parts = np.flatnonzero(size == width)
        number = np.full(len(size), -1, dtype=np.int64)
        number[parts] = np.arange(len(parts))
        block = np.zeros((len(parts), width, width))
        of = number[part[entries.row]]
        own = of >= 0
        block[of[own], place[entries.row[own]], place[entries.col[own]]] = entries.data[own]
        at = order[first[parts][:, None] + np.arange(width)]
        row, column = np.broadcast_arrays(at[:, :, None], at[:, None, :])
        rows.append(row.ravel())
        columns.append(column.ravel())
        values.append(np.linalg.inv(block).ravel())
    if not rows:
        return matrix
    where = np.concatenate(rows), np.concatenate(columns)
    return sparse.csc_matrix((np.concatenate(values), where), shape=matrix.shape)
