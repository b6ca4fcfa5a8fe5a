# SPDX-License-Identifier: GPL-2.0-or-later
"""Gaps in walls and what stands at their ends."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..angles import Floats, along
from .arrangement_pieces import CORNER_M, Pieces
from .free_space import FreeSpace
from .model import WallFaces

THICKEST_WALL_M = 0.65
THINNEST_WALL_M = 0.03
BEGINS_M = 0.04
NEARBY_M = 1.0
"""What stands further from the end of a gap is no part of its jamb."""
TRANSVERSE = 0.35
"""Cosine between normals up to which two faces count as transverse."""
ASLANT = 0.97
"""The same for a wall that passes the end of a gap: where a corridor turns, it does so aslant."""
BEFORE_M = 0.15
"""A jamb begins no further before the wall or behind its face than this; what began before it is a
wall that passes by."""

LONGEST_LEAF_M = 1.25
"""A wall that passes the end of a gap is longer than a leaf that stands open there."""
HUNG_M = 0.006
"""What a jamb and the leaf that stands open behind it, taken for one face, differ by (1 sigma;
common practice: a leaf hangs up to a centimetre off its jamb)."""


@dataclass(frozen=True, eq=False)
class Gap:
    """A gap from `start_m` to `end_m` along a wall's direction (free side to the right).

    `kind` is ``doorway``, ``window``, ``niche`` or ``unseen`` (they bound a room) or ``open``: open
    plan; `wall` the faces at both ends; `thickness_m` how deep the jambs are (NaN: not seen);
    `cornered` whether one jamb is a wall of the room.
    """

    start_m: Floats
    end_m: Floats
    normal: Floats
    wall: tuple[int, int]
    sigma_m: float
    kind: str
    thickness_m: float
    cornered: bool = False

    @property
    def bounds(self) -> bool:
        return self.kind != "open"

    @cached_property
    def width_m(self) -> float:
        return float(np.hypot(*(self.end_m - self.start_m)))

    @cached_property
    def step(self) -> Floats:
        return (self.end_m - self.start_m) / self.width_m

    def place(self, points_m: Floats) -> Floats:
        """Points ``(n, 2)`` as (along the gap from its start, behind its wall) ``(n, 2)``."""
        offset = points_m - self.start_m
        return np.column_stack([offset @ self.step, -(offset @ self.normal)])


@dataclass(frozen=True)
class Jamb:
    """What stands at one end of a gap: a jamb (`sign` 1), a wall that goes on (-1), nothing known
    (0). `shift_m` is how far into the gap, from its end, the jamb's face crosses the wall's line,
    with the standard error `sigma_m`; NaN where nothing was seen of it."""

    sign: int
    shift_m: float
    sigma_m: float
    depth_m: float


def jamb_at(gap: Gap, end: int, walls: WallFaces, pieces: Pieces, free: FreeSpace) -> Jamb:
    """What stands at the start (0) or end (1) of a gap."""
    inward = gap.step if end == 0 else -gap.step
    corner = gap.start_m if end == 0 else gap.end_m
    backed = pieces.backed_near(corner, corner, NEARBY_M)
    offset = pieces.ends_m[backed] - corner
    ahead = offset @ inward
    behind = -(offset @ gap.normal)
    facing = pieces.normal[backed] @ inward
    across = np.abs(pieces.normal[backed] @ gap.normal)
    low, high = behind.min(axis=1), behind.max(axis=1)
    # where the jamb's line meets the wall's line
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (ahead[:, 1] - ahead[:, 0]) / (behind[:, 1] - behind[:, 0])
        meets = ahead[:, 0] - behind[:, 0] * slope
    meeting = (low < BEFORE_M) & (high > THINNEST_WALL_M) & (np.abs(meets) < CORNER_M)
    jamb = meeting & (low > -BEFORE_M) & (across < TRANSVERSE) & (facing > 0.8)
    if jamb.any():
        choice = backed[jamb]
        # The jamb begins at the wall's face; a leaf that stands open goes on where it ends.
        begins = np.round(np.maximum(low[jamb], 0.0) / BEGINS_M)
        longest = int(np.lexsort((-high[jamb], begins))[0])
        depth = float(high[jamb][longest])
        sigma = _sigma_at(corner, choice[longest], walls, pieces)
        shift = float(meets[jamb][longest])
        if depth > THICKEST_WALL_M:
            return Jamb(-1, shift, float(np.hypot(sigma, HUNG_M)), float("nan"))
        askew = 0.5 * depth * float(across[jamb][longest])
        return Jamb(1, shift, float(np.hypot(sigma, askew)), depth)
    goes_on = high - low > LONGEST_LEAF_M
    passing = np.flatnonzero(meeting & goes_on & (across < ASLANT) & (facing > 0.0))
    if len(passing):
        nearest = passing[int(np.argmin(np.abs(meets[passing])))]
        sigma = _sigma_at(corner, backed[nearest], walls, pieces)
        return Jamb(-1, float(meets[nearest]), sigma, float("nan"))
    middle = behind.mean(axis=1)
    other_side = (
        (pieces.normal[backed] @ gap.normal < -0.95)
        & (middle > THINNEST_WALL_M)
        & (middle < THICKEST_WALL_M)
        & (np.abs(ahead.max(axis=1)) < 2 * CORNER_M)
    )
    if other_side.any():
        return Jamb(1, *_edge(gap, end, free), float(middle[other_side].min()))
    return Jamb(0, *_edge(gap, end, free), float("nan"))


def _sigma_at(corner: Floats, piece: int, walls: WallFaces, pieces: Pieces) -> float:
    """The standard error of a piece's line at the end of a gap."""
    wall = int(pieces.wall[piece, 0])
    lever = float((corner - walls.centre_m[wall]) @ along(walls.normal_rad[wall]))
    return float(np.hypot(walls.sigma_offset_m[wall], lever * walls.sigma_normal_rad[wall]))


def _edge(gap: Gap, end: int, free: FreeSpace) -> tuple[float, float]:
    """Where a wall without a jamb's face ends, into the gap, and its standard error: anywhere
    between the last reading on it and the first one past it (a uniform distribution)."""
    crossed = free.crossings(gap.start_m, gap.end_m)
    if not len(crossed):
        return float("nan"), float("nan")
    first = float(crossed[0] if end == 0 else gap.width_m - crossed[-1])
    return first / 2.0, first / np.sqrt(12.0)
