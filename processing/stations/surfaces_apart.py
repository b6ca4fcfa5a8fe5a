# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person's choices about overlap ties do to the surfaces that captures have in common.

A surface seen from several stations is one unknown, not a tie of each two of them. Two stations
whose tie was taken out share no surface any more: the surface is taken apart into sets of its faces
without such a pair, as large and as few as can be found in which all others still stand together. A
face on k of them counts on each with the root of k times its standard error, so that it counts once
in all. A tie that is re-weighted has the standard errors of its faces multiplied, also for other
ties on the same surfaces.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from .network_walls import Sights

Pair = tuple[int, int]


def taken_apart(sights: Sights, barred: Collection[Pair]) -> Sights:
    """The surfaces ``sights`` without one that two stations of a barred pair share; what only one
    station sees then is no common surface."""
    if not barred or not len(sights):
        return sights
    rows: list[Ints] = []
    for of in sights.of_each():
        rows += [of[part] for part in _parts(sights.station[of], barred)]
    count = [len(of) for of in rows]
    every = np.concatenate(rows) if rows else np.empty(0, dtype=np.int64)
    return Sights(sights.station[every], sights.face[every], np.repeat(np.arange(len(rows)), count))


def _parts(stations: Ints, barred: Collection[Pair]) -> list[Ints]:
    """Sets of places in `stations (n,)` in which no two are a barred pair, and that cannot be
    larger: so many that every two places of different stations that are none stand in one."""
    names, own = np.unique(stations, return_inverse=True)
    apart = np.zeros((len(names), len(names)), dtype=bool)
    number = {int(name): k for k, name in enumerate(names)}
    for a, b in barred:
        if a in number and b in number:
            apart[[number[a], number[b]], [number[b], number[a]]] = True
    apart = apart[own][:, own]
    # All largest sets would be too many: twice as many with every pair of other stations.
    missing = ~apart & (own[:, None] != own)
    parts: list[Ints] = []
    while missing.any():
        part = np.zeros(len(own), dtype=bool)
        part[[int(k) for k in np.argwhere(missing)[0]]] = True
        while (free := ~part & ~apart[part].any(axis=0)).any():
            part[np.argmax(np.where(free, missing[part].sum(axis=0), -1))] = True
        parts.append(np.flatnonzero(part))
        missing[np.ix_(part, part)] = False
    return parts[::-1]


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


def factors_of(
    station: Ints, surface: Ints, sights: Sights, factor: Mapping[Pair, float]
) -> Floats:
    """What the standard errors of readings ``(n,)`` of stations on surfaces of the sights are
    multiplied by because of re-weighted ties; the largest factor counts."""
    found = np.full(len(station), -np.inf)
    for (a, b), times in factor.items():
        for one, other in ((a, b), (b, a)):
            common = sights.surface[sights.station == other]
            tied = (station == one) & np.isin(surface, common)
            found[tied] = np.maximum(found[tied], times)
    return np.where(np.isfinite(found), found, 1.0)
