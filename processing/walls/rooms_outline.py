# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms as polygons: unions of cells whose shared boundaries stay identical vertex by vertex."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..angles import Floats
from ..captures.model import Ints
from .arrangement import Arrangement

STRAIGHT_M = 1e-6
"""A vertex this near to the line through its neighbours is none."""

Vertex = tuple[float, float]


def outlines(arrangement: Arrangement, rooms: Ints) -> tuple[Polygon, ...]:
    """One polygon a room, shells counterclockwise, without vertices in straight stretches.

    A vertex goes only if it goes from every room that has it, so that rooms which touch share
    their vertices.
    """
    count = int(rooms.max(initial=-1)) + 1
    rings: list[list[Vertex]] = []
    owner: list[int] = []
    for room in range(count):
        cells = arrangement.cells[rooms == room]
        union = shapely.coverage_union_all(cells)
        if not union.is_valid:
            # GEOS 3.13 takes two holes that touch in a point for one
            union = shapely.union_all(cells)
        if union.geom_type != "Polygon":
            # parts that touch in a point only: the largest is the room
            union = max(union.geoms, key=lambda part: part.area)
        union = shapely.normalize(union)
        for ring in (union.exterior, *union.interiors):
            rings.append([(float(x), float(y)) for x, y in ring.coords[:-1]])
            owner.append(room)
    rings = straightened(rings)
    polygons = []
    for room in range(count):
        own = [np.array(ring) for ring, of in zip(rings, owner) if of == room]
        polygons.append(shapely.geometry.polygon.orient(Polygon(own[0], own[1:])))
    return tuple(polygons)


def straightened(rings: list[list[Vertex]]) -> list[list[Vertex]]:
    """Rings without the vertices that are straight, and between the same neighbours, in all of
    the rings that have them."""
    rings = [list(ring) for ring in rings]
    places: dict[Vertex, set[int]] = defaultdict(set)
    for index, ring in enumerate(rings):
        for vertex in ring:
            places[vertex].add(index)
    changed = True
    while changed:
        changed = False
        for vertex in sorted(places):
            neighbours = []
            straight = True
            for index in places[vertex]:
                ring = rings[index]
                if ring.count(vertex) != 1 or len(ring) <= 3:
                    straight = False
                    break
                k = ring.index(vertex)
                before, after = ring[k - 1], ring[(k + 1) % len(ring)]
                neighbours.append({before, after})
                straight &= _is_between(before, vertex, after)
            if straight and all(pair == neighbours[0] for pair in neighbours):
                for index in places[vertex]:
                    rings[index].remove(vertex)
                del places[vertex]
                changed = True
    return rings


def _is_between(before: Vertex, vertex: Vertex, after: Vertex) -> bool:
    ax, ay = vertex[0] - before[0], vertex[1] - before[1]
    bx, by = after[0] - vertex[0], after[1] - vertex[1]
    chord = np.hypot(ax + bx, ay + by)
    return bool(ax * bx + ay * by > 0 and abs(ax * by - ay * bx) <= STRAIGHT_M * chord)


def ring_of_segment(polygon: Polygon) -> list[Ints]:
    """The places of each ring's stretches among `segments`, in order."""
    counts = [len(ring.coords) - 1 for ring in (polygon.exterior, *polygon.interiors)]
    return np.split(np.arange(sum(counts)), np.cumsum(counts)[:-1])


def segments(polygon: Polygon) -> Floats:
    """The boundary's straight stretches ``(n, 2, 2)``, the room on their left."""
    parts = []
    for ring in (polygon.exterior, *polygon.interiors):
        xy = np.asarray(ring.coords)
        parts.append(np.stack([xy[:-1], xy[1:]], axis=1))
    return np.concatenate(parts)
