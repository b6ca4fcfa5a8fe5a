# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms as sets of cells: what hangs together, without what only furniture hides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..angles import Floats
from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .openings_edges import in_wall, separating_edges
from .openings_jambs import Gap

DEEPEST_POCKET_M = 1.0
"""What hides a wall that goes on at both sides is furniture up to this depth."""
UNSEEN_SHARE = 0.2
SEED_M2 = 0.5
"""Of this much seen, a set of cells stands for itself."""
NARROWEST_POCKET_M = 0.35
"""What is narrower along the wall is a pilaster or the end of a wall."""
LARGEST_ISLAND_M2 = 1.5
"""What stands free in a room is filled up to this area: furniture, or a column (its area stays in
the room's, as net areas count it)."""


@dataclass(frozen=True, eq=False)
class EdgeKinds:
    """What stands on each edge ``(E,)``: `backed` readings on a face whose free side is the
    edge's left or right (two columns), `closure` an interrupted wall likewise, `bounds` a gap
    or the last bit of a wall up to its corner, both of which end a room."""

    backed: NDArray[np.bool_]
    closure: NDArray[np.bool_]
    bounds: NDArray[np.bool_]


def edge_kinds(arrangement: Arrangement, pieces: Pieces, gaps: tuple[Gap, ...]) -> EdgeKinds:
    """What stands on each edge of the arrangement."""
    edge, piece = arrangement.piece.T
    # column 0: free side left, column 1: free side right
    side = arrangement.forward.astype(np.int64)
    backed = np.zeros((len(arrangement.edge), 2), dtype=bool)
    closure = backed.copy()
    on = pieces.kind[piece]
    backed[edge[on == Piece.BACKED], side[on == Piece.BACKED]] = True
    closure[edge[on == Piece.CLOSURE], side[on == Piece.CLOSURE]] = True
    bounds = separating_edges(arrangement, pieces, gaps)
    bounds[edge[_corner_bits(arrangement, pieces)]] = True
    return EdgeKinds(backed, closure, bounds)


def _corner_bits(arrangement: Arrangement, pieces: Pieces) -> NDArray[np.bool_]:
    """Which pairs of edge and piece are the short way from the last reading to the corner."""
    edge, piece = arrangement.piece.T
    ends = arrangement.node_m[arrangement.edge[edge]]
    far = np.full(len(edge), np.inf)
    for end in (0, 1):
        seen = pieces.from_wall_m[piece, end] == 0.0
        offset = ends - pieces.ends_m[piece, end][:, None, :]
        distance = np.hypot(offset[..., 0], offset[..., 1]).max(axis=1)
        far = np.where(seen, np.minimum(far, distance), far)
    return (pieces.kind[piece] == Piece.EXTENSION) & (far <= CORNER_M)


def rooms_of_cells(
    arrangement: Arrangement,
    kinds: EdgeKinds,
    inside: NDArray[np.bool_],
    gaps: tuple[Gap, ...],
    stations_m: Floats,
    free: Floats,
    looked_through: NDArray[np.bool_],
    price: Floats,
    smallest_m2: float,
) -> Ints:
    """The room of each cell ``(C,)``, numbered from 0, or -1.

    `free (C,)` is the share of each cell seen free, `looked_through (E,)` the edges that readings
    crossed, `price (E,)` what a boundary costs there for each metre.

    Cells hang together over edges where neither readings nor a bounding gap stand: first where
    a station looked through, then cells that nobody saw join what they are least walled off from.
    A set of cells is a room when a station stands in it or half of it was seen, and when it is
    large enough and not merely the thickness of a wall in a doorway.
    """
    passable = ~(kinds.backed.any(axis=1) | kinds.bounds)
    label = _components(arrangement, inside, passable & looked_through)
    seen_m2 = arrangement.area_m2 * free
    label = _join_shadows(arrangement, label, passable, price, seen_m2)
    count = int(label.max(initial=-1)) + 1
    area = np.bincount(label[label >= 0], arrangement.area_m2[label >= 0], count)
    seen = np.bincount(label[label >= 0], (arrangement.area_m2 * free)[label >= 0], count)
    cells = np.array(arrangement.cell, dtype=object)
    occupied = np.zeros(count, dtype=bool)
    if len(stations_m):
        tree = shapely.STRtree(cells)
        _, cell = tree.query(shapely.points(stations_m), predicate="intersects")
        occupied[label[cell][label[cell] >= 0]] = True
    point = shapely.get_coordinates(shapely.point_on_surface(cells))
    hidden = in_wall(point, gaps)
    in_walls = np.bincount(
        label[(label >= 0) & hidden], arrangement.area_m2[(label >= 0) & hidden], count
    )
    keep = (area >= smallest_m2) & (occupied | (seen >= 0.5 * area))
    keep &= occupied | (in_walls < 0.5 * area)
    number = np.full(count + 1, -1, dtype=np.int64)
    number[:-1][keep] = np.arange(int(keep.sum()))
    rooms = _without_walls(arrangement, kinds, number[label], free)
    rooms = _fill_pockets(arrangement, kinds, rooms)
    return _fill_islands(arrangement, rooms)


def _components(
    arrangement: Arrangement, member: NDArray[np.bool_], passes: NDArray[np.bool_]
) -> Ints:
    left, right = arrangement.left, arrangement.right
    joined = passes & (left >= 0) & (right >= 0)
    joined[joined] &= member[left[joined]] & member[right[joined]]
    count = len(member)
    graph = coo_matrix((np.ones(int(joined.sum())), (left[joined], right[joined])), (count, count))
    _, label = connected_components(graph, directed=False)
    label = np.where(member, label, -1)
    _, dense = np.unique(label[member], return_inverse=True)
    result = np.full(count, -1, dtype=np.int64)
    result[member] = dense.reshape(-1)
    return result


def _join_shadows(
    arrangement: Arrangement,
    label: Ints,
    passable: NDArray[np.bool_],
    price: Floats,
    seen_m2: Floats,
) -> Ints:
    """Join the sets of cells that nobody saw much of to others, over the edges that least look
    like a wall first, never two that were seen (a minimum spanning forest from seeds)."""
    count = int(label.max(initial=-1)) + 1
    known = label >= 0
    seeded = np.bincount(label[known], seen_m2[known], count) >= SEED_M2
    parent = np.arange(count)

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = int(parent[k])
        return k

    left, right = arrangement.left, arrangement.right
    edges = np.flatnonzero(passable & (left >= 0) & (right >= 0))
    edges = edges[known[left[edges]] & known[right[edges]]]
    edges = edges[label[left[edges]] != label[right[edges]]]
    # dearest first: where a boundary costs least, a wall is likeliest
    for e in edges[np.lexsort((edges, -np.round(price[edges], 9)))]:
        a, b = root(int(label[left[e]])), root(int(label[right[e]]))
        if a == b or (seeded[a] and seeded[b]):
            continue
        parent[b] = a
        seeded[a] |= seeded[b]
    _, dense = np.unique([root(k) for k in range(count)], return_inverse=True)
    result = label.copy()
    result[known] = dense.reshape(-1)[label[known]] if count else label[known]
    return result


def _without_walls(arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints, free: Floats) -> Ints:
    """Take from rooms what nobody saw behind the wall faces of other rooms: the wall itself."""
    result = rooms.copy()
    left, right = arrangement.left, arrangement.right
    both = (left >= 0) & (right >= 0)
    for side, front, back in ((0, left, right), (1, right, left)):
        edges = np.flatnonzero(both & kinds.backed[:, side])
        other = (rooms[front[edges]] >= 0) & (rooms[front[edges]] != rooms[back[edges]])
        behind = back[edges[other]]
        result[behind[free[behind] < UNSEEN_SHARE]] = -1
    return result


def _fill_pockets(arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints) -> Ints:
    """Give a room what is hidden between it and a wall that goes on at both sides."""
    solid = kinds.backed.any(axis=1) | kinds.closure.any(axis=1)
    pocket = _components(arrangement, (rooms < 0) & ~arrangement.frame, ~solid)
    count = int(pocket.max(initial=-1)) + 1
    if not count:
        return rooms
    area = np.bincount(pocket[pocket >= 0], arrangement.area_m2[pocket >= 0], count)
    length = arrangement.edge_length_m
    owner = np.full(count, -1, dtype=np.int64)
    spoilt = np.zeros(count, dtype=bool)
    behind = np.zeros(count)
    for mine, other, side in (
        (arrangement.left, arrangement.right, 0),
        (arrangement.right, arrangement.left, 1),
    ):
        edges = np.flatnonzero((mine >= 0) & (pocket[mine] >= 0))
        outer = edges[(other[edges] < 0) | (pocket[other[edges]] != pocket[mine[edges]])]
        for e in outer:
            k = pocket[mine[e]]
            room = rooms[other[e]] if other[e] >= 0 else -1
            if kinds.closure[e, side] or kinds.backed[e, side]:
                # the wall's own line, looking into the pocket
                behind[k] += length[e] * kinds.closure[e, side]
            elif room >= 0 and (owner[k] < 0 or owner[k] == room):
                owner[k] = room
            else:
                spoilt[k] = True
    filled = (owner >= 0) & ~spoilt & (behind >= NARROWEST_POCKET_M)
    filled &= area <= DEEPEST_POCKET_M * behind
    result = rooms.copy()
    inside = (pocket >= 0) & filled[pocket]
    result[inside] = owner[pocket[inside]]
    return result


def _fill_islands(arrangement: Arrangement, rooms: Ints) -> Ints:
    """Give a room the small things that stand free in it."""
    every = np.ones(len(arrangement.edge), dtype=bool)
    island = _components(arrangement, rooms < 0, every)
    count = int(island.max(initial=-1)) + 1
    result = rooms.copy()
    if not count:
        return result
    area = np.bincount(island[island >= 0], arrangement.area_m2[island >= 0], count)
    spoilt = np.zeros(count, dtype=bool)
    spoilt[island[(island >= 0) & arrangement.frame]] = True
    owner = np.full(count, -1, dtype=np.int64)
    for mine, other in (
        (arrangement.left, arrangement.right),
        (arrangement.right, arrangement.left),
    ):
        edges = np.flatnonzero((mine >= 0) & (other >= 0))
        edges = edges[(island[mine[edges]] >= 0) & (island[other[edges]] < 0)]
        for k, room in zip(island[mine[edges]], rooms[other[edges]]):
            if owner[k] >= 0 and owner[k] != room:
                spoilt[k] = True
            owner[k] = room
    filled = (owner >= 0) & ~spoilt & (area <= LARGEST_ISLAND_M2)
    inside = (island >= 0) & filled[island]
    result[inside] = owner[island[inside]]
    return result
