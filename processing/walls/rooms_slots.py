# SPDX-License-Identifier: GPL-2.0-or-later
"""Slots between walls and what stands before them.

A cupboard stands a little off its wall (a plinth, a skirting board, a pipe): where its side comes
up to the wall, some beams enter the slot and end on the wall behind it. A pier or a shaft grows out
of the wall, and no beam gets past the corner. So a reading that lies on the wall's line and beyond
the side's, by more than its errors and those of the two lines, is evidence that the wall goes on
behind something that stands free of it; and what stands free counts to the room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..angles import Floats
from ..captures.faces_fit import noise_of
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .arrangement import Arrangement
from .arrangement_pieces import Piece, Pieces
from .curve_model import Curves
from .model import WallFaces
from .rooms_blocks import Block, blocks
from .rooms_furniture import UNSEEN_SHARE
from .rooms_seen import SAME_FACE_M

WIDEST_SLOT_M = 0.06
"""What stands further from its wall shows it as a wall that goes on."""
NEAR_M = 0.6
"""So much of a wall and of what stands before it is looked at where they meet."""
FEWEST = 3
"""So many readings tell where a line lies."""
BEYOND = 4.0
"""A reading past the corner by so many standard errors is none of the corner (one in 30,000)."""
ROUGH_M = 0.002
"""What plaster and edges depart from their lines at a corner (1 sigma; common practice: a few
millimetres)."""
COVERED = 0.9
"""A block is given to its room when the cells in it make up this share of its area."""
ROUNDS = 3
"""Behind one cupboard another one may come to light."""


@dataclass(frozen=True, eq=False)
class Readings:
    """The usable ring readings of a group in the plan frame, from west to east: where they lie
    ``(n, 2)``, where they were taken from ``(n, 2)``, the wall face of each ``(n,)`` or -1, and
    standard errors ``(n,)`` along the beam and across it, their stations' included."""

    xy_m: Floats
    station_m: Floats
    wall: Ints
    sigma_along_m: Floats
    sigma_across_m: Floats

    @classmethod
    def of(cls, survey: Survey, network: Network, walls: WallFaces, stations: Ints) -> Readings:
        """The readings of these stations."""
        pose = np.nan_to_num(network.sigma())
        rows = [np.empty((0, 7))]
        for s in stations.tolist():
            capture = survey.captures[s]
            at = np.flatnonzero(capture.usable_ring & np.isfinite(capture.distance_m))
            noise = noise_of(capture)
            place = float(np.hypot(pose[s, 0], pose[s, 1]))
            along = np.full(len(at), np.hypot(noise.distance_m, place))
            turned = np.hypot(noise.angle_rad, pose[s, 2]) * capture.distance_m[at]
            xy_m = network.to_plan(s, capture.xy_m[at])
            station_m = np.broadcast_to(network.xy_m[s], xy_m.shape)
            wall = walls.wall_of_reading[s][at]
            across = np.hypot(turned, place)
            rows.append(np.column_stack([xy_m, station_m, wall, along, across]))
        both = np.concatenate(rows)
        both = both[np.argsort(both[:, 0], kind="stable")]
        return cls(both[:, :2], both[:, 2:4], both[:, 4].astype(np.int64), both[:, 5], both[:, 6])

    def around(self, point_m: Floats, reach_m: float) -> Readings:
        """Those in a square around a point."""
        first, last = np.searchsorted(self.xy_m[:, 0], [point_m[0] - reach_m, point_m[0] + reach_m])
        near = first + np.flatnonzero(np.abs(self.xy_m[first:last, 1] - point_m[1]) <= reach_m)
        return Readings(
            self.xy_m[near],
            self.station_m[near],
            self.wall[near],
            self.sigma_along_m[near],
            self.sigma_across_m[near],
        )


def with_what_stands_free(
    arrangement: Arrangement,
    rooms: Ints,
    polygons: Sequence[shapely.Polygon],
    free: Floats,
    pieces: Pieces,
    curves: Curves,
    readings: Readings,
    progress: Progress = SILENT,
) -> Ints:
    """The rooms ``(C,)`` with what stands in their corners or before their walls and is parted from
    these by a slot; `polygons` are the rooms' outlines, `free (C,)` the share seen of each cell."""
    unknown = np.flatnonzero((rooms < 0) & ~arrangement.frame & (free < UNSEEN_SHARE))
    if not len(unknown):
        return rooms
    tree = shapely.STRtree(shapely.point_on_surface(arrangement.cells[unknown]))
    result = rooms.copy()
    for room, polygon in enumerate(progress.over(polygons)):
        for block in blocks(polygon, curves):
            if not stands_free(block, pieces, readings):
                continue
            outline = shapely.make_valid(shapely.Polygon(block.outline_m))
            inside = unknown[tree.query(outline, predicate="contains")]
            if arrangement.area_m2[inside].sum() >= COVERED * block.area_m2:
                result[inside] = room
    return result


def stands_free(block: Block, pieces: Pieces, readings: Readings) -> bool:
    """Whether readings show a slot between a block and one of the walls at its ends."""
    chain = block.chain_m
    return _slot(block.before_m, chain[0], chain[1], False, pieces, readings) or _slot(
        block.after_m, chain[-1], chain[-2], True, pieces, readings
    )


def _slot(
    wall_m: Floats,
    corner_m: Floats,
    face_m: Floats,
    after: bool,
    pieces: Pieces,
    readings: Readings,
) -> bool:
    """Whether readings went past the corner between a wall, which comes from ``wall_m``, and a face
    that leads to ``face_m``; `after` says that the wall follows the face in the outline."""
    step = (corner_m - wall_m) / np.hypot(*(corner_m - wall_m))
    inward = np.array([-step[1], step[0]]) * (-1.0 if after else 1.0)
    face = face_m - corner_m
    if float(face @ inward) < 0.5 * np.hypot(*face):
        return False
    slant = float(face @ step) / float(face @ inward)
    near = readings.around(corner_m, NEAR_M)
    edges = ((wall_m, corner_m), (corner_m, face_m))
    if after:
        edges = ((corner_m, wall_m), (face_m, corner_m))
    own, other = (np.isin(near.wall, _walls_on(*edge, pieces)) for edge in edges)
    if min(own.sum(), other.sum()) < FEWEST:
        return False
    # ahead of the face, and before the wall, as measured: what is drawn may have been moved
    before = (near.xy_m - corner_m) @ inward
    before = before - np.median(before[own])
    ahead = (near.xy_m - corner_m) @ step - slant * before
    ahead = ahead - np.median(ahead[other])
    ray = near.xy_m - near.station_m
    reach = np.hypot(ray[:, 0], ray[:, 1])
    along, across = ray @ step / reach, ray @ inward / reach
    sigma_before = np.hypot(near.sigma_along_m * across, near.sigma_across_m * along)
    sigma_ahead = np.hypot(near.sigma_along_m * along, near.sigma_across_m * across)
    on_wall = np.abs(before) <= BEYOND * np.hypot(sigma_before, ROUGH_M)
    past = ahead > BEYOND * np.hypot(sigma_ahead, ROUGH_M)
    with np.errstate(divide="ignore", invalid="ignore"):
        entered = before - ahead * across / (along - slant * across)
    through = (along > slant * across) & (across < 0.0)
    through &= (entered > -ROUGH_M) & (entered < WIDEST_SLOT_M)
    return bool((on_wall & past & through).any())


def _walls_on(start: Floats, end: Floats, pieces: Pieces) -> Ints:
    """The wall faces that readings back along an edge of a counterclockwise outline."""
    step = (end - start) / np.hypot(*(end - start))
    inward = np.array([-step[1], step[0]])
    near = pieces.near(Piece.BACKED, start, end, SAME_FACE_M)
    aside = np.abs((pieces.ends_m[near] - start) @ inward).max(axis=1, initial=0.0)
    fits = (aside <= SAME_FACE_M) & (pieces.normal[near] @ inward > 0.98)
    return np.unique(pieces.wall[near[fits]])
