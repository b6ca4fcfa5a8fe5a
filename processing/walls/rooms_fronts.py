# SPDX-License-Identifier: GPL-2.0-or-later
"""Boundaries of rooms that may be the fronts of furniture: beams got past their ends.

A cupboard as wide as its corridor looks like its end. What was seen straight over no more than
furniture is long is no certain wall where a beam went further: behind a corner of it, or through a
slot beside it. The wall may be as deep behind as the beams got.
"""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from ..angles import Floats
from .arrangement_cut import LONGEST_FURNITURE_M
from .free_space import FreeSpace
from .rooms_outline import segments
from .stretches import BEHIND_M, DEEPEST_FURNITURE_M

STEP_M = 0.05


def fronts(
    polygon: Polygon, backed: list[Floats], closed: list[Floats], free: FreeSpace
) -> list[tuple[float, float]]:
    """The length of each stretch of a room's boundary past which beams got no deeper than furniture
    is, without what lies in openings, and how deep they got, in m; `backed` and `closed` have for
    each stretch the intervals along it that readings back, and that lie in openings."""
    kept: list[tuple[float, int]] = []
    points, outward = [np.empty((0, 2))], [np.empty((0, 2))]
    for (start, end), seen, gaps in zip(segments(polygon), backed, closed):
        if float(np.diff(seen).sum()) > LONGEST_FURNITURE_M:
            continue
        length = float(np.hypot(*(end - start)))
        step = (end - start) / length
        count = max(int(length / STEP_M), 3)
        along_m = (np.arange(count) + 0.5) / count * length
        away = (along_m[:, None] < gaps[:, 0]) | (along_m[:, None] > gaps[:, 1])
        own = start + along_m[away.all(axis=1)][:, None] * step
        points.append(own)
        # the room lies to the left
        outward.append(np.broadcast_to([step[1], -step[0]], own.shape))
        kept.append((length * len(own) / count, len(own)))
    depth = free.without_glass.beyond(np.concatenate(points), np.concatenate(outward))
    depth[(depth <= BEHIND_M) | (depth >= DEEPEST_FURNITURE_M + BEHIND_M)] = 0.0
    parts = np.split(depth, np.cumsum([count for _, count in kept])[:-1])
    deepest = [float(part.max(initial=0.0)) for part in parts]
    return [(length, deep) for (length, _), deep in zip(kept, deepest) if deep > 0.0]
