# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms as sets of cells: what hangs together without a wall or a doorway between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .arrangement import Arrangement
from .arrangement_pieces import Pieces
from .openings_edges import in_wall
from .openings_jambs import Gap
from .rooms_edges import EdgeKinds, components, edge_kinds
from .rooms_furniture import fill_islands, fill_leaves, fill_pockets, without_walls

SEED_M2 = 0.5
"""Of this much seen, a set of cells stands for itself."""


@dataclass(frozen=True, eq=False)
class Sight:
    """What the labelling rests on: `inside (C,)` cells, the share `free (C,)` of each that was
    seen free, the edges `looked_through (E,)` that readings crossed, and the `price (E,)` of a
    metre of boundary on each edge."""

    inside: NDArray[np.bool_]
    free: Floats
    looked_through: NDArray[np.bool_]
    price: Floats


def rooms_of_cells(
    arrangement: Arrangement,
    pieces: Pieces,
    gaps: tuple[Gap, ...],
    sight: Sight,
    stations_m: Floats,
    smallest_m2: float,
    progress: Progress = SILENT,
) -> tuple[Ints, tuple[Gap, ...]]:
    """The room of each cell ``(C,)``, numbered from 0, or -1; and the gaps that are left.

    Cells hang together over edges where neither readings nor a bounding gap stand: first where
    a station looked through, then cells that nobody saw join what they are least walled off from.
    A set of cells is a room when a station stands in it or half of it was seen, and when it is
    large enough and not merely the thickness of a wall in a doorway. A doorway in a corner counts
    only between two places where stations stand: else it is rather a passage beside furniture.
    """
    while True:
        progress.at(0.0)
        kinds = edge_kinds(arrangement, pieces, gaps)
        progress.at(0.1)
        label = _hang_together(arrangement, kinds, sight)
        progress.at(0.4)
        known = label >= 0
        count = int(label.max(initial=-1)) + 1
        area = np.bincount(label[known], arrangement.area_m2[known], count)
        occupied = np.zeros(count, dtype=bool)
        at = _labels_at(arrangement, label, stations_m)
        occupied[at[at >= 0]] = True
        left = tuple(gap for gap in gaps if not _leads_to(gap, arrangement, label, ~occupied))
        if len(left) == len(gaps):
            break
        gaps = left
    progress.at(0.5)
    seen = np.bincount(label[known], (arrangement.area_m2 * sight.free)[known], count)
    point = shapely.get_coordinates(shapely.point_on_surface(arrangement.cells))
    hidden = known & in_wall(point, gaps)
    in_walls = np.bincount(label[hidden], arrangement.area_m2[hidden], count)
    keep = (area >= smallest_m2) & (occupied | (seen >= 0.5 * area))
    keep &= occupied | (in_walls < 0.5 * area)
    number = np.full(count + 1, -1, dtype=np.int64)
    number[:-1][keep] = np.arange(int(keep.sum()))
    progress.at(0.6)
    rooms = without_walls(arrangement, kinds, number[label], sight.free)
    progress.at(0.8)
    rooms = fill_pockets(arrangement, kinds, rooms)
    progress.at(0.9)
    rooms = fill_leaves(arrangement, kinds, rooms)
    rooms = _in_one_piece(arrangement, fill_islands(arrangement, rooms), sight, stations_m)
    return rooms, gaps


def _in_one_piece(arrangement: Arrangement, rooms: Ints, sight: Sight, stations_m: Floats) -> Ints:
    """Rooms that fell apart when walls came out: each part in which a station stands is a room;
    without one, the part of which most was seen."""
    left, right = arrangement.left, arrangement.right
    same = (left >= 0) & (right >= 0)
    same[same] &= rooms[left[same]] == rooms[right[same]]
    part = components(arrangement, rooms >= 0, same)
    count = int(part.max(initial=-1)) + 1
    known = part >= 0
    owner = np.zeros(count, dtype=np.int64)
    owner[part[known]] = rooms[known]
    seen = np.bincount(part[known], (arrangement.area_m2 * sight.free)[known], count)
    occupied = np.zeros(count, dtype=bool)
    at = _labels_at(arrangement, part, stations_m)
    occupied[at[at >= 0]] = True
    keep = occupied.copy()
    for room in np.setdiff1d(owner, owner[occupied]):
        own = np.flatnonzero(owner == room)
        keep[own[int(np.argmax(seen[own]))]] = True
    number = np.where(keep, np.cumsum(keep) - 1, -1)
    result = np.full(len(rooms), -1, dtype=np.int64)
    result[known] = number[part[known]]
    return result


def _labels_at(arrangement: Arrangement, label: Ints, points_m: Floats) -> Ints:
    """The labels of the cells in which points lie."""
    _, cell = arrangement.places.query(shapely.points(points_m), predicate="intersects")
    found: Ints = label[cell]
    return found


def _leads_to(gap: Gap, arrangement: Arrangement, label: Ints, empty: NDArray[np.bool_]) -> bool:
    """Whether a doorway in a corner has no station before it or behind it."""
    if not gap.cornered:
        return False
    share = np.array([0.25, 0.5, 0.75])[:, None]
    on_line = gap.start_m + share * (gap.end_m - gap.start_m)
    for depth in (-0.05, gap.thickness_m + 0.05):
        at = _labels_at(arrangement, label, on_line - depth * gap.normal)
        if empty[at[at >= 0]].all():
            return True
    return False


def _hang_together(arrangement: Arrangement, kinds: EdgeKinds, sight: Sight) -> Ints:
    passable = ~(kinds.backed.any(axis=1) | kinds.bounds)
    label = components(arrangement, sight.inside, passable & sight.looked_through)
    seen_m2 = arrangement.area_m2 * sight.free
    return _join_shadows(arrangement, label, passable, sight.price, seen_m2)


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
