# SPDX-License-Identifier: GPL-2.0-or-later
"""Gaps in walls: which of them are doorways, which nobody looked through, which are open plan."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit
from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import Piece, Pieces
from .free_space import FreeSpace
from .model import WallFaces

NARROWEST_DOORWAY_M = 0.6
WIDEST_DOORWAY_M = 2.5
WIDEST_DOORWAY_IN_CORNER_M = 1.3
"""Clear widths of doorways (common practice); a doorway whose one jamb is a wall of the room looks
like the end of a wall across a passage, so that only a narrow one is taken for a doorway."""
NARROWEST_SLOT_M = 0.3
THICKEST_WALL_M = 0.65
THINNEST_WALL_M = 0.03
LOOK_THROUGH = 0.4
"""A gap is looked through when readings crossed this share of its width."""
JAMB_NEAR_M = 0.12
SAME_FACE_M = 0.01
TRANSVERSE = 0.35
"""Cosine between normals up to which two faces count as transverse."""


@dataclass(frozen=True, eq=False)
class Gap:
    """A gap from `start_m` to `end_m` along a wall's direction (free side to the right).

    `kind` is ``doorway`` or ``unseen`` (both bound a room), or ``open``: open plan or a niche;
    `wall` the faces at both ends; `thickness_m` how deep the jambs are (NaN: not seen).
    """

    start_m: Floats
    end_m: Floats
    normal: Floats
    wall: tuple[int, int]
    sigma_m: float
    kind: str
    thickness_m: float

    @property
    def bounds(self) -> bool:
        return self.kind != "open"

    @property
    def width_m(self) -> float:
        return float(np.hypot(*(self.end_m - self.start_m)))

    @property
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
    with the standard error `sigma_m`; NaN without a face."""

    sign: int
    shift_m: float
    sigma_m: float
    depth_m: float


def find_gaps(walls: WallFaces, pieces: Pieces, free: FreeSpace) -> tuple[Gap, ...]:
    """The gaps of all walls, judged by what stands at their ends and what was seen through."""
    gaps = []
    for p in np.flatnonzero(pieces.kind == Piece.CLOSURE):
        start, end = pieces.ends_m[p]
        raw = Gap(
            start, end, pieces.normal[p], _pair(pieces.wall[p]), float("nan"), "open", float("nan")
        )
        before = _jamb(raw, 0, walls, pieces, float(pieces.blur_m[p, 0]))
        after = _jamb(raw, 1, walls, pieces, float(pieces.blur_m[p, 1]))
        gap = _between(raw, before, after)
        gaps.append(replace(gap, kind=_kind(gap, before.sign, after.sign, free)))
    for p in np.flatnonzero(pieces.kind == Piece.EXTENSION):
        found = _in_corner(int(p), walls, pieces, free)
        if found is not None:
            gaps.append(found)
    return tuple(gaps)


def _pair(wall: Ints) -> tuple[int, int]:
    return int(wall[0]), int(wall[1])


def _between(gap: Gap, before: Jamb, after: Jamb) -> Gap:
    """The gap from jamb face to jamb face, as far as these were seen."""
    start, end = gap.start_m, gap.end_m
    if np.isfinite(before.shift_m):
        start = start + before.shift_m * gap.step
    if np.isfinite(after.shift_m):
        end = end - after.shift_m * gap.step
    if float((end - start) @ gap.step) <= 0.05:
        start, end = gap.start_m, gap.end_m
    depths = [d for d in (before.depth_m, after.depth_m) if np.isfinite(d)]
    thickness = float(np.mean(depths)) if depths else float("nan")
    sigma = float(np.hypot(before.sigma_m, after.sigma_m))
    return replace(gap, start_m=start, end_m=end, sigma_m=sigma, thickness_m=thickness)


def _jamb(gap: Gap, end: int, walls: WallFaces, pieces: Pieces, blur_m: float) -> Jamb:
    """What stands at the start (0) or end (1) of a gap."""
    backed = np.flatnonzero(pieces.kind == Piece.BACKED)
    inward = gap.step if end == 0 else -gap.step
    corner = gap.start_m if end == 0 else gap.end_m
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
    jamb = (
        (across < TRANSVERSE)
        & (facing > 0.8)
        & (low < 0.15)
        & (high > THINNEST_WALL_M)
        & (np.abs(meets) < JAMB_NEAR_M)
    )
    if jamb.any():
        choice = backed[jamb]
        longest = int(np.argmax(high[jamb]))
        depth = float(high[jamb][longest])
        wall = int(pieces.wall[choice[longest], 0])
        lever = float((corner - walls.centre_m[wall]) @ along(walls.normal_rad[wall]))
        sigma = float(np.hypot(walls.sigma_offset_m[wall], lever * walls.sigma_normal_rad[wall]))
        shift = float(meets[jamb][longest])
        if depth <= THICKEST_WALL_M:
            return Jamb(1, shift, sigma, depth)
        return Jamb(-1, shift, sigma, float("nan"))
    middle = behind.mean(axis=1)
    other_side = (
        (pieces.normal[backed] @ gap.normal < -0.95)
        & (middle > THINNEST_WALL_M)
        & (middle < THICKEST_WALL_M)
        & (np.abs(ahead.max(axis=1)) < 2 * JAMB_NEAR_M)
    )
    if other_side.any():
        return Jamb(1, float("nan"), blur_m, float(middle[other_side].min()))
    return Jamb(0, float("nan"), blur_m, float("nan"))


def _kind(gap: Gap, before: int, after: int, free: FreeSpace) -> str:
    width = gap.width_m
    if _looked_through(gap, 0.03, free) < LOOK_THROUGH:
        return "unseen"
    if width > WIDEST_DOORWAY_M or width < NARROWEST_SLOT_M:
        return "open"
    if _looked_through(gap, THICKEST_WALL_M + 0.1, free) < 0.05:
        return "open"
    if before + after < 0 and (before == after or width > WIDEST_DOORWAY_IN_CORNER_M):
        return "open"
    return "doorway"


def _looked_through(gap: Gap, depth_m: float, free: FreeSpace) -> float:
    """The share of the gap's width where readings reached this far behind its wall."""
    count = max(int(gap.width_m / 0.02), 3)
    along_m = (np.arange(count) + 0.5) / count * gap.width_m
    points = gap.start_m + along_m[:, None] * gap.step - depth_m * gap.normal
    return free.share_free(points)


def _in_corner(p: int, walls: WallFaces, pieces: Pieces, free: FreeSpace) -> Gap | None:
    """The doorway between the end of a wall and a wall transverse to it, if there is one."""
    wall = int(pieces.wall[p, 0])
    at_end = _starts_behind(pieces, p)
    near = pieces.ends_m[p, 0 if at_end else 1]
    step = unit(walls.normal_rad[wall] - np.pi / 2) * (1.0 if at_end else -1.0)
    hit = _first_transverse(near, step, pieces)
    if hit is None:
        return None
    distance, other = hit
    if not NARROWEST_DOORWAY_M <= distance <= WIDEST_DOORWAY_IN_CORNER_M:
        return None
    reach = near + distance * step
    start, end = (near, reach) if at_end else (reach, near)
    normal = pieces.normal[p]
    raw = Gap(start, end, normal, (wall, wall), float("nan"), "open", float("nan"))
    here = _jamb(raw, 0 if at_end else 1, walls, pieces, 0.01)
    if here.sign != 1:
        return None
    lever = float((reach - walls.centre_m[other]) @ along(walls.normal_rad[other]))
    sigma = float(np.hypot(walls.sigma_offset_m[other], lever * walls.sigma_normal_rad[other]))
    there = Jamb(-1, 0.0, sigma, float("nan"))
    gap = _between(raw, here, there) if at_end else _between(raw, there, here)
    if _kind(gap, 1, -1, free) != "doorway":
        return None
    return replace(gap, kind="doorway")


def _starts_behind(pieces: Pieces, p: int) -> bool:
    """Whether an extension continues the end of its wall (else it leads up to the start)."""
    backed = (pieces.kind == Piece.BACKED) & (pieces.wall[:, 0] == pieces.wall[p, 0])
    return bool((np.abs(pieces.ends_m[backed, 1] - pieces.ends_m[p, 0]).max(axis=1) < 1e-9).any())


def _first_transverse(near: Floats, step: Floats, pieces: Pieces) -> tuple[float, int] | None:
    """Distance to the first backed piece across a ray and its wall."""
    backed = np.flatnonzero(pieces.kind == Piece.BACKED)
    normal = pieces.normal[backed]
    slope = normal @ step
    offset = pieces.ends_m[backed, 0] - near
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.einsum("ij,ij->i", offset, normal) / slope
        at = near + distance[:, None] * step - pieces.ends_m[backed, 0]
    place = np.einsum("ij,ij->i", at, pieces.direction[backed])
    hits: NDArray[np.bool_] = (
        (slope < -0.8) & (distance > 0.1) & (place > -0.1) & (place < pieces.length_m[backed] + 0.1)
    )
    if not hits.any():
        return None
    nearest = backed[hits][int(np.argmin(distance[hits]))]
    return float(distance[hits].min()), int(pieces.wall[nearest, 0])


def separating_edges(
    arrangement: Arrangement, pieces: Pieces, gaps: tuple[Gap, ...]
) -> NDArray[np.bool_]:
    """Which edges ``(E,)`` close a gap that bounds rooms: those in the gap itself and, in a
    doorway, those on the wall's other side."""
    middle = arrangement.middle_m
    way = arrangement.node_m[arrangement.edge[:, 1]] - arrangement.node_m[arrangement.edge[:, 0]]
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    edge, piece = arrangement.piece.T
    found = np.zeros(len(middle), dtype=bool)
    for gap in gaps:
        if not gap.bounds:
            continue
        place = gap.place(middle)
        within = (place[:, 0] > -JAMB_NEAR_M) & (place[:, 0] < gap.width_m + JAMB_NEAR_M)
        level = np.abs(way @ gap.normal) < 0.1
        found |= within & level & (np.abs(place[:, 1]) < 1e-4)
        if gap.kind != "doorway":
            continue
        beyond = within & (np.abs(place[:, 1] - _far_side(gap, pieces)) < SAME_FACE_M)
        facing_away = pieces.normal[piece] @ gap.normal < -0.95
        far = np.zeros(len(middle), dtype=bool)
        far[edge[facing_away]] = True
        found |= beyond & far
    return found


def _far_side(gap: Gap, pieces: Pieces) -> float:
    """How deep behind a doorway the wall's other face lies: that of the faces at about the jambs'
    depth which is nearest to the doorway; NaN if none is."""
    backed = (pieces.kind == Piece.BACKED) & (pieces.normal @ gap.normal < -0.95)
    ends = pieces.ends_m[backed]
    if not len(ends) or not np.isfinite(gap.thickness_m):
        return float("nan")
    place = gap.place(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    along_m, depth = place[..., 0], place[..., 1].mean(axis=1)
    apart = np.maximum(along_m.min(axis=1) - gap.width_m, -along_m.max(axis=1)).clip(0.0)
    fits = np.abs(depth - gap.thickness_m) < max(0.3 * gap.thickness_m, 0.05)
    if not fits.any():
        return float("nan")
    return float(depth[fits][np.argmin(apart[fits])])


def in_wall(points_m: Floats, gaps: tuple[Gap, ...]) -> NDArray[np.bool_]:
    """Which points ``(n, 2)`` lie in the thickness of a wall where a gap opens it."""
    found = np.zeros(len(points_m), dtype=bool)
    for gap in gaps:
        if gap.bounds:
            place = gap.place(points_m)
            depth = gap.thickness_m if np.isfinite(gap.thickness_m) else THICKEST_WALL_M
            found |= (
                (place[:, 0] > -JAMB_NEAR_M)
                & (place[:, 0] < gap.width_m + JAMB_NEAR_M)
                & (place[:, 1] > 0)
                & (place[:, 1] < depth)
            )
    return found
