# SPDX-License-Identifier: GPL-2.0-or-later
"""How far storeys and the building reach: rooms, the walls between them, the walls around."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon

from ..site.footprint import outline_of
from .indoor_model import Space

GROUND, AERIAL, SUBTERRANEAN = "ground", "aerial", "subterranean"
NO_WALL_M = 1e-3
"""Growing by next to nothing leaves nothing."""

CLEAN_M = 1e-4

BEYOND_M2 = 0.01
"""An upper storey reaches beyond the ground floor when more than this does."""


def storey_extents(
    spaces: Sequence[Space], outer_wall_m: float
) -> dict[int, Polygon | MultiPolygon]:
    """The extent of each storey to the outside of its walls, lowest first: the rooms with the inner
    walls between them (`site.footprint.outline_of`), grown by the thickness of the outer walls.
    What is enclosed counts, since the standard wants the extent of the facade."""
    extents = {}
    for level in sorted({space.level for space in spaces}):
        rooms = [space.polygon for space in spaces if space.level == level]
        parts = [part for room in rooms for part in shapely.get_parts(room)]
        together = shapely.union_all([outline_of(parts), *rooms])
        if outer_wall_m > NO_WALL_M:
            # Vertices next to each other have no direction to mitre.
            clean = together.simplify(CLEAN_M)
            together = shapely.union(together, clean.buffer(outer_wall_m, join_style="mitre"))
        extents[level] = filled(together)
    return extents


def filled(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """The shape without holes."""
    rings = [Polygon(part.exterior) for part in shapely.get_parts(shape)]
    return shapely.union_all(rings)


def enclosed_m2(spaces: Sequence[Space], extent: Polygon | MultiPolygon) -> float:
    """The largest enclosed area of a storey that no room has (m2); 0 where there is none. Walls
    are not counted: gaps narrower than an inner wall close."""
    rooms = [part for space in spaces for part in shapely.get_parts(space.polygon)]
    holes = [
        Polygon(ring).area
        for part in shapely.get_parts(outline_of(rooms))
        for ring in part.interiors
        if extent.contains(Polygon(ring))
    ]
    return max(holes, default=0.0)


def on_boundary(
    line: LineString, rooms: Sequence[Polygon | MultiPolygon]
) -> tuple[LineString, float]:
    """A doorway's line with its ends on the boundary of the room whose boundary is nearest to both,
    and how far they were moved (m). The plan has it on the face of the wall, which a room follows
    but for what generalising and corners did."""
    ends = shapely.points(shapely.get_coordinates(line)[[0, -1]])
    best, moved = line, float("inf")
    for room in rooms:
        nearest = shapely.get_point(shapely.shortest_line(room.boundary, ends), 0)
        furthest = float(shapely.distance(nearest, ends).max())
        if furthest < moved:
            best, moved = LineString(shapely.get_coordinates(nearest)), furthest
    return best, moved


def footprints(
    extents: Mapping[int, Polygon | MultiPolygon],
) -> dict[str, Polygon | MultiPolygon]:
    """The building's footprints by category, of those that it has: on the ground (ordinal 0, else
    the lowest storey above), seen from above where upper storeys reach further, below ground."""
    above = [level for level in extents if level >= 0]
    found = {}
    if above:
        found[GROUND] = extents[min(above)]
        whole = filled(shapely.union_all([extents[level] for level in above]))
        if whole.difference(found[GROUND]).area > BEYOND_M2:
            found[AERIAL] = whole
    below = [extents[level] for level in extents if level < 0]
    if below:
        found[SUBTERRANEAN] = filled(shapely.union_all(below))
    return found
