# SPDX-License-Identifier: GPL-2.0-or-later
"""The space that readings passed through: what the stations together saw to be empty."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, unit
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .free_space_reach import Reach
from .free_space_star import VEIL_REACH_M, Star

PAST_M = 0.05
"""A reading crossed a line when it lies this far beyond it: further than noise."""
TILE_M = 2.5
"""Points are looked at by squares, each by the stations that reach it."""


@dataclass(frozen=True, eq=False)
class FreeSpace:
    """The free space of several stations together."""

    stars: tuple[Star, ...]

    @cached_property
    def _reach(self) -> Reach:
        """How far each station says anything."""
        reach = Reach(np.array([star.centre_m for star in self.stars]), VEIL_REACH_M)
        for k, star in enumerate(self.stars):
            if len(star.reach_m):
                further = np.fmax(star.reach_m, np.roll(star.reach_m, -1))
                reach.add(k, star.bearing_rad, star.step_rad, further)
            away = star.return_m - star.centre_m
            none = np.zeros(len(away))
            reach.add(k, star.return_rad, none, np.hypot(away[:, 0], away[:, 1]))
        return reach

    @cached_property
    def without_glass(self) -> FreeSpace:
        """The same, but that nothing is known where glass stands."""
        return FreeSpace(tuple(star.without_glass() for star in self.stars))

    def look(
        self, points_m: Floats, progress: Progress = SILENT
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which points ``(m, 2)`` some station saw to be free; which of the others are veiled."""
        free, veiled = np.zeros((2, len(points_m)), dtype=bool)
        # What the nearest station saw, which is most, no other is asked about.
        nearest, others = self._asked(points_m, progress.part(0.0, 0.2))
        for asked, start, end in ((nearest, 0.2, 0.5), (others, 0.5, 1.0)):
            for k, at in progress.part(start, end).over(asked):
                at = at[~free[at]]
                free[at], more = self.stars[k].look(points_m[at])
                veiled[at] |= more
        return free, veiled & ~free

    def beyond(self, points_m: Floats, way: Floats, progress: Progress = SILENT) -> Floats:
        """How much further along unit vectors ``way (m, 2)`` the beams past points ``(m, 2)`` went
        that went furthest, ``(m,)``; 0 where none did."""
        further = np.zeros(len(points_m))
        nearest, others = self._asked(points_m, progress.part(0.0, 0.2))
        for k, at in progress.part(0.2, 1.0).over(nearest + others):
            further[at] = np.fmax(further[at], self.stars[k].beyond(points_m[at], way[at]))
        return further

    def _asked(
        self, points_m: Floats, progress: Progress
    ) -> tuple[list[tuple[int, Ints]], list[tuple[int, Ints]]]:
        """The stations (places) with the points ``(m, 2)`` (places) in their reach: those to which
        these are nearest, and the others."""
        nearest: defaultdict[int, list[Ints]] = defaultdict(list)
        others: defaultdict[int, list[Ints]] = defaultdict(list)
        for own in progress.over(_tiles(points_m)):
            points = points_m[own]
            low, high = points.min(axis=0), points.max(axis=0)
            middle, radius = 0.5 * (low + high), 0.5 * float(np.hypot(*(high - low)))
            stations = self._reach.seeing(middle, radius)
            if not len(stations):
                continue
            away = np.square(self._reach.centre_m[stations] - middle).sum(axis=1)
            first = int(stations[away.argmin()])
            nearest[first].append(own)
            for k in stations[stations != first].tolist():
                others[k].append(own)
        both = (sorted(nearest.items()), sorted(others.items()))
        of_nearest, of_others = ([(k, np.concatenate(at)) for k, at in of] for of in both)
        return of_nearest, of_others

    def reaching(self, start_m: Floats, end_m: Floats) -> Ints:
        """The stations (places) that may say something of the line from start to end."""
        way = end_m - start_m
        return self._reach.seeing(0.5 * (start_m + end_m), 0.5 * float(np.hypot(way[0], way[1])))

    def crossings(self, start_m: Floats, end_m: Floats) -> Floats:
        """Where readings that lie on walls crossed the line from start to end: sorted distances
        ``(k,)`` from the start, of those between its ends."""
        way = end_m - start_m
        length = float(np.hypot(way[0], way[1]))
        step = way / length
        found = [np.empty(0)]
        for k in self.reaching(start_m, end_m):
            star = self.stars[k]
            at = star.between(start_m, end_m)
            ray = unit(star.bearing_rad[at])
            offset = star.centre_m - start_m
            aside = offset[0] * step[1] - offset[1] * step[0]
            towards = step[0] * ray[:, 1] - step[1] * ray[:, 0]
            with np.errstate(divide="ignore", invalid="ignore"):
                reach = aside / towards
                place = offset @ step + reach * (ray @ step)
                crossed = star.sure[at] & (reach > 0) & (reach < star.reach_m[at] - PAST_M)
                crossed &= (place > 0) & (place < length)
            found.append(place[crossed])
        return np.sort(np.concatenate(found))

    def through_glass(self, start_m: Floats, end_m: Floats) -> int:
        """How many readings seen through glass crossed the line from start to end."""
        way = end_m - start_m
        count = 0
        for k in self.reaching(start_m, end_m):
            star = self.stars[k]
            ray = star.glass_m - star.centre_m
            offset = star.centre_m - start_m
            cross = way[0] * ray[:, 1] - way[1] * ray[:, 0]
            with np.errstate(divide="ignore", invalid="ignore"):
                on_line = (offset[0] * ray[:, 1] - offset[1] * ray[:, 0]) / cross
                on_ray = (offset[0] * way[1] - offset[1] * way[0]) / cross
            count += int(np.sum((on_line > 0) & (on_line < 1) & (on_ray > 0) & (on_ray < 1)))
        return count


def _tiles(points_m: Floats) -> list[Ints]:
    """The places of points ``(m, 2)`` by squares of a grid."""
    if not len(points_m):
        return []
    x, y = np.floor(points_m / TILE_M).astype(np.int64).T
    order = np.lexsort((y, x))
    new = np.flatnonzero((np.diff(x[order]) != 0) | (np.diff(y[order]) != 0)) + 1
    return np.split(order, new)
