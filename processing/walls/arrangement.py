# SPDX-License-Identifier: GPL-2.0-or-later
"""The arrangement of the wall lines: cells, the edges between them and what lies on each edge."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .arrangement_pieces import Pieces
from .free_space import FreeSpace

ON_LINE_M = 1e-6
"""Noding moves a crossing by rounding only; an edge lies on a piece within this distance."""
SAMPLES = 100
FINEST_SAMPLE_M, COARSEST_SAMPLE_M = 0.05, 0.15
"""A cell is looked at in about so many points, so far apart."""
FRAME_M = 1.0
A_LOOK = 50_000
"""So many points are asked about between two looks at the cancel button."""

FAR_M = 0.9
"""The shadow of furniture is rarely deeper."""


@dataclass(frozen=True, eq=False)
class Arrangement:
    """``C`` cells and ``E`` edges.

    `node_m (N, 2)`; an edge runs from node `edge[:, 0]` to `edge[:, 1]`, with the cell `left (E,)`
    on its left and `right (E,)` on its right (-1: beyond the frame). `piece (K, 2)` pairs an edge
    with each piece it lies on, `forward (K,)` whether the two run the same way. `frame (C,)` marks
    cells at the frame.
    """

    cell: tuple[Polygon, ...]
    frame: NDArray[np.bool_]
    node_m: Floats
    edge: Ints
    left: Ints
    right: Ints
    piece: Ints
    forward: NDArray[np.bool_]

    @cached_property
    def cells(self) -> NDArray[np.object_]:
        """The cells as an array ``(C,)``."""
        return np.array(self.cell, dtype=object)

    @cached_property
    def places(self) -> shapely.STRtree:
        """An index of the cells."""
        return shapely.STRtree(self.cells)

    @cached_property
    def area_m2(self) -> Floats:
        """Areas ``(C,)`` of the cells."""
        return np.asarray(shapely.area(self.cells), dtype=float)

    @cached_property
    def edge_length_m(self) -> Floats:
        """Lengths ``(E,)``."""
        return np.hypot(*(self.node_m[self.edge[:, 1]] - self.node_m[self.edge[:, 0]]).T)

    @cached_property
    def middle_m(self) -> Floats:
        """Middles ``(E, 2)`` of the edges."""
        return self.node_m[self.edge].mean(axis=1)


def arrange(pieces: Pieces, around_m: Floats, progress: Progress = SILENT) -> Arrangement:
    """The arrangement of the pieces inside a frame around the points `around_m (n, 2)`. Raises
    `Cancelled`."""
    low = np.minimum(around_m.min(axis=0), pieces.ends_m.min(axis=(0, 1))) - FRAME_M
    high = np.maximum(around_m.max(axis=0), pieces.ends_m.max(axis=(0, 1))) + FRAME_M
    lines = shapely.linestrings(pieces.ends_m)
    frame = shapely.box(low[0], low[1], high[0], high[1]).exterior
    # GEOS cuts all lines at each other in one go: seconds for thousands.
    noded = progress.hearing(lambda: shapely.unary_union(np.append(lines, frame)))
    progress.at(0.2)
    cut = progress.hearing(lambda: shapely.polygonize(shapely.get_parts(noded)), 0.2)
    faces = shapely.get_parts(cut)
    # a fixed order, whatever the order of the pieces
    centres = shapely.get_coordinates(shapely.point_on_surface(faces))
    faces = faces[np.lexsort((centres[:, 1], centres[:, 0]))]
    progress.at(0.4)
    node_m, edge, left, right = _edges(faces)
    progress.at(0.7)
    piece, forward = _on_pieces(node_m, edge, pieces, lines)
    at_frame = np.asarray(shapely.dwithin(faces, frame, ON_LINE_M))
    return Arrangement(tuple(faces), at_frame, node_m, edge, left, right, piece, forward)


def _edges(cells: NDArray[np.object_]) -> tuple[Floats, Ints, Ints, Ints]:
    """Nodes and edges of polygons that share them, with the cells on both sides."""
    rings, owner = shapely.get_rings(cells, return_index=True)
    ccw = shapely.is_ccw(rings)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    node_m, node = np.unique(xy, axis=0, return_inverse=True)
    node = node.reshape(-1)
    same = np.flatnonzero(ring[1:] == ring[:-1])
    tail, head, r = node[same], node[same + 1], ring[same]
    # the shell of a cell has it on the left when counterclockwise, a hole's ring when clockwise
    first_ring = np.concatenate([[True], owner[1:] != owner[:-1]])
    inside_left = ccw[r] == first_ring[r]
    upward = tail < head
    key = np.column_stack([np.minimum(tail, head), np.maximum(tail, head)])
    edge, which = np.unique(key, axis=0, return_inverse=True)
    which = which.reshape(-1)
    left = np.full(len(edge), -1, dtype=np.int64)
    right = np.full(len(edge), -1, dtype=np.int64)
    is_left = inside_left == upward
    left[which[is_left]] = owner[r[is_left]]
    right[which[~is_left]] = owner[r[~is_left]]
    return node_m, edge.astype(np.int64), left, right


def _on_pieces(
    node_m: Floats, edge: Ints, pieces: Pieces, lines: NDArray[np.object_]
) -> tuple[Ints, NDArray[np.bool_]]:
    middle = node_m[edge].mean(axis=1)
    tree = shapely.STRtree(lines)
    e, p = tree.query(shapely.points(middle), predicate="dwithin", distance=ON_LINE_M)
    way = node_m[edge[e, 1]] - node_m[edge[e, 0]]
    length = np.hypot(way[:, 0], way[:, 1])
    step = pieces.direction[p]
    cross = np.abs(way[:, 0] * step[:, 1] - way[:, 1] * step[:, 0])
    # a short edge's middle may lie near a piece that only crosses it
    keep = cross <= np.maximum(2 * ON_LINE_M, 1e-3 * length)
    e, p, way, step = e[keep], p[keep], way[keep], step[keep]
    order = np.lexsort((p, e))
    e, p, way, step = e[order], p[order], way[order], step[order]
    return np.column_stack([e, p]).astype(np.int64), np.einsum("ij,ij->i", way, step) > 0


@dataclass(frozen=True, eq=False)
class Seen:
    """Shares ``(C,)`` of each cell: seen free, veiled, and far from everything seen free."""

    free: Floats
    veiled: Floats
    far: Floats


def seen_of_cells(arrangement: Arrangement, free: FreeSpace, progress: Progress = SILENT) -> Seen:
    """What was seen of each cell, from a fine lattice of points.

    Cells too small for the lattice get one point inside; what stands at their edges decides.
    """
    cells = arrangement.cells
    inner = np.flatnonzero(~arrangement.frame)
    nothing = np.zeros(len(cells))
    if not len(inner):
        return Seen(nothing, nothing, nothing)
    progress.at(0.0)
    at, where = _lattices(cells, inner, arrangement.area_m2[inner])
    seen, veiled = free.look(at, progress.part(0.3, 0.8))
    far = ~seen
    if seen.any():
        progress.at(0.8)
        near = cKDTree(at[seen])
        unseen = np.flatnonzero(far)
        for first in progress.part(0.9, 1.0).over(range(0, len(unseen), A_LOOK)):
            some = unseen[first : first + A_LOOK]
            far[some] = ~np.isfinite(near.query(at[some], distance_upper_bound=FAR_M)[0])
    count = np.bincount(where, minlength=len(cells)).clip(1)

    def share(mask: NDArray[np.bool_]) -> Floats:
        return np.bincount(where, weights=mask, minlength=len(cells)) / count

    return Seen(share(seen), share(veiled), share(far))


def _lattices(cells: NDArray[np.object_], chosen: Ints, area_m2: Floats) -> tuple[Floats, Ints]:
    """Points ``(n, 2)`` of a lattice in each of the chosen cells, and their cells ``(n,)``. Each
    lattice is anchored in its cell, so that it does not depend on what else was surveyed."""
    spacing = np.clip(np.sqrt(area_m2 / SAMPLES), FINEST_SAMPLE_M, COARSEST_SAMPLE_M)
    low = shapely.bounds(cells[chosen])[:, :2]
    size = shapely.bounds(cells[chosen])[:, 2:] - low
    across, up = np.maximum((size / spacing[:, None]).astype(np.int64), 1).T
    count = across * up
    of = np.repeat(np.arange(len(chosen)), count)
    rank = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    x = low[of, 0] + (rank % across[of] + 0.5) * (size[:, 0] / across)[of]
    y = low[of, 1] + (rank // across[of] + 0.5) * (size[:, 1] / up)[of]
    shapely.prepare(cells[chosen])
    within = shapely.contains_xy(cells[chosen][of], x, y)
    points, owner = np.column_stack([x, y])[within], chosen[of[within]]
    none = np.setdiff1d(chosen, owner)
    inside = shapely.get_coordinates(shapely.point_on_surface(cells[none]))
    return np.concatenate([points, inside.reshape(-1, 2)]), np.concatenate([owner, none])
