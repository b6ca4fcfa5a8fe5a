# SPDX-License-Identifier: GPL-2.0-or-later
"""Edges and cells of the arrangement that lie in gaps of walls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..angles import Floats
from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .openings_jambs import THICKEST_WALL_M, Gap

SAME_FACE_M = 0.01
FARTHEST_M = 1.5 * THICKEST_WALL_M
"""How far behind a gap its wall may end."""


def separating_edges(
    arrangement: Arrangement, pieces: Pieces, gaps: tuple[Gap, ...]
) -> NDArray[np.bool_]:
    """Which edges ``(E,)`` close a gap that bounds rooms: those in the gap itself and, in a
    doorway, those on the wall's other side."""
    middle = arrangement.middle_m
    way = arrangement.node_m[arrangement.edge[:, 1]] - arrangement.node_m[arrangement.edge[:, 0]]
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    edge, piece = arrangement.piece.T
    by_edge = np.argsort(edge, kind="stable")
    first = np.searchsorted(edge[by_edge], np.arange(len(middle) + 1))
    tree = cKDTree(middle)
    found = np.zeros(len(middle), dtype=bool)
    for gap in gaps:
        if not gap.bounds:
            continue
        near = _around(gap, tree)
        place = gap.place(middle[near])
        within = (place[:, 0] > -CORNER_M) & (place[:, 0] < gap.width_m + CORNER_M)
        level = np.abs(way[near] @ gap.normal) < 0.1
        found[near[within & level & (np.abs(place[:, 1]) < 1e-4)]] = True
        if gap.kind != "doorway":
            continue
        beyond = near[within & (np.abs(place[:, 1] - _far_side(gap, pieces)) < SAME_FACE_M)]
        for e in beyond:
            on = piece[by_edge[first[e] : first[e + 1]]]
            found[e] |= bool((pieces.normal[on] @ gap.normal < -0.95).any())
    return found


def _around(gap: Gap, tree: cKDTree) -> Ints:
    """The points of a tree that may lie in a gap or in its wall, in order."""
    reach = 0.5 * gap.width_m + np.hypot(CORNER_M, FARTHEST_M)
    middle = 0.5 * (gap.start_m + gap.end_m)
    return np.array(tree.query_ball_point(middle, reach, return_sorted=True), dtype=np.int64)


def _far_side(gap: Gap, pieces: Pieces) -> float:
    """How deep behind a doorway the wall's other face lies: that of the faces at about the jambs'
    depth which is nearest to the doorway; NaN if none is."""
    backed = (pieces.kind == Piece.BACKED) & (pieces.normal @ gap.normal < -0.95)
    ends = pieces.ends_m[backed]
    if not len(ends) or not np.isfinite(gap.thickness_m):
        return float("nan")
    place = gap.place(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    along_m, depth = place[..., 0], place[..., 1].mean(axis=1)
    apart = np.maximum(along_m.min(axis=1) - gap.width_m, -along_m.max(axis=1)).clip(0.0)
    fits = np.abs(depth - gap.thickness_m) < max(0.3 * gap.thickness_m, 0.05)
    if not fits.any():
        return float("nan")
    return float(depth[fits][np.argmin(apart[fits])])


def in_wall(points_m: Floats, gaps: tuple[Gap, ...]) -> NDArray[np.bool_]:
    """Which points ``(n, 2)`` lie in the thickness of a wall where a gap opens it."""
    found = np.zeros(len(points_m), dtype=bool)
    tree = cKDTree(points_m)
    for gap in gaps:
        if gap.bounds:
            near = _around(gap, tree)
            place = gap.place(points_m[near])
            depth = gap.thickness_m if np.isfinite(gap.thickness_m) else THICKEST_WALL_M
            within = (place[:, 0] > -CORNER_M) & (place[:, 0] < gap.width_m + CORNER_M)
            found[near[within & (place[:, 1] > 0) & (place[:, 1] < depth)]] = True
    return found
