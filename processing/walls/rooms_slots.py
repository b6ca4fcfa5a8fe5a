# SPDX-License-Identifier: GPL-2.0-or-later
"""Slots between walls and what stands before them.

A cupboard stands a little off its wall (a plinth, a skirting board, a pipe): where its side comes
up to the wall, some beams enter the slot and end on the wall behind it. A pier or a shaft grows out
of the wall, and no beam gets past the corner. So a reading that lies on the wall's line and beyond
the side's, by more than its errors and those of the two lines, is evidence that the wall goes on
behind something that stands free of it; a reading low on the side, which would have got past
through a slot, is evidence of the contrary. Where the sides were seen too little for either, it is
taken for furniture, of which rooms hold more than of shafts (common practice); the standard error
of the area holds the doubt. What stands free counts to the room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

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
from .rooms_furniture import WallsBefore
from .rooms_seen import SAME_FACE_M

SKIRTING_M = 0.02
"""The thickness of a skirting board (common practice: 10 to 20 mm): what stands before a wall
leaves such a slot."""
SHALLOWEST_FURNITURE_M = 0.15
"""What stands out less is rather a part of its wall (common practice: shelves are 0.2 m and
more)."""
NEAR_M = 0.6
"""So much of a wall and of what stands before it is looked at where they meet."""
FEWEST = 3
"""So many readings tell where a line lies."""
BEYOND = 4.0
"""A reading past the corner by so many standard errors is none of the corner (one in 30,000)."""
STOPPED = 3.0
"""A reading tells of a slot's absence where it would lie so many standard errors further, had
there been one, and lies nearer to the side than to that."""
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
    walls: WallsBefore,
    pieces: Pieces,
    curves: Curves,
    readings: Readings,
    progress: Progress = SILENT,
) -> tuple[Ints, list[tuple[int, Block]]]:
    """The rooms ``(C,)`` with what stands in their corners or before their walls and is not known
    to be fixed to these (`standing`), and what of this is not known to stand free, with the
    room of each; `polygons` are the rooms' outlines; what stands behind the `walls` of another room
    is a part of these."""
    unknown = np.flatnonzero((rooms < 0) & ~arrangement.frame)
    untold: list[tuple[int, Block]] = []
    if not len(unknown):
        return rooms, untold
    tree = shapely.STRtree(shapely.point_on_surface(arrangement.cells[unknown]))
    result = rooms.copy()
    for room, polygon in enumerate(progress.over(polygons)):
        for block in blocks(polygon, curves):
            stands = standing(block, pieces, readings)
            shallow = block.depth_m < SHALLOWEST_FURNITURE_M
            if stands is Standing.FIXED or (stands is Standing.UNTOLD and shallow):
                continue
            outline = shapely.make_valid(shapely.Polygon(block.outline_m))
            inside = unknown[tree.query(outline, predicate="contains")]
            inside = inside[~walls.of_others(inside, room)]
            if arrangement.area_m2[inside].sum() >= COVERED * block.area_m2:
                result[inside] = room
                if stands is Standing.UNTOLD:
                    untold.append((room, block))
    return result, untold


class Standing(Enum):
    """How something stands at a wall."""

    FREE = "free"
    FIXED = "fixed"
    UNTOLD = "untold"


def standing(block: Block, pieces: Pieces, readings: Readings) -> Standing:
    """How a block stands at the walls at its ends: free where readings show a slot at one, fixed
    where they show that there is none."""
    chain = block.chain_m
    ends = (
        _at_corner(block.before_m, chain[0], chain[1], False, pieces, readings),
        _at_corner(block.after_m, chain[-1], chain[-2], True, pieces, readings),
    )
    if Standing.FREE in ends:
        return Standing.FREE
    return Standing.FIXED if Standing.FIXED in ends else Standing.UNTOLD


def _at_corner(
    wall_m: Floats,
    corner_m: Floats,
    face_m: Floats,
    after: bool,
    pieces: Pieces,
    readings: Readings,
) -> Standing:
    """What readings tell of the corner between a wall, which comes from ``wall_m``, and a face that
    leads to ``face_m``; `after` says that the wall follows the face in the outline."""
    step = (corner_m - wall_m) / np.hypot(*(corner_m - wall_m))
    inward = np.array([-step[1], step[0]]) * (-1.0 if after else 1.0)
    face = face_m - corner_m
    if float(face @ inward) < 0.5 * np.hypot(*face):
        return Standing.UNTOLD
    slant = float(face @ step) / float(face @ inward)
    near = readings.around(corner_m, max(NEAR_M, float(np.hypot(*face))))
    edges = ((wall_m, corner_m), (corner_m, face_m))
    if after:
        edges = ((corner_m, wall_m), (face_m, corner_m))
    own, other = (np.isin(near.wall, _walls_on(*edge, pieces)) for edge in edges)
    if other.sum() < FEWEST:
        return Standing.UNTOLD
    # before the wall, and ahead of the face, as measured: what is drawn may have been moved
    before = (near.xy_m - corner_m) @ inward
    known = own.sum() >= FEWEST
    before = before - np.median(before[own]) if known else before
    ahead = (near.xy_m - corner_m) @ step - slant * before
    ahead = ahead - np.median(ahead[other])
    ray = near.xy_m - near.station_m
    reach = np.hypot(ray[:, 0], ray[:, 1])
    along, across = ray @ step / reach, ray @ inward / reach
    sigma_before = np.hypot(near.sigma_along_m * across, near.sigma_across_m * along)
    sigma_ahead = np.hypot(near.sigma_along_m * along, near.sigma_across_m * across)
    doubt = np.hypot(sigma_ahead, ROUGH_M)
    with np.errstate(divide="ignore", invalid="ignore"):
        entered = before - ahead * across / (along - slant * across)
        # where the wall stops a beam that enters so high
        stopped = entered * (along - slant * across) / -across
    through = (along > slant * across) & (across < 0.0) & (entered > -ROUGH_M)
    # the face begins where it was seen first: no beam went through it further from the wall
    begins = float(before[other].min())
    on_wall = np.abs(before) <= BEYOND * np.hypot(sigma_before, ROUGH_M)
    if known and (on_wall & (ahead > BEYOND * doubt) & through & (entered < begins)).any():
        return Standing.FREE
    low = through & (entered <= SKIRTING_M) & (stopped > STOPPED * doubt)
    low &= np.abs(ahead) < 0.5 * stopped
    return Standing.FIXED if low.any() else Standing.UNTOLD


def _walls_on(start: Floats, end: Floats, pieces: Pieces) -> Ints:
    """The wall faces that readings back along an edge of a counterclockwise outline."""
    step = (end - start) / np.hypot(*(end - start))
    inward = np.array([-step[1], step[0]])
    near = pieces.near(Piece.BACKED, start, end, SAME_FACE_M)
    aside = np.abs((pieces.ends_m[near] - start) @ inward).max(axis=1, initial=0.0)
    fits = (aside <= SAME_FACE_M) & (pieces.normal[near] @ inward > 0.98)
    return np.unique(pieces.wall[near[fits]])
