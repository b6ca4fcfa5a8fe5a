# SPDX-License-Identifier: GPL-2.0-or-later
"""Open leaves and jambs: no walls that another doorway could be hung on.

A leaf that stands open is a straight face as long as its doorway is wide; with the jamb it hangs on
it looks like a wall that ends before the next one. Neither closes a room.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from ..angles import Floats
from .arrangement_pieces import Pieces
from .openings_jambs import THICKEST_WALL_M, Gap

HINGE_M = 0.15
"""A leaf or jamb begins this near to the end of its doorway."""
UNKNOWN_DEPTH_M = 0.25
"""Taken where nobody saw how thick the wall is (an assumption)."""
LEAF_M = 1.2
"""Leaves are no longer than this (common practice), with the jamb behind it."""
FARTHEST_M = LEAF_M + THICKEST_WALL_M + 2 * HINGE_M
"""No leaf or jamb of a doorway ends further from it."""
ACROSS = 0.64
"""Cosine between a doorway and its leaf when that stands open (by 50 degrees at least)."""


def without_leaves(gaps: tuple[Gap, ...], pieces: Pieces) -> tuple[Gap, ...]:
    """The gaps without those that hang on an open leaf or a jamb of a plain doorway or
    window."""
    doors = [g for g in gaps if g.kind in ("doorway", "window") and not g.cornered]
    ends = _ends_of_walls(pieces)
    reach = max((door.width_m for door in doors), default=0.0) + FARTHEST_M
    near = cKDTree(np.array([_middle(door) for door in doors]).reshape(-1, 2))
    result = []
    for gap in gaps:
        around = near.query_ball_point(_middle(gap), reach + gap.width_m, return_sorted=True)
        others = (doors[k] for k in around if doors[k] is not gap)
        hung = any(_hangs(gap, door, ends) for door in others)
        if not hung:
            result.append(gap)
        elif not gap.cornered:
            result.append(replace(gap, kind="open"))
    return tuple(result)


def _middle(gap: Gap) -> Floats:
    return 0.5 * (gap.start_m + gap.end_m)


def _ends_of_walls(pieces: Pieces) -> dict[int, Floats]:
    """From where to where each wall is backed ``(2, 2)``."""
    found: dict[int, Floats] = {}
    for p in pieces.backed:
        wall, ends = int(pieces.wall[p, 0]), pieces.ends_m[p]
        before = found.get(wall)
        if before is None:
            found[wall] = ends.copy()
        else:
            both = np.concatenate([before, ends])
            along = both @ pieces.direction[p]
            found[wall] = both[[int(np.argmin(along)), int(np.argmax(along))]]
    return found


def _hangs(gap: Gap, door: Gap, ends: dict[int, Floats]) -> bool:
    """Whether one of the walls at a gap's ends is the leaf or a jamb of a doorway."""
    if abs(float(gap.normal @ door.normal)) > ACROSS:
        return False
    return any(_is_hung(ends[wall], door) for wall in set(gap.wall) if wall in ends)


def _is_hung(ends_m: Floats, door: Gap) -> bool:
    length = float(np.hypot(*(ends_m[1] - ends_m[0])))
    depth = door.thickness_m if np.isfinite(door.thickness_m) else UNKNOWN_DEPTH_M
    if length > LEAF_M + depth:
        return False
    place = door.place(ends_m)
    beside = np.minimum(np.abs(place[:, 0]), np.abs(place[:, 0] - door.width_m)) < HINGE_M
    level = (place[:, 1] > -HINGE_M) & (place[:, 1] < depth + HINGE_M)
    return bool((beside & level).any())
