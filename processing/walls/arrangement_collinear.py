# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces on one line: which ends face each other, and what leads through another wall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .model import WallFaces

LONGEST_CLOSURE_M = 6.0
"""A wall does not go on over a wider gap; its line may."""
SAME_DIRECTION_RAD = np.radians(3.0)
INSIDE_M = 0.05


def collinear_ends(
    walls: WallFaces, backed: dict[int, Floats], members: Ints, tolerance_m: float
) -> dict[tuple[int, int], int]:
    """For the ends (wall, 0 start or 1 end) that face the end of a collinear wall: that wall."""
    if len(members) < 2:
        return {}
    step = along(walls.normal_rad[members])
    normal = unit(walls.normal_rad[members])
    centre = walls.centre_m[members]
    first = np.array([backed[int(w)][0, 0] for w in members])
    last = np.array([backed[int(w)][-1, 1] for w in members])
    begin, finish = centre + first[:, None] * step, centre + last[:, None] * step
    between = begin[None, :, :] - finish[:, None, :]
    ahead = np.einsum("ijk,ik->ij", between, step)
    aside = np.abs(np.einsum("ijk,ik->ij", between, normal))
    back = np.abs(np.einsum("ijk,jk->ij", between, normal))
    offset = np.nan_to_num(walls.sigma_offset_m[members])
    slope = np.nan_to_num(walls.sigma_normal_rad[members])
    # the error of each line half-way between the two ends
    here = np.hypot(offset[:, None], slope[:, None] * (np.abs(last)[:, None] + ahead / 2))
    there = np.hypot(offset[None, :], slope[None, :] * (np.abs(first)[None, :] + ahead / 2))
    limit = np.clip(3 * np.hypot(here, there), tolerance_m, 4 * tolerance_m)
    turned = np.abs(
        wrap_half(walls.normal_rad[members][:, None] - walls.normal_rad[members][None, :])
    )
    direct = 3 * np.hypot(slope[:, None], slope[None, :])
    fits = (
        (ahead > 1e-6)
        & (ahead <= LONGEST_CLOSURE_M)
        & (np.minimum(aside, back) <= limit)
        & (np.maximum(aside, back) <= 2 * limit)
        & (turned <= np.maximum(SAME_DIRECTION_RAD, np.minimum(direct, 4 * SAME_DIRECTION_RAD)))
    )
    np.fill_diagonal(fits, False)
    gap = np.where(fits, ahead, np.inf)
    chosen: dict[tuple[int, int], int] = {}
    for i in range(len(members)):
        j = int(np.argmin(gap[i]))
        if np.isfinite(gap[i, j]) and int(np.argmin(gap[:, j])) == i:
            chosen[(int(members[i]), 1)] = int(members[j])
            chosen[(int(members[j]), 0)] = int(members[i])
    return chosen


def through_walls(pieces: Pieces) -> NDArray[np.bool_]:
    """Which closures ``(P,)`` begin or end in an inner corner, where a wall seen on the free side
    looks away from the gap, and cross another wall on the way: what only hides a part of one wall
    (a cupboard) stands on one side of it."""
    closures = np.flatnonzero(pieces.kind == Piece.CLOSURE)
    backed = np.flatnonzero(pieces.kind == Piece.BACKED)
    through = np.zeros(len(pieces), dtype=bool)
    step, normal = pieces.direction[closures], pieces.normal[closures]
    length = pieces.length_m[closures]
    offset = pieces.ends_m[None, backed] - pieces.ends_m[closures, 0][:, None, None]
    ahead = np.einsum("cbek,ck->cbe", offset, step)
    before = np.einsum("cbek,ck->cbe", offset, normal)
    facing = np.einsum("bk,ck->cb", pieces.normal[backed], step)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (ahead[..., 1] - ahead[..., 0]) / (before[..., 1] - before[..., 0])
        meets = ahead[..., 0] - before[..., 0] * slope
    low, high = before.min(axis=2), before.max(axis=2)
    at_line = (np.abs(facing) > 0.8) & (low < CORNER_M) & (high > -CORNER_M)
    free_side = at_line & (high > CORNER_M)
    corner = free_side & (np.abs(meets) < CORNER_M) & (facing < 0)
    corner |= free_side & (np.abs(meets - length[:, None]) < CORNER_M) & (facing > 0)
    inside = (meets > INSIDE_M) & (meets < length[:, None] - INSIDE_M)
    inside &= (np.abs(facing) > 0.8) & (low < -CORNER_M) & (high > CORNER_M)
    through[closures] = corner.any(axis=1) & (inside & ~corner).any(axis=1)
    return through
