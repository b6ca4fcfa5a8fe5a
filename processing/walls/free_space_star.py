# SPDX-License-Identifier: GPL-2.0-or-later
"""The star-shaped space that the readings of one set-up passed through.

In order of direction they bound a polygon around the instrument. Directions without a usable return
bound nothing: they are *veiled* (glass, a gap, a part of the circle that was not measured), which
says neither free nor solid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, azimuth_of, wrap_half
from ..captures.model import Capture, Flag, Ints, Kind
from ..stations.model import Network

WIDEST_STEP = 3.5
"""Neighbouring readings further apart than so many usual steps have a gap between them."""
JUMP_M = 0.3
"""A change of distance between neighbours from which the nearer one bounds what is free, unless
both lie on one wall seen at a flat angle."""
ALIKE_M = 0.1
"""An outlier has no neighbour whose distance differs by less."""
RETURNS = (Flag.USABLE, Flag.MIXED, Flag.ISOLATED, Flag.THROUGH_GLASS)
"""Flags of readings that came back from a believable place."""
BESIDE_GLASS, GLASS_SHARE = 10, 0.2
"""Where this share of so many readings to both sides went through glass, the others may have come
from the pane, which lets a third of the beams through at least (common practice)."""
VEIL_REACH_M = 6.0
"""How far a veiled direction excuses that nothing was seen."""


@dataclass(frozen=True, eq=False)
class Star:
    """The star-shaped free space of one station.

    `bearing_rad (n,)` ascending plan azimuths and `reach_m (n,)` of its readings; `step_rad (n,)`
    the turn to the next one, `open (n,)` whether readings without a use lie between the two,
    `flat (n,)` whether both lie on one wall or pane, `glazed (n,)` whether readings close by went
    through glass, `sure (n,)` whether a reading lies on a wall
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
    glazed: NDArray[np.bool_]
    sure: NDArray[np.bool_]
    glass_m: Floats
    return_rad: Floats
    return_m: Floats
    return_at: Ints

    def without_glass(self) -> Star:
        """The same, but that nothing is known where glass stands."""
        return replace(self, open=self.open | self.glazed)

    def between(self, start_m: Floats, end_m: Floats) -> Ints:
        """The readings (places) in the directions of the line from start to end."""
        return _between(self.bearing_rad, self.centre_m, start_m, end_m)

    def returns_between(self, start_m: Floats, end_m: Floats) -> Ints:
        """What came back (places among the returns) from the directions of the line from start to
        end, strays and readings through glass as well."""
        return _between(self.return_rad, self.centre_m, start_m, end_m)

    def look(self, points_m: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which points ``(m, 2)`` are free and which are veiled, as two masks ``(m,)``."""
        distance, limit, veiled = self._towards(points_m)
        return ~veiled & (distance <= limit), veiled & (distance <= VEIL_REACH_M)

    def beyond(self, points_m: Floats, way: Floats) -> Floats:
        """How much further along unit vectors ``way (m, 2)`` the beams past points ``(m, 2)`` went,
        ``(m,)``; none past a point or back counts as 0."""
        distance, limit, veiled = self._towards(points_m)
        onward = np.einsum("ij,ij->i", points_m - self.centre_m, way)
        with np.errstate(divide="ignore", invalid="ignore"):
            further = np.fmax(limit - distance, 0.0) * onward / distance
        return np.where(veiled, 0.0, np.fmax(further, 0.0))

    def _towards(self, points_m: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """The distances ``(m,)`` of points ``(m, 2)``, up to which it is free in their directions,
        and whether these are veiled."""
        if len(self.bearing_rad) < 2:
            nothing = np.zeros(len(points_m))
            return nothing + 1.0, nothing, nothing > 0.0
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
        return distance, limit, self.open[first]


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


def _beside(bearing_rad: Floats, through_rad: Floats) -> NDArray[np.bool_]:
    """For which of the ascending azimuths ``(n,)`` enough of the readings around them went through
    glass, in the directions `through_rad (k,)`."""
    count = len(bearing_rad)
    if not len(through_rad) or count <= 2 * BESIDE_GLASS:
        return np.zeros(count, dtype=bool)
    at = np.searchsorted(bearing_rad, through_rad, side="right") - 1
    hits = np.bincount(at % count, minlength=count)
    total = np.cumsum(np.concatenate([hits[-BESIDE_GLASS - 1 :], hits, hits[:BESIDE_GLASS]]))
    around = total[2 * BESIDE_GLASS + 1 :] - total[: -2 * BESIDE_GLASS - 1]
    enough: NDArray[np.bool_] = around >= GLASS_SHARE * (2 * BESIDE_GLASS + 1)
    return enough


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
    through = bearing_rad[(capture.flag == Flag.THROUGH_GLASS) & (capture.kind == Kind.RING)]
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
        glazed=_beside(bearing, through),
        sure=(wall >= 0) | (np.minimum(change, np.roll(change, 1)) < ALIKE_M),
        glass_m=network.to_plan(index, capture.xy_m[capture.flag == Flag.THROUGH_GLASS]),
        return_rad=bearing_rad[returned],
        return_m=network.to_plan(index, capture.xy_m[returned]),
        return_at=returned,
    )
