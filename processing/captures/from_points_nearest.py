# SPDX-License-Identifier: GPL-2.0-or-later
"""Which station a point belongs to, where no field says so: the nearest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..angles import Floats
from .model import Ints

NEARLY = 1.25
"""A station up to this many times as far as the nearest is nearly as near."""


def nearest_station(
    points_xy: Floats, stations_xy: Floats, rank: Ints
) -> tuple[Ints, NDArray[np.bool_]]:
    """The nearest station ``(n,)`` to each point ``(n, 2)`` in plan, and whether another one is
    nearly as near ``(n,)``.

    Of two at the same distance the one of lower `rank (S,)` is taken, so that the order in which
    stations come does not matter.
    """
    if len(stations_xy) == 1:
        return np.zeros(len(points_xy), dtype=np.int64), np.zeros(len(points_xy), dtype=bool)
    by_rank = np.argsort(rank, kind="stable")
    distance, place = cKDTree(stations_xy[by_rank]).query(points_xy, k=2)
    tied = distance[:, 0] == distance[:, 1]
    first = np.where(tied, place.min(axis=1), place[:, 0])
    return by_rank[first].astype(np.int64), distance[:, 1] <= NEARLY * distance[:, 0]
