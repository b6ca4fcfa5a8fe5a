# SPDX-License-Identifier: GPL-2.0-or-later
"""Which wall faces bound a room: the others are furniture, or were seen through glass or a door."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from ..progress import SILENT, Progress
from .model import Openings, Rooms, WallFaces

NEAR_M = 0.02
"""Rooms are bounded by the faces' own lines; this covers corners that were closed."""

REVEAL_M = 0.05
"""How far a door's reveal may reach beyond the wall's thickness (frames, stops)."""

UNKNOWN_THICKNESS_M = 0.25
"""Taken where only one side of the wall was seen (an assumption)."""

ENOUGH_M = 0.3


def bounds_room(
    walls: WallFaces, rooms: Rooms, openings: Openings, progress: Progress = SILENT
) -> NDArray[np.bool_]:
    """Whether each face ``(W,)`` runs along a room's boundary or in the reveal of an opening, for
    at least half of its length or 0.3 m. Raises `Cancelled`."""
    found = np.zeros(len(walls), dtype=bool)
    faces = shapely.linestrings(walls.drawn_m) if len(walls) else np.empty(0, dtype=object)
    places = np.column_stack([walls.level, walls.network])
    for level, network in np.unique(places, axis=0):
        chosen = np.flatnonzero((places == (level, network)).all(axis=1))
        regions = _regions(int(level), int(network), rooms, openings)
        face, region = shapely.STRtree(regions).query(faces[chosen], predicate="intersects")
        order = np.argsort(face, kind="stable")
        each, start = np.unique(face[order], return_index=True)
        for k, near in progress.over(list(zip(each, np.split(region[order], start[1:])))):
            with np.errstate(invalid="ignore"):  # older GEOS leaves the flag set for no reason
                along = shapely.intersection(faces[chosen[k]], shapely.union_all(regions[near]))
            least = min(ENOUGH_M, 0.5 * walls.length_m[chosen[k]])
            found[chosen[k]] = shapely.length(along) >= least
    return found & (walls.length_m > 0)


def _regions(level: int, network: int, rooms: Rooms, openings: Openings) -> NDArray[np.object_]:
    """Where faces of a storey and group count as bounding."""
    here = np.flatnonzero((rooms.level == level) & (rooms.network == network))
    outlines = [rooms.polygon[i].boundary for i in here]
    parts = list(shapely.buffer(outlines, NEAR_M, cap_style="flat")) if outlines else []
    for i in np.flatnonzero((openings.level == level) & (openings.network == network)):
        if openings.kind[i] == "unseen":
            continue
        thickness = openings.wall_thickness_m[i]
        depth = (thickness if np.isfinite(thickness) else UNKNOWN_THICKNESS_M) + REVEAL_M
        parts.append(openings.line[i].buffer(depth))
    return np.array(parts, dtype=object)
