# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person's choices about overlap ties do to the surfaces that captures have in common.

A surface seen from several stations is one unknown, not a tie of each two of them. Two stations
whose tie was taken out share no surface any more: the surface is taken apart into the largest sets
of its faces without such a pair. A face on k of them counts on each with the root of k times its
standard error, so that it counts once in all. A tie that is re-weighted has the standard errors of
its faces multiplied, also for other ties on the same surfaces.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from ..angles import Floats
from .network_walls import Sights

Pair = tuple[int, int]


def taken_apart(sights: Sights, barred: Collection[Pair]) -> Sights:
    """The surfaces ``sights`` without one that two stations of a barred pair share; what only one
    station sees then is no common surface."""
    if not barred or not len(sights):
        return sights
    rows: list[np.ndarray] = []
    for surface in range(sights.surfaces):
        of = np.flatnonzero(sights.surface == surface)
        for part in _parts([int(s) for s in sights.station[of]], barred):
            rows.append(of[part])
    count = [len(of) for of in rows]
    every = np.concatenate(rows) if rows else np.empty(0, dtype=np.int64)
    return Sights(sights.station[every], sights.face[every], np.repeat(np.arange(len(rows)), count))


def _parts(stations: list[int], barred: Collection[Pair]) -> list[list[int]]:
    """The largest sets of places in `stations` in which no two are a barred pair, of two stations
    or more each."""
    sets = [frozenset(range(len(stations)))]
    for a, b in barred:
        ends = (
            frozenset(k for k, s in enumerate(stations) if s == a),
            frozenset(k for k, s in enumerate(stations) if s == b),
        )
        if not (ends[0] and ends[1]):
            continue
        split: list[frozenset[int]] = []
        for one in sets:
            split += [one - end for end in ends] if one & ends[0] and one & ends[1] else [one]
        sets = [one for one in dict.fromkeys(split) if not any(one < other for other in split)]
    return [sorted(one) for one in sets if len({stations[k] for k in one}) > 1]


def sigma_factors(sights: Sights, factor: Mapping[Pair, float]) -> Floats:
    """What the standard errors of the faces ``(n,)`` are multiplied by: because they stand on
    several surfaces, and because of re-weighted ties, of which the largest factor counts."""
    if not len(sights):
        return np.ones(0)
    both = np.stack([sights.station, sights.face], axis=1)
    _, place, count = np.unique(both, axis=0, return_inverse=True, return_counts=True)
    found = np.sqrt(count[place.ravel()].astype(float))
    largest = np.full(len(sights), -np.inf)
    for (a, b), times in factor.items():
        common = np.intersect1d(
            sights.surface[sights.station == a], sights.surface[sights.station == b]
        )
        ends = np.isin(sights.station, (a, b)) & np.isin(sights.surface, common)
        largest[ends] = np.maximum(largest[ends], times)
    return found * np.where(np.isfinite(largest), largest, 1.0)
