# SPDX-License-Identifier: GPL-2.0-or-later
"""How thick walls are, where both their faces were seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..angles import Floats
from ..captures.model import Ints
from .model import WallFaces

THINNEST_M, THICKEST_M = 0.03, 1.0
"""Between these lies what a wall measures; two faces further apart are of two walls."""
PARALLEL = np.cos(np.radians(3.0))
LEAST_COMMON_M = 0.2
"""So much of a wall both faces have in common at least."""


@dataclass(frozen=True, eq=False)
class Thicknesses:
    """``K`` pairs of faces that look away from each other, nearest ones only: `faces (K, 2)`, the
    distance between their lines in the middle of what they have in common (m), its standard error,
    and the length in common (m)."""

    faces: Ints
    thickness_m: Floats
    sigma_m: Floats
    common_m: Floats


def wall_thicknesses(walls: WallFaces) -> Thicknesses:
    """The thickness of every wall that was seen on both sides, from its two lines as they are.

    The two lines count as independent: what they share through their stations is on the safe side.
    Their angle counts as far as the standard errors of both directions go (Ghilani, Adjustment
    Computations, ch. 6: propagation of variance).
    """
    none = np.empty(0)
    if not len(walls):
        return Thicknesses(np.empty((0, 2), dtype=np.int64), none, none, none)
    u, n = walls.direction, walls.normal
    ends = walls.ends_m
    lines = shapely.linestrings(ends)
    a, b = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=THICKEST_M)
    apart = np.einsum("ij,ij->i", n[a], n[b]) < -PARALLEL
    apart &= (walls.level[a] == walls.level[b]) & (walls.network[a] == walls.network[b])
    a, b = a[apart], b[apart]
    along = np.einsum("kej,kj->ke", ends[b] - walls.centre_m[a][:, None], u[a])
    low = np.maximum(along.min(axis=1), walls.span_m[a, 0])
    high = np.minimum(along.max(axis=1), walls.span_m[a, 1])
    middle = 0.5 * (low + high)
    foot = walls.centre_m[a] + middle[:, None] * u[a]
    to_b = walls.centre_m[b] - foot
    # the second face lies behind the first: along the normal of the second
    thickness = np.einsum("ij,ij->i", to_b, n[b])
    fits = (thickness > THINNEST_M) & (thickness < THICKEST_M) & (high - low >= LEAST_COMMON_M)
    a, b, middle, thickness = a[fits], b[fits], middle[fits], thickness[fits]
    common = (high - low)[fits]
    lever = -np.einsum("ij,ij->i", to_b[fits], u[b])
    variance = walls.sigma_offset_m[a] ** 2 + (middle * walls.sigma_normal_rad[a]) ** 2
    variance += walls.sigma_offset_m[b] ** 2 + (lever * walls.sigma_normal_rad[b]) ** 2
    nearest = np.full(len(walls), np.inf)
    np.minimum.at(nearest, a, thickness)
    own = (thickness <= nearest[a] + 1e-9) & (thickness <= nearest[b] + 1e-3) & (a < b)
    return Thicknesses(
        np.column_stack([a, b])[own], thickness[own], np.sqrt(variance[own]), common[own]
    )
