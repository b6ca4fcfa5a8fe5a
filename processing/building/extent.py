# SPDX-License-Identifier: GPL-2.0-or-later
"""Which part of a maintained layer the survey reaches."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from .model import RoomSet

NEAR_M = 1.0
"""An old room this near to a new one belongs to the building that was surveyed."""


def surveyed(a: RoomSet, b: RoomSet, rooms: list[int], footprint: Any = None) -> dict[int, str]:
    """For each of these old rooms ``inside`` (within the outline of the new rooms of its storey, or
    mostly within the footprint), ``near`` or ``outside``."""
    found: dict[int, str] = {}
    for level in np.unique(a.level[rooms]) if rooms else ():
        own = [i for i in rooms if a.level[i] == level]
        there = b.polygon[b.level == level]
        if not len(there):
            found.update(dict.fromkeys(own, "outside"))
            continue
        reach = footprint if footprint is not None else shapely.union_all(_filled(there))
        for i in own:
            shape = a.polygon[i]
            if shapely.area(shapely.intersection(shape, reach)) > 0.5 * shapely.area(shape):
                found[i] = "inside"
            else:
                near = footprint is None and shapely.dwithin(shape, reach, NEAR_M)
                found[i] = "near" if near else "outside"
    return found


def _filled(shapes: np.ndarray) -> np.ndarray:
    """Outlines without their holes, walls between rooms closed."""
    wide = shapely.union_all(shapely.buffer(shapes, NEAR_M / 2.0, join_style="mitre"))
    parts = [shapely.Polygon(part.exterior) for part in shapely.get_parts(wide)]
    return np.asarray(shapely.buffer(parts, -NEAR_M / 2.0, join_style="mitre"), dtype=object)
