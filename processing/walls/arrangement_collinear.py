# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces on one line: which ends face each other, and what leads through another wall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .model import WallFaces

LONGEST_CLOSURE_M = 6.0
"""A wall does not go on over a wider gap; its line may."""
SAME_DIRECTION_RAD = np.radians(3.0)
INSIDE_M = 0.05
ACROSS = 0.8
"""Cosine between a gap and the normals of walls that cross it."""


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
    near = cKDTree(finish).query_ball_point(begin, LONGEST_CLOSURE_M)
    j = np.repeat(np.arange(len(members)), [len(found) for found in near])
    i = np.concatenate([np.array(sorted(found), dtype=np.int64) for found in near])
    i, j = i[i != j], j[i != j]
    between = begin[j] - finish[i]
    ahead = np.einsum("ij,ij->i", between, step[i])
    aside = np.abs(np.einsum("ij,ij->i", between, normal[i]))
    back = np.abs(np.einsum("ij,ij->i", between, normal[j]))
    offset = np.nan_to_num(walls.sigma_offset_m[members])
    slope = np.nan_to_num(walls.sigma_normal_rad[members])
    # the error of each line half-way between the two ends
    here = np.hypot(offset[i], slope[i] * (np.abs(last)[i] + ahead / 2))
    there = np.hypot(offset[j], slope[j] * (np.abs(first)[j] + ahead / 2))
    limit = np.clip(3 * np.hypot(here, there), tolerance_m, 4 * tolerance_m)
    azimuth = walls.normal_rad[members]
    turned = np.abs(wrap_half(azimuth[i] - azimuth[j]))
    vague = np.minimum(3 * np.hypot(slope[i], slope[j]), 4 * SAME_DIRECTION_RAD)
    fits = np.flatnonzero(
        (ahead > 1e-6)
        & (np.minimum(aside, back) <= limit)
        & (np.maximum(aside, back) <= 2 * limit)
        & (turned <= np.maximum(SAME_DIRECTION_RAD, vague))
    )
    fits = fits[np.lexsort((j[fits], i[fits], ahead[fits]))]
    onward: dict[int, int] = {}
    backward: dict[int, int] = {}
    for a, b in zip(members[i[fits]].tolist(), members[j[fits]].tolist()):
        onward.setdefault(a, b)
        backward.setdefault(b, a)
    chosen: dict[tuple[int, int], int] = {}
    for a, b in onward.items():
        if backward[b] == a:
            chosen[(a, 1)] = b
            chosen[(b, 0)] = a
    return chosen


def through_walls(pieces: Pieces) -> NDArray[np.bool_]:
    """Which closures ``(P,)`` begin or end in an inner corner, where a wall seen on the free side
    looks away from the gap, and cross another wall on the way, or cross two walls that look at each
    other: what only hides a part of one wall (a cupboard) stands on one side of it."""
    closures = np.flatnonzero(pieces.kind == Piece.CLOSURE)
    through = np.zeros(len(pieces), dtype=bool)
    for closure in closures:
        # What ends a corner's size beside the gap and leads as far past its end is within twice it.
        start_m, end_m = pieces.ends_m[closure]
        backed = pieces.backed_near(start_m, end_m, 3 * CORNER_M)
        if len(backed) < 2:
            continue
        step, normal = pieces.direction[closure], pieces.normal[closure]
        length = float(np.hypot(*(pieces.ends_m[closure, 1] - pieces.ends_m[closure, 0])))
        offset = pieces.ends_m[backed] - pieces.ends_m[closure, 0]
        ahead, before = offset @ step, offset @ normal
        facing = pieces.normal[backed] @ step
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (ahead[:, 1] - ahead[:, 0]) / (before[:, 1] - before[:, 0])
            meets = ahead[:, 0] - before[:, 0] * slope
        low, high = before.min(axis=1), before.max(axis=1)
        free_side = (low < CORNER_M) & (high > CORNER_M)
        corner = free_side & (np.abs(meets) < CORNER_M) & (facing < -ACROSS)
        corner |= free_side & (np.abs(meets - length) < CORNER_M) & (facing > ACROSS)
        crossing = (meets > INSIDE_M) & (meets < length - INSIDE_M) & (np.abs(facing) > ACROSS)
        crossing &= (low < -CORNER_M) & (high > CORNER_M)
        through[closure] = corner.any() and (crossing & ~corner).any()
        # out of one wall and into another: a corridor lies between
        order = np.flatnonzero(crossing)[np.argsort(meets[crossing], kind="stable")]
        if len(order) > 1:
            through[closure] |= bool(facing[order[0]] > 0.0 > facing[order[-1]])
    return through
