# SPDX-License-Identifier: GPL-2.0-or-later
"""What area and perimeter of a room may be off by because nobody saw, or can tell, where its wall
is.

Three doubts come on top of what readings are worth. Where no reading lies on the boundary the wall
may stand elsewhere in what is hidden: nearer by what lies hidden before it, or, where the wall
was not seen on both sides of the stretch, deeper behind it. And what stands in a corner or before
a wall, seen from its front, may be a cupboard or a shaft: nobody can tell. A short wall, lastly,
that beams got past may be the front of furniture (`rooms_fronts`). Each is an event of a
stated probability ``p`` that takes or adds an area ``A`` and a length ``D`` of boundary, so that it
adds ``p A²`` to the variance of the room's area and ``p D²`` to that of its perimeter, independent
of the others. A boundary that turns corners where it was not seen may not do so, besides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from ..angles import Floats
from .arrangement_pieces import Piece, Pieces
from .curve_model import Curves
from .free_space import FreeSpace
from .rooms_blocks import Block, blocks
from .rooms_detours import hidden_detours_m
from .rooms_fronts import fronts
from .rooms_outline import segments
from .rooms_seen import stretches_with, unbacked_stretches, united
from .stretches import DEEPEST_FURNITURE_M

SHORTEST_M = 0.1
"""Shorter stretches without readings are the usual spacing at corners and flat angles."""
DEEPEST_HIDDEN_M = 1.2
"""How far before a boundary something may be hidden."""
STEP_M = 0.05
STEADY, ASTRAY, BLOCK = 0.02, 0.27, 0.27
"""The probabilities that a wall seen on both sides of a hidden stretch does something else behind,
that the line of a wall seen on one side or none does, and that a block is not what it was drawn
as. The last two say that the one is about as likely as the other; 1.96 standard errors of one such
doubt then hold its whole area."""


@dataclass(frozen=True)
class Doubts:
    """Areas (m²) and lengths (m) ``(n, 2)`` by which a room would be another: `steady` and `astray`
    where the wall of a hidden stretch was seen on both sides, or not, and `block` by what may be
    furniture or a shaft, or lie behind furniture."""

    steady: Sequence[tuple[float, float]]
    astray: Sequence[tuple[float, float]]
    block: Sequence[tuple[float, float]]

    @property
    def variance(self) -> tuple[float, float]:
        """Of the area in m⁴, of the perimeter in m²."""
        of_area, of_perimeter = sum(
            share * np.square(np.reshape(events, (-1, 2))).sum(axis=0)
            for share, events in (
                (STEADY, self.steady),
                (ASTRAY, self.astray),
                (BLOCK, self.block),
            )
        )
        return float(of_area), float(of_perimeter)


def doubts_of(
    polygon: Polygon,
    backed: list[Floats],
    closed: list[Floats],
    pieces: Pieces,
    free: FreeSpace,
    curves: Curves,
    taken: Sequence[Block] = (),
) -> Doubts:
    """What is doubtful of a room; `backed` and `closed` have for each straight stretch of its
    boundary the intervals along it that readings back, and that lie in openings. What stands on
    one of the curves is a curved wall or a column; `taken` is what was counted to the room though
    it may be a shaft."""
    parts = segments(polygon)
    sure = stretches_with(parts, pieces, Piece.CLOSURE)
    steady: list[tuple[float, float]] = []
    astray = [(0.0, longer) for longer in hidden_detours_m(polygon, backed, closed)]
    hidden: list[tuple[Floats, float, bool, bool]] = []
    for (start, end), seen, gaps, both in zip(parts, backed, closed, sure):
        length = float(np.hypot(*(end - start)))
        step = (end - start) / length
        for low, high in unbacked_stretches(united(np.concatenate([seen, gaps])), length):
            if high - low < SHORTEST_M:
                continue
            middle = 0.5 * (low + high)
            known = bool(((both[:, 0] <= middle) & (both[:, 1] >= middle)).any())
            cornered = (low < SHORTEST_M) != (high > length - SHORTEST_M)
            ends = start + np.array([[low], [high]]) * step
            hidden.append((ends, float(high - low), known, cornered))
    areas = _hidden_m2([ends for ends, *_ in hidden], free)
    for (before, behind), (_, width, known, cornered) in zip(areas, hidden):
        # In a corner of the room what stands before the wall takes from it what it adds.
        # A recess or what stands out is rarely deeper than wide (common practice).
        aside = [2.0 * min(of / width, width) for of in (before, behind)]
        nearer = (before, 0.0 if cornered else aside[0])
        if known:
            steady.append(nearer)
        else:
            astray += [nearer, (behind, aside[1])]
    stand = [(block.area_m2, block.detour_m) for block in (*blocks(polygon, curves), *taken)]
    stand += [(width * deep, 2.0 * deep) for width, deep in fronts(polygon, backed, closed, free)]
    return Doubts(steady, astray, stand)


def _hidden_m2(stretches: list[Floats], free: FreeSpace) -> list[tuple[float, float]]:
    """The hidden areas before each stretch ``(2, 2)`` of a boundary, the room on its left, and
    behind it."""
    sizes, points = [], [np.empty((0, 2))]
    for start, end in stretches:
        length = float(np.hypot(*(end - start)))
        count = max(int(length / STEP_M), 3)
        foot = start + ((np.arange(count) + 0.5) / count)[:, None] * (end - start)
        inward = np.array([start[1] - end[1], end[0] - start[0]]) / length
        for way, deepest in ((inward, DEEPEST_HIDDEN_M), (-inward, DEEPEST_FURNITURE_M)):
            depth = np.arange(0.5 * STEP_M, deepest, STEP_M)
            points.append((foot[:, None, :] + depth[None, :, None] * way).reshape(-1, 2))
            sizes.append((count, len(depth), length))
    unseen = ~free.look(np.concatenate(points))[0]
    areas, first = [], 0
    for count, deep, length in sizes:
        of = unseen[first : first + count * deep].reshape(count, deep)
        first += count * deep
        areas.append(float(np.cumprod(of, axis=1).sum(axis=1).mean() * STEP_M * length))
    return list(zip(areas[::2], areas[1::2]))
