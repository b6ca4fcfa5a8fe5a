# SPDX-License-Identifier: GPL-2.0-or-later
"""Which stations of a group the observations really fix to each other."""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.linalg import eigh
from scipy.sparse.linalg import splu

from ..angles import Floats
from .observations import Bools, Observations, Unknowns
from .observations_equations import equations

LOOSE_M = 0.25
"""A relative position known no better than this is not fixed."""

LOOSE_ALONE_M = 0.03
"""A station that all others together fix no better than this would slide along a wall when its
surfaces are found again."""

LEVER_M = 3.0
"""A turn counts as the movement of a wall this far away."""

AT_ONCE = 300
"""Columns that are eliminated in one piece, so that memory does not grow with their square."""

_MOVES = 0.02


class Loose(Exception):
    """A group falls apart: `parts` are lists of its stations (places in the group) that the
    observations fix to each other."""

    def __init__(self, parts: list[list[int]]) -> None:
        super().__init__("the group is not rigid")
        self.parts = parts


def rigid_parts(
    unknowns: Unknowns,
    observations: Observations,
    used: Bools,
    alone_m: float | Floats = LOOSE_ALONE_M,
) -> list[list[int]]:
    """Sets of stations that no motion, unseen by the observations, moves against each other.

    Targets and surfaces are eliminated from the normal equations; what is left between stations is
    searched for motions with a standard error above `LOOSE_M` (eigenvectors of small eigenvalues,
    the three motions of the whole among them). Common walls of one direction, for instance, leave
    the shift along them open. A station whose position all others fix no better than `alone_m` (one
    for all, or ``(S,)``) is a part of its own.
    """
    count = len(unknowns.station)
    normal = _between_stations(unknowns, observations, used)
    if count > 2 and (loose := _loose_alone(normal, alone_m)):
        return [[k for k in range(count) if k not in loose], *([k] for k in loose)]
    open_motions = _open_motions(normal)
    left = list(range(count))
    parts = []
    while left:
        anchor = left[0]
        moves = _against(unknowns.station_xy_m, open_motions, anchor)
        part = [s for s in left if moves[s] < _MOVES or s == anchor]
        parts.append(part)
        left = [s for s in left if s not in part]
    return parts


def _open_motions(normal: sparse.csc_matrix) -> Floats:
    """Motions of all stations ``(3S, k)`` with a standard error above `LOOSE_M`."""
    size = np.tile([1.0, 1.0, LEVER_M], normal.shape[0] // 3)
    scaled = normal.toarray() / np.outer(size, size)
    # Lanczos' method would be faster, but may miss vectors of a multiple eigenvalue, or not end.
    _, vectors = eigh(scaled, subset_by_value=(-np.inf, LOOSE_M**-2))
    return np.asarray(vectors / size[:, None])


def _loose_alone(normal: sparse.csc_matrix, alone_m: float | Floats) -> list[int]:
    """Stations whose positions, all others held, are known no better than `alone_m`."""
    loose = []
    limit = np.broadcast_to(alone_m, normal.shape[0] // 3)
    blocks = _blocks(normal)
    for k in range(len(limit)):
        own = blocks[k]
        # Without the orientation: what is left for the position.
        left = own[:2, :2] - np.outer(own[:2, 2], own[2, :2]) / max(own[2, 2], 1e-12)
        if np.linalg.eigvalsh(left)[0] < limit[k] ** -2:
            loose.append(k)
    return loose


def _blocks(normal: sparse.csc_matrix) -> Floats:
    """The blocks ``(S, 3, 3)`` of the stations."""
    entries = normal.tocoo()
    same = entries.row // 3 == entries.col // 3
    row, column = entries.row[same], entries.col[same]
    blocks = np.zeros((normal.shape[0] // 3, 3, 3))
    np.add.at(blocks, (row // 3, row % 3, column % 3), entries.data[same])
    return blocks


def _against(xy_m: Floats, motions: Floats, anchor: int) -> Floats:
    """How much each station ``(S,)`` moves against the anchor's frame in any of the motions
    ``(3S, k)`` of unit length."""
    poses = motions.reshape(len(xy_m), 3, -1)
    turn = poses[:, 2] - poses[anchor, 2]
    away = xy_m - xy_m[anchor]
    # A clockwise turn of the anchor moves a point at (x, y) from it by (y, -x).
    shift_x = poses[:, 0] - poses[anchor, 0] - away[:, 1:2] * poses[anchor, 2]
    shift_y = poses[:, 1] - poses[anchor, 1] + away[:, 0:1] * poses[anchor, 2]
    return np.sqrt((shift_x**2 + shift_y**2 + (LEVER_M * turn) ** 2).sum(axis=1))


def _between_stations(
    unknowns: Unknowns, observations: Observations, used: Bools
) -> sparse.csc_matrix:
    """Normal matrix ``(3S, 3S)`` of the poses after eliminating points and scalars."""
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
        return sparse.csc_matrix((3 * len(unknowns.station),) * 2)
    jacobian = sparse.csc_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=shape
    )
    poses = 3 * len(unknowns.station)
    own, others = jacobian[:, :poses], jacobian[:, poses:-1]
    normal = (own.T @ own).tocsc()
    if others.shape[1]:
        cross = (others.T @ own).tocsc()
        inner = others.T @ others
        # What no used observation touches must not make the matrix singular.
        ridge = np.maximum(inner.diagonal() * 1e-12, 1e-12)
        solver = splu((inner + sparse.diags(ridge)).tocsc())
        parts = [
            sparse.csc_matrix(solver.solve(cross[:, start : start + AT_ONCE].toarray()))
            for start in range(0, poses, AT_ONCE)
        ]
        normal = normal - cross.T @ sparse.hstack(parts, format="csc")
    return ((normal + normal.T) / 2).tocsc()
