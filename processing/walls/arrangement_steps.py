# SPDX-License-Identifier: GPL-2.0-or-later
"""Steps of walls that are too small for a face of their own.

Where a wall goes on a few centimetres nearer or farther, too few readings lie on the step for a
line through them. Without one, the lines of both parts would run on side by side and nothing would
lead from one to the other; so a short piece square to them does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..angles import Floats
from ..captures.model import Ints
from .arrangement_pieces import CORNER_M

WIDEST_STEP_M = 0.15
"""A wider step has a face of its own."""
SMALLEST_STEP_M = 0.002
"""What is less is within the errors of any two lines."""
LAPPED_M = 0.03
"""So far the ends may lap over each other: end readings are often of both parts."""
ALIKE = 0.996
"""Cosine of the angle between two parts of one wall at most (5 degrees)."""
OVER_M = 0.01
"""The piece crosses both lines, so that they are cut there; what sticks out bounds nothing."""


@dataclass(frozen=True, eq=False)
class Steps:
    """``K`` steps: the walls that lead up to them and on from them (places ``(K, 2)``), start and
    end ``(K, 2, 2)``, free side to the right."""

    walls: Ints
    ends_m: Floats


def find_steps(start_m: Floats, end_m: Floats, taken: set[tuple[int, int]]) -> Steps:
    """The steps between walls that run from `start_m (n, 2)` to `end_m (n, 2)`, free side to the
    right; pairs that are `taken` are in one line already."""
    walls, ends = [], []
    way = end_m - start_m
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
    run = way / length[:, None]
    reach = float(np.hypot(WIDEST_STEP_M, CORNER_M))
    found = cKDTree(end_m).query_ball_tree(cKDTree(start_m), reach) if len(start_m) else []
    between = {(i, j) for i, near in enumerate(found) for j in near}
    for i, j in sorted(between):
        if i == j or (i, j) in taken or run[i] @ run[j] < ALIKE:
            continue
        # a face of its own leads from the end of the one to the start of the other
        if any((i, k) in between and (k, j) in between and k not in (i, j) for k in found[i]):
            continue
        gap = start_m[j] - end_m[i]
        ahead = float(gap @ run[i])
        aside = np.array([-run[i, 1], run[i, 0]])
        across = float(gap @ aside)
        if not (-LAPPED_M <= ahead <= CORNER_M and SMALLEST_STEP_M < abs(across) < WIDEST_STEP_M):
            continue
        over = np.copysign(OVER_M, across) * aside
        foot = end_m[i] + 0.5 * ahead * run[i]
        walls.append((i, j))
        ends.append((foot - over, foot + across * aside + over))
    return Steps(np.array(walls, dtype=np.int64).reshape(-1, 2), np.array(ends).reshape(-1, 2, 2))
