# SPDX-License-Identifier: GPL-2.0-or-later
"""What stands in a room's corners or before its walls, and may be furniture or a shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from ..angles import Floats
from .curve_model import Curves
from .stretches import DEEPEST_FURNITURE_M

LARGEST_BLOCK_M2 = 2.0
TRIFLE_M = 0.05
"""Smaller steps of an outline are none of furniture."""
MOST_CORNERS = 7
"""A block has no more corners than this."""
LONGEST = 1.7
"""Nor is it so many times longer than what is seen of the wall it stands at: what is left between
two blocks is a recess."""
LEAST_CORNER, ALIKE = 0.5, 0.98
"""Sine of the angle at which two walls meet in a corner, and cosine up to which they are one."""


@dataclass(frozen=True, eq=False)
class Block:
    """A stretch of a counterclockwise outline between two walls that would meet, or go on in one
    another, behind it.

    `chain_m (k, 2)` are its corners in the outline, from the end of the wall that begins at
    `before_m (2,)` to the start of the one that ends at `after_m (2,)`; `outline_m` the corners of
    what it takes from the room, `depth_m` how far it stands out at least.
    """

    before_m: Floats
    chain_m: Floats
    after_m: Floats
    outline_m: Floats
    depth_m: float

    @property
    def area_m2(self) -> float:
        x, y = self.outline_m.T
        return -0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))

    @property
    def detour_m(self) -> float:
        """By how much the boundary around it is longer than along the walls behind."""
        round_, along = (
            float(np.hypot(*np.diff(line, axis=0).T).sum())
            for line in (np.concatenate([self.outline_m, self.outline_m[:1]]), self.chain_m)
        )
        return 2.0 * along - round_


def blocks(polygon: Polygon, curves: Curves) -> list[Block]:
    """What stands in corners of a room or before its walls and may be furniture, the largest first;
    none shares a corner with another, nor has one on a curve."""
    ring = np.asarray(orient(polygon.simplify(0.4 * TRIFLE_M)).exterior.coords)[:-1]
    chosen: list[Block] = []
    taken = set(np.flatnonzero(_on_curves(ring, curves)).tolist())
    for block, corners in sorted(_blocks(ring), key=lambda found: -found[0].area_m2):
        if not corners & taken:
            taken |= corners
            chosen.append(block)
    return chosen


def _on_curves(ring: Floats, curves: Curves) -> NDArray[np.bool_]:
    """Which corners ``(n,)`` of an outline are those of chords."""
    away = np.hypot(*(ring[:, None] - curves.centre_m[None]).transpose(2, 0, 1))
    return np.asarray((np.abs(away - curves.radius_m) < TRIFLE_M).any(axis=1))


def _blocks(ring: Floats) -> list[tuple[Block, set[int]]]:
    """Each block of a counterclockwise outline with the numbers of its corners."""
    count = len(ring)
    found = []
    for i in range(count):
        for corners in range(3, min(MOST_CORNERS, count - 2) + 1):
            at = [(i + k) % count for k in range(corners)]
            block = _block(ring[i - 1], ring[at], ring[(i + corners) % count])
            if block is not None:
                found.append((block, set(at)))
    return found


def _block(before: Floats, chain: Floats, after: Floats) -> Block | None:
    """The block between a chain of corners and the walls that lead up to it and on from it, if
    those would go on behind something."""
    first, last = chain[0], chain[-1]
    length_a, length_b = np.hypot(*(first - before)), np.hypot(*(after - last))
    a, b = (first - before) / length_a, (after - last) / length_b
    normal_a, normal_b = np.array([-a[1], a[0]]), np.array([-b[1], b[0]])
    away_a, away_b = (chain - first) @ normal_a, (chain - last) @ normal_b
    if min(away_a.min(), away_b.min()) < -TRIFLE_M:
        return None
    if a[0] * b[1] - a[1] * b[0] > LEAST_CORNER:
        ahead = float((last - first) @ normal_b) / float(a @ normal_b)
        back = float((last - first) @ normal_a) / float(-b @ normal_a)
        if not (0.0 < ahead < LONGEST * length_a and 0.0 < -back < LONGEST * length_b):
            return None
        outline = np.concatenate([chain, [first + ahead * a]])
    else:
        ahead = float((last - first) @ a)
        level = a @ b > ALIKE and abs(float((last - first) @ normal_a)) < TRIFLE_M
        if not (level and 0.0 < ahead < LONGEST * (length_a + length_b)):
            return None
        outline = chain
    depth = float(min(away_a.max(), away_b.max()))
    block = Block(before, chain, after, outline, depth)
    deep = depth > DEEPEST_FURNITURE_M
    return None if deep or not 0.0 < block.area_m2 <= LARGEST_BLOCK_M2 else block
