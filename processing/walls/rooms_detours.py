# SPDX-License-Identifier: GPL-2.0-or-later
"""Where a room's boundary goes a longer way than it need, out of sight."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from ..angles import Floats
from .rooms_blocks import LEAST_CORNER
from .rooms_outline import ring_of_segment, segments
from .rooms_seen import unbacked_stretches, united


def hidden_detours_m(polygon: Polygon, backed: list[Floats], closed: list[Floats]) -> list[float]:
    """By how much each stretch of boundary that nobody saw is longer than the way on from the wall
    before it to the wall after it: over the corner in which they meet, or straight.

    `backed` and `closed` have for each straight stretch of the boundary the intervals along it that
    readings back, and that lie in openings.
    """
    parts = segments(polygon)
    way = parts[:, 1] - parts[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    way = way / length[:, None]
    found = []
    for of in ring_of_segment(polygon):
        end = np.cumsum(length[of])
        begin, whole = end - length[of], float(end[-1])
        known = [at + np.concatenate([backed[k], closed[k]]) for k, at in zip(of, begin)]
        gaps = unbacked_stretches(united(np.concatenate(known)), whole)
        if len(gaps) > 1 and gaps[0, 0] == 0.0 and gaps[-1, 1] == whole:
            # the ring was begun out of sight
            gaps = np.append(gaps[1:-1], [[gaps[-1, 0], whole + gaps[0, 1]]], axis=0)
        for low, high in gaps:
            # in which stretches the wall before ends, and the wall after goes on
            i = int(np.searchsorted(end, low))
            j = int(np.searchsorted(begin, high % whole, side="right")) - 1
            if i == j or high - low >= whole:
                continue
            a = parts[of[i], 0] + (low - begin[i]) * way[of[i]]
            b = parts[of[j], 0] + (high % whole - begin[j]) * way[of[j]]
            shortest = _way_on(a, way[of[i]], b, way[of[j]])
            found.append(max(float(high - low) - shortest, 0.0))
    return found


def _way_on(a: Floats, way_a: Floats, b: Floats, way_b: Floats) -> float:
    """The length of the way from the end ``a`` of a wall to the start ``b`` of another."""
    across = float(way_a[0] * way_b[1] - way_a[1] * way_b[0])
    step = b - a
    if abs(across) > LEAST_CORNER:
        ahead = float(step[0] * way_b[1] - step[1] * way_b[0]) / across
        back = float(step[0] * way_a[1] - step[1] * way_a[0]) / across
        if ahead >= 0.0 and back <= 0.0:
            return ahead - back
    return float(np.hypot(step[0], step[1]))
