# SPDX-License-Identifier: GPL-2.0-or-later
"""What a room's area may be off by because nobody saw, or can tell, where its wall is.

Two doubts come on top of what readings are worth. Where no reading lies on the boundary the wall
may stand elsewhere in what is hidden: nearer by what lies hidden before it, or, where the wall
was not seen on both sides of the stretch, deeper behind it. And what stands in a corner or before
a wall, seen from its front, may be a cupboard or a shaft: nobody can tell. Each is an event of a
stated probability ``p`` that takes or adds an area ``A``, so that it adds ``p A²`` to the variance
of the room's area, independent of the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from ..angles import Floats
from .arrangement_pieces import Piece, Pieces
from .curve_model import Curves
from .free_space import FreeSpace
from .rooms_outline import segments
from .rooms_seen import stretches_with, unbacked_stretches, united

SHORTEST_M = 0.1
"""Shorter stretches without readings are the usual spacing at corners and flat angles."""
DEEPEST_HIDDEN_M, DEEPEST_FURNITURE_M = 1.2, 0.65
"""How far before a boundary something may be hidden, and how deep furniture is (common
practice: 0.6 m, and a little off the wall)."""
LARGEST_BLOCK_M2 = 2.0
STEP_M = 0.05
TRIFLE_M = 0.05
"""Smaller steps of an outline are none of furniture."""
MOST_CORNERS = 7
"""A block has no more corners than this."""
LONGEST = 1.7
"""Nor is it so many times longer than what is seen of the wall it stands at: what is left between
two blocks is a recess."""
LEAST_CORNER, ALIKE = 0.5, 0.98
"""Sine of the angle at which two walls meet in a corner, and cosine up to which they are one."""
STEADY, ASTRAY, BLOCK = 0.02, 0.27, 0.27
"""The probabilities that a wall seen on both sides of a hidden stretch does something else behind,
that the line of a wall seen on one side or none does, and that a block is not what it was drawn
as. The last two say that the one is about as likely as the other; 1.96 standard errors of one such
doubt then hold its whole area."""


@dataclass(frozen=True)
class Doubts:
    """Areas in m²: `steady` and `astray` those of hidden stretches whose wall was seen on both
    sides, or not, and `block` those that furniture or a shaft takes."""

    steady: tuple[float, ...]
    astray: tuple[float, ...]
    block: tuple[float, ...]

    @property
    def variance(self) -> float:
        """In m⁴."""
        return float(
            sum(
                share * np.sum(np.square(areas))
                for share, areas in (
                    (STEADY, self.steady),
                    (ASTRAY, self.astray),
                    (BLOCK, self.block),
                )
            )
        )


def doubts_of(
    polygon: Polygon,
    backed: list[Floats],
    closed: list[Floats],
    pieces: Pieces,
    free: FreeSpace,
    curves: Curves,
) -> Doubts:
    """What is doubtful of a room; `backed` and `closed` have for each straight stretch of its
    boundary the intervals along it that readings back, and that lie in openings. What stands on
    one of the curves is a curved wall or a column."""
    parts = segments(polygon)
    sure = stretches_with(parts, pieces, Piece.CLOSURE)
    steady, astray = [], []
    for (start, end), seen, gaps, both in zip(parts, backed, closed, sure):
        length = float(np.hypot(*(end - start)))
        step = (end - start) / length
        for low, high in unbacked_stretches(united(np.concatenate([seen, gaps])), length):
            if high - low < SHORTEST_M:
                continue
            middle = 0.5 * (low + high)
            known = bool(((both[:, 0] <= middle) & (both[:, 1] >= middle)).any())
            before, behind = _hidden_m2(start, step, low, high, free)
            if known:
                steady.append(before)
            else:
                astray += [before, behind]
    return Doubts(tuple(steady), tuple(astray), tuple(blocks(polygon, curves)))


def _hidden_m2(
    start: Floats, step: Floats, low: float, high: float, free: FreeSpace
) -> tuple[float, float]:
    """The hidden areas before a stretch of a boundary, the room on its left, and behind it."""
    inward = np.array([-step[1], step[0]])
    count = max(int((high - low) / STEP_M), 3)
    along_m = low + (np.arange(count) + 0.5) / count * (high - low)
    foot = start + along_m[:, None] * step
    areas = []
    for way, deepest in ((inward, DEEPEST_HIDDEN_M), (-inward, DEEPEST_FURNITURE_M)):
        depth = np.arange(0.5 * STEP_M, deepest, STEP_M)
        points = foot[:, None, :] + depth[None, :, None] * way
        seen = free.look(points.reshape(-1, 2))[0].reshape(count, len(depth))
        hidden = np.cumprod(~seen, axis=1).sum(axis=1) * STEP_M
        areas.append(float(hidden.mean() * (high - low)))
    return areas[0], areas[1]


def blocks(polygon: Polygon, curves: Curves) -> list[float]:
    """The areas of what stands in corners of a room or before its walls and may be furniture, the
    largest first; none shares a corner with another, nor has one on a curve."""
    ring = np.asarray(orient(polygon.simplify(0.4 * TRIFLE_M)).exterior.coords)[:-1]
    areas: list[float] = []
    taken: set[int] = set()
    round_corners = set(np.flatnonzero(_on_curves(ring, curves)).tolist())
    for area, corners in sorted(_blocks(ring), key=lambda block: -block[0]):
        if not corners & (taken | round_corners):
            taken |= corners
            areas.append(area)
    return areas


def _on_curves(ring: Floats, curves: Curves) -> NDArray[np.bool_]:
    """Which corners ``(n,)`` of an outline are those of chords."""
    away = np.hypot(*(ring[:, None] - curves.centre_m[None]).transpose(2, 0, 1))
    return np.asarray((np.abs(away - curves.radius_m) < TRIFLE_M).any(axis=1))


def _blocks(ring: Floats) -> list[tuple[float, set[int]]]:
    """Each block with its corners: the stretch of a counterclockwise outline between two walls
    that would meet, or go on in one another, on its far side."""
    count = len(ring)
    found = []
    for i in range(count):
        for corners in range(3, min(MOST_CORNERS, count - 2) + 1):
            at = [(i + k) % count for k in range(corners)]
            area = _block(ring[i - 1], ring[at], ring[(i + corners) % count])
            if area > 0.0:
                found.append((area, set(at)))
    return found


def _block(before: Floats, chain: Floats, after: Floats) -> float:
    """The area between a chain of corners and the walls that lead up to it and on from it, if
    those would go on behind something; else 0."""
    first, last = chain[0], chain[-1]
    length_a, length_b = np.hypot(*(first - before)), np.hypot(*(after - last))
    a, b = (first - before) / length_a, (after - last) / length_b
    normal_a, normal_b = np.array([-a[1], a[0]]), np.array([-b[1], b[0]])
    away_a, away_b = (chain - first) @ normal_a, (chain - last) @ normal_b
    if min(away_a.min(), away_b.min()) < -TRIFLE_M:
        return 0.0
    if a[0] * b[1] - a[1] * b[0] > LEAST_CORNER:
        ahead = float((last - first) @ normal_b) / float(a @ normal_b)
        back = float((last - first) @ normal_a) / float(-b @ normal_a)
        if not (0.0 < ahead < LONGEST * length_a and 0.0 < -back < LONGEST * length_b):
            return 0.0
        outline = np.concatenate([chain, [first + ahead * a]])
    else:
        ahead = float((last - first) @ a)
        level = a @ b > ALIKE and abs(float((last - first) @ normal_a)) < TRIFLE_M
        if not (level and 0.0 < ahead < LONGEST * (length_a + length_b)):
            return 0.0
        outline = chain
    x, y = outline.T
    area = -0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    deep = min(away_a.max(), away_b.max()) > DEEPEST_FURNITURE_M
    return 0.0 if deep or area > LARGEST_BLOCK_M2 else area
