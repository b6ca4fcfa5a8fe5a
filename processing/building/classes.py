# SPDX-License-Identifier: GPL-2.0-or-later
"""A pair of rooms judged by the errors of both: unchanged, moved as a whole, or reshaped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.stats import chi2, norm

from .model import MOVED, RESHAPED, STRAIGHT_M, UNCHANGED, RoomSet

DENSER = 0.25
MOVED_LEAVES = 1.0 / 3.0


@dataclass(frozen=True)
class Pair:
    """What the comparison of two outlines gives; lengths and areas as in `model.Change`."""

    change: str
    difference_m2: float
    sigma_difference_m2: float
    offset_m: float
    tolerance_m: float
    moved_m: tuple[float, float]


def difference(old: RoomSet, olds: list[int], new: RoomSet, news: list[int]) -> tuple[float, float]:
    """New less old area (m2) of rooms together, and its standard error."""
    gap = float(new.area_m2[news].sum() - old.area_m2[olds].sum())
    squares = (old.sigma_area_m2[olds] ** 2).sum() + (new.sigma_area_m2[news] ** 2).sum()
    return gap, float(np.sqrt(squares))


def judged(old: RoomSet, i: int, new: RoomSet, j: int, confidence: float) -> Pair:
    """Room `i` of the old rooms (moved by the common shift) against room `j` of the new ones.

    Two tests share the level of significance. A corner is off by the errors of two edges, so that
    the square of its distance over theirs follows chi-square with two degrees of freedom; with
    ``n`` corners each has an n-th of the level (Bonferroni). The areas' difference is held against
    the normal distribution.
    """
    a, b = old.polygon[i], new.polygon[j]
    level = (1.0 - confidence) / 2.0
    sigma = float(np.hypot(old.sigma_edge_m[i], new.sigma_edge_m[j]))
    corners = max(_corners(a) + _corners(b), 1)
    tolerance = sigma * float(np.sqrt(chi2.ppf(1.0 - level / corners, 2))) + STRAIGHT_M
    gap, sigma_gap = difference(old, [i], new, [j])
    same_area = abs(gap) <= norm.ppf(1.0 - level / 2.0) * sigma_gap + 1e-9
    offset = _offset(a, b)
    step = shapely.get_coordinates(shapely.centroid(b)) - shapely.get_coordinates(
        shapely.centroid(a)
    )
    if offset <= tolerance and same_area:
        change = UNCHANGED
    else:
        moved = shapely.transform(a, lambda xy: xy + step[0])
        left = _offset(moved, b)
        # A room with one wall moved fits half as badly when it is laid on its new middle.
        alike = same_area and left <= min(tolerance, offset * MOVED_LEAVES)
        change = MOVED if alike else RESHAPED
    return Pair(change, gap, sigma_gap, offset, tolerance, (float(step[0, 0]), float(step[0, 1])))


def _corners(shape: Any) -> int:
    return int(shapely.get_num_coordinates(shapely.simplify(shape, STRAIGHT_M))) - 1


def _offset(a: Any, b: Any) -> float:
    """The largest distance from a point of either outline to the other (Hausdorff)."""
    return float(
        shapely.hausdorff_distance(shapely.boundary(a), shapely.boundary(b), densify=DENSER)
    )
