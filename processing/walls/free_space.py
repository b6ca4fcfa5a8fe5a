# SPDX-License-Identifier: GPL-2.0-or-later
"""The space that readings passed through: what each station saw to be empty.

The readings of one set-up, taken in order of direction, bound a star-shaped polygon around the
instrument. Directions without a usable return bound nothing: they are *veiled* (glass, a gap, a
part of the circle that was not measured), which says neither free nor solid.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.model import Capture, Flag, Ints, Kind
from ..progress import SILENT, Progress
from ..stations.model import Network
from .free_space_reach import Reach

WIDEST_STEP = 3.5
"""Neighbouring readings further apart than so many usual steps have a gap between them."""
JUMP_M = 0.3
"""A change of distance between neighbours from which the nearer one bounds what is free, unless
both lie on one wall seen at a flat angle."""
ALIKE_M = 0.1
"""An outlier has no neighbour whose distance differs by less."""
PAST_M = 0.05
"""A reading crossed a line when it lies this far beyond it: further than noise."""
RETURNS = (Flag.USABLE, Flag.MIXED, Flag.ISOLATED, Flag.THROUGH_GLASS)
"""Flags of readings that came back from a believable place."""
VEIL_REACH_M = 6.0
"""How far a veiled direction excuses that nothing was seen."""
TILE_M = 2.5
"""Points are looked at by squares, each by the stations that reach it."""


@dataclass(frozen=True, eq=False)
class Star:
    """The star-shaped free space of one station.

    `bearing_rad (n,)` ascending plan azimuths and `reach_m (n,)` of its readings; `step_rad (n,)`
    the turn to the next one, `open (n,)` whether readings without a use lie between the two,
    `flat (n,)` whether both lie on one wall or pane, `sure (n,)` whether a reading lies on a wall
    at all or has its like beside it (else it may be an outlier). `glass_m (k, 2)` are the readings
    flagged as seen through glass, `return_m (r, 2)` all places that something came back from, in
    order of the ascending azimuths `return_rad (r,)`, `return_at (r,)` the places of those readings
    in the capture.
    """

    centre_m: Floats
    bearing_rad: Floats
    reach_m: Floats
    step_rad: Floats
    open: NDArray[np.bool_]
    flat: NDArray[np.bool_]
    sure: NDArray[np.bool_]
    glass_m: Floats
    return_rad: Floats
    return_m: Floats
    return_at: Ints

    def between(self, start_m: Floats, end_m: Floats) -> Ints:
        """The readings (places) in the directions of the line from start to end."""
        return _between(self.bearing_rad, self.centre_m, start_m, end_m)

    def returns_between(self, start_m: Floats, end_m: Floats) -> Ints:
        """What came back (places among the returns) from the directions of the line from start to
        end, strays and readings through glass as well."""
        return _between(self.return_rad, self.centre_m, start_m, end_m)

    def look(self, points_m: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which points ``(m, 2)`` are free and which are veiled, as two masks ``(m,)``."""
        if len(self.bearing_rad) < 2:
            nothing = np.zeros(len(points_m), dtype=bool)
            return nothing, nothing
        offset = points_m - self.centre_m
        distance = np.hypot(offset[:, 0], offset[:, 1])
        bearing = azimuth_of(offset)
        first = np.searchsorted(self.bearing_rad, bearing, side="right") - 1
        first %= len(self.bearing_rad)
        second = (first + 1) % len(self.bearing_rad)
        turned = (bearing - self.bearing_rad[first]) % (2 * np.pi)
        near, far, step = self.reach_m[first], self.reach_m[second], self.step_rad[first]
        left = np.maximum(step - turned, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            # the chord between two readings in polar form
            chord = near * far * np.sin(step) / (near * np.sin(turned) + far * np.sin(left))
        shorter = np.minimum(near, far)
        jumps = (np.abs(near - far) > JUMP_M) & ~self.flat[first]
        limit = np.where(jumps | ~np.isfinite(chord), shorter, chord)
        veiled = self.open[first]
        return ~veiled & (distance <= limit), veiled & (distance <= VEIL_REACH_M)


def _between(bearing_rad: Floats, centre_m: Floats, start_m: Floats, end_m: Floats) -> Ints:
    """The places of the ascending azimuths ``(n,)`` that lie between the directions of two points,
    the shorter way round."""
    # of two directions plain numbers take a tenth of the time of arrays
    (x, y), (from_x, from_y), (to_x, to_y) = centre_m.tolist(), start_m.tolist(), end_m.tolist()
    start, end = math.atan2(from_x - x, from_y - y), math.atan2(to_x - x, to_y - y)
    width = (end - start + math.pi) % (2 * math.pi) - math.pi
    low = (start if width >= 0.0 else end) - 1e-9
    high = low + abs(width) + 2e-9
    first, last = bearing_rad.searchsorted((low, high)).tolist()
    between = np.arange(first, last)
    if high < math.pi:
        return between
    again = int(bearing_rad.searchsorted(high - 2 * math.pi, side="right"))
    return np.concatenate([np.arange(again), between])


def _tiles(points_m: Floats) -> list[Ints]:
    """The places of points ``(m, 2)`` by squares of a grid."""
    if not len(points_m):
        return []
    x, y = np.floor(points_m / TILE_M).astype(np.int64).T
    order = np.lexsort((y, x))
    new = np.flatnonzero((np.diff(x[order]) != 0) | (np.diff(y[order]) != 0)) + 1
    return np.split(order, new)


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

    def look(
        self, points_m: Floats, progress: Progress = SILENT
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which points ``(m, 2)`` some station saw to be free; which of the others are veiled."""
        free, veiled = np.zeros((2, len(points_m)), dtype=bool)
        # What the nearest station saw, which is most, no other is asked about.
        nearest: defaultdict[int, list[Ints]] = defaultdict(list)
        others: defaultdict[int, list[Ints]] = defaultdict(list)
        for own in progress.part(0.0, 0.2).over(_tiles(points_m)):
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
        for asked, start, end in ((nearest, 0.2, 0.5), (others, 0.5, 1.0)):
            for k, tiles in progress.part(start, end).over(sorted(asked.items())):
                at = np.concatenate(tiles)
                at = at[~free[at]]
                free[at], more = self.stars[k].look(points_m[at])
                veiled[at] |= more
        return free, veiled & ~free

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


def star_of(
    capture: Capture,
    network: Network,
    index: int,
    wall_of_reading: Ints,
    pane_m: Floats | None = None,
) -> Star:
    """The free space of the station with this index, from its usable ring readings.

    `wall_of_reading (n,)` is the wall face of each of the capture's readings, or -1; `pane_m (n,)`
    how far each came before it crossed a pane of glass, or infinity: so far is free.
    """
    reach_m = capture.distance_m
    usable = capture.usable_ring & np.isfinite(reach_m)
    if pane_m is not None:
        usable |= np.isfinite(pane_m)
        reach_m = np.fmin(reach_m, pane_m)
    usable = np.flatnonzero(usable)
    bearing_rad = wrap_half(capture.angle_rad + network.orientation_rad[index])
    bearing = bearing_rad[usable]
    order = np.lexsort((capture.seq[usable], bearing))
    usable, bearing = usable[order], bearing[order]
    count = len(usable)
    step = np.zeros(count)
    if count > 1:
        step[:-1] = np.diff(bearing)
        step[-1] = bearing[0] + 2 * np.pi - bearing[-1]
    turned = step[step > 1e-9]
    usual = float(np.median(turned)) if turned.size else 2 * np.pi
    wall = wall_of_reading[usable] if len(wall_of_reading) else np.full(count, -1)
    change = np.abs(np.roll(reach_m[usable], -1) - reach_m[usable])
    flat = (wall >= 0) & (wall == np.roll(wall, -1))
    if pane_m is not None:  # a pane is flat, whatever it sent back
        pane = np.isfinite(pane_m[usable])
        flat |= (pane | np.roll(pane, -1)) & (change < JUMP_M)
    lost = np.flatnonzero(capture.kind == Kind.RING)
    lost = lost[~np.isin(lost, usable)]
    missing = np.zeros(count, dtype=bool)
    if count:
        missing[np.searchsorted(bearing, bearing_rad[lost], side="right") - 1] = True
    returned = np.flatnonzero(
        np.isin(capture.flag, RETURNS)
        & np.isfinite(capture.distance_m)
        & (capture.kind == Kind.RING)
    )
    returned = returned[np.argsort(bearing_rad[returned], kind="stable")]
    return Star(
        centre_m=network.xy_m[index],
        bearing_rad=bearing,
        reach_m=reach_m[usable],
        step_rad=step,
        # glass lets single readings through: between them nothing is known to be free
        open=(step > min(WIDEST_STEP * usual, np.pi / 4)) | (missing & ~flat),
        flat=flat,
        sure=(wall >= 0) | (np.minimum(change, np.roll(change, 1)) < ALIKE_M),
        glass_m=network.to_plan(index, capture.xy_m[capture.flag == Flag.THROUGH_GLASS]),
        return_rad=bearing_rad[returned],
        return_m=network.to_plan(index, capture.xy_m[returned]),
        return_at=returned,
    )
