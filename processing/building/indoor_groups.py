# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups of rooms that nothing ties to each other, each put on the map by its own geotags."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from .indoor_model import Doorway, Space

ACROSS_M2 = 0.05
"""Rooms of two groups share more than this only when one of the groups lies wrong."""


def clear_of_each_other(
    spaces: Sequence[Space], doorways: Sequence[Doorway]
) -> tuple[list[Space], list[Doorway], list[str]]:
    """Rooms and doorways without the groups whose rooms lie across those of a larger one, and the
    names of the rooms that are left out: geotags place a group to a metre or two, and units of a
    map must not lie across each other."""
    area: dict[int, float] = {}
    for space in spaces:
        area[space.group] = area.get(space.group, 0.0) + space.polygon.area
    kept: list[Space] = []
    for group in sorted(area, key=lambda number: (-area[number], number)):
        own = [space for space in spaces if space.group == group]
        if not any(_across(space, other) for space in own for other in kept):
            kept += own
    there = {space.id for space in kept}
    gone = {space.id for space in spaces} - there
    doors = [door for door in doorways if not gone & {door.room_a, door.room_b} - {""}]
    return (
        [space for space in spaces if space.id in there],
        doors,
        [space.name for space in spaces if space.id in gone],
    )


def _across(one: Space, other: Space) -> bool:
    if one.level != other.level or not shapely.intersects(one.polygon, other.polygon):
        return False
    return bool(one.polygon.intersection(other.polygon).area > ACROSS_M2)
