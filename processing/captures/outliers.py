# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings of one sweep that lie on nothing: alone, or between two surfaces at a depth edge.

A reading is *held* by a neighbour when a surface could run through both that the beam still meets
at less than `GRAZING_DEG`, and by two neighbours on one side when it lies on their line. What
nothing holds is an outlier. Then, with those gone, three readings on either side are fitted by a
line each (in 1/r, see `scatter`): a reading off the one line that all six lie on is alone; one
that hangs between two lines of different depth is a mixed return, where the beam's spot met both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .sweeps import Sweep

Bools = NDArray[np.bool_]

GRAZING_DEG = 80.0
"""Surfaces met more slantingly than this from the normal hold a reading by their line only."""

CLOSE_DEG = 60.0
"""Readings two or three places on hold a reading where the surface between is met at less than
this: so the readings on two surfaces seen in turns (slats, a grille, a plant) hold each other."""

K_LINE = 5.0
"""Standard errors by which a reading must miss a line not to lie on it."""

CHI2_ALIGNED = 18.5
"""Six readings are on one line below this (chi-square of four degrees, 0.1 %)."""

CHI2_SIDE = 10.8
"""Three readings are on one line below this (chi-square of one degree, 0.1 %)."""

EDGE_SIGMAS = 12.0
"""Two lines differ in depth at a reading when they do by this many standard errors."""


@dataclass(frozen=True)
class _Beam:
    """Standard errors of distance (m) and angle (rad)."""

    distance: float
    angle: float

    def sigma(self, r: Floats, slope: Floats) -> Floats:
        """Along the beam, on a surface with dr/da = slope."""
        return np.hypot(self.distance, np.abs(slope) * self.angle) + 0.0 * r


def stray_readings(
    sweep: Sweep, distance_m: Floats, sigma_distance_m: float, sigma_angle_rad: float
) -> tuple[Bools, Bools]:
    """Which readings of a sweep ``(m,)`` are isolated and which are mixed returns.

    `distance_m (m,)` are the horizontal distances, all finite and above 0.
    """
    m = len(sweep)
    isolated, mixed = np.zeros(m, dtype=bool), np.zeros(m, dtype=bool)
    if m < 4:
        return isolated, mixed
    beam = _Beam(sigma_distance_m, sigma_angle_rad)
    loose = ~_held(sweep, distance_m, beam)
    between = _between_surfaces(sweep, distance_m, ~loose)
    isolated |= loose & ~between
    mixed |= loose & between

    kept = np.flatnonzero(~loose)
    alone, hanging = _off_lines(sweep.only(~loose), distance_m[kept], beam)
    isolated[kept[alone]] = True
    mixed[kept[hanging]] = True
    return isolated, mixed


def _held(sweep: Sweep, r: Floats, beam: _Beam) -> Bools:
    """Which readings a neighbour or two neighbours in line hold; readings without any neighbour
    are not judged."""
    steepest = np.tan(np.radians(GRAZING_DEG))
    close = np.tan(np.radians(CLOSE_DEG))
    held = np.zeros(len(r), dtype=bool)
    judged = np.zeros(len(r), dtype=bool)
    for side in (-1, 1):
        one, near_one, turn_one = sweep.neighbour(side)
        two, near_two, turn_two = sweep.neighbour(2 * side)
        reach = np.minimum(r, r[one]) * np.abs(turn_one) * steepest
        doubt = np.sqrt(2.0) * beam.sigma(r, np.minimum(r, r[one]) * steepest)
        held |= near_one & (np.abs(r - r[one]) <= reach + 4.0 * doubt)
        judged |= near_one
        for offset in (2, 3):
            other, near, turn = sweep.neighbour(offset * side)
            reach = np.minimum(r, r[other]) * np.abs(turn) * close
            doubt = np.sqrt(2.0) * beam.sigma(r, np.minimum(r, r[other]) * close)
            held |= near & (np.abs(r - r[other]) <= reach + 4.0 * doubt)

        apart = np.abs(turn_two - turn_one)
        good = near_one & near_two & (apart > 0.0)
        apart = np.where(good, apart, 1.0)
        # The line through both, carried on: 1/r is a sum of sin a and cos a.
        u = (np.sin(np.abs(turn_two)) / r[one] - np.sin(np.abs(turn_one)) / r[two]) / np.sin(apart)
        good &= u > 0.0
        u = np.where(good, u, 1.0)
        slope = (r[two] - r[one]) / apart
        f = np.abs(turn_one) / apart
        doubt = beam.sigma(r, slope) * np.sqrt(1.0 + (1.0 + f) ** 2 + f**2)
        # Two readings far apart in depth are no surface to be carried on.
        good &= np.abs(slope) < 4.0 * steepest * np.minimum(r[one], r[two])
        held |= good & (np.abs(r - 1.0 / u) <= 4.0 * doubt)
    return held | ~judged


def _between_surfaces(sweep: Sweep, r: Floats, good: Bools) -> Bools:
    """Which readings lie, in depth, strictly between the next good ones on both sides that differ
    as two surfaces do."""
    m = len(r)
    if not good.any():
        return np.zeros(m, dtype=bool)
    place = np.flatnonzero(good)
    after = np.searchsorted(place, np.arange(m), side="left")
    last = np.searchsorted(place, np.arange(m), side="right") - 1
    inside = sweep.closed | ((after < len(place)) & (last >= 0))
    one, two = r[place[last % len(place)]], r[place[after % len(place)]]
    low, high = np.minimum(one, two), np.maximum(one, two)
    edge = high - low > 3.0 * low * sweep.step_rad * np.tan(np.radians(GRAZING_DEG))
    return inside & edge & (r > low) & (r < high)


def _side(sweep: Sweep, r: Floats, side: int) -> tuple[Bools, Floats, Floats]:
    """Three readings on a side: whether they are there, and their angles and distances ``(m, 3)``,
    nearest first."""
    there = np.ones(len(r), dtype=bool)
    turns, ranges = [], []
    for k in (1, 2, 3):
        place, near, turn = sweep.neighbour(k * side)
        there &= near
        turns.append(turn)
        ranges.append(r[place])
    return there, np.stack(turns, axis=-1), np.stack(ranges, axis=-1)


@dataclass(frozen=True, eq=False)
class _LineFit:
    """Lines fitted to ``k`` readings beside each of ``m``, as seen at that reading's angle: the
    distance, its standard error, the slope dr/da and the chi-square of the fit."""

    distance: Floats
    sigma: Floats
    slope: Floats
    chi2: Floats

    @classmethod
    def of(cls, turn: Floats, r: Floats, beam: _Beam) -> _LineFit:
        """Weighted least squares of 1/r = c cos a + s sin a; angles ``(m, k)`` from the reading."""
        cos, sin, u = np.cos(turn), np.sin(turn), 1.0 / r
        slope = np.zeros(r.shape)
        for _ in range(2):
            # The slope of the first fit says how much of the angle's error each reading takes.
            weight = 1.0 / np.square(beam.sigma(r, slope) * u * u)
            cc = np.sum(weight * cos * cos, axis=1)
            cs = np.sum(weight * cos * sin, axis=1)
            ss = np.sum(weight * sin * sin, axis=1)
            bc = np.sum(weight * cos * u, axis=1)
            bs = np.sum(weight * sin * u, axis=1)
            det = np.maximum(cc * ss - cs * cs, 1e-300)
            c, s = (ss * bc - cs * bs) / det, (cc * bs - cs * bc) / det
            fit = c[:, None] * cos + s[:, None] * sin
            rate = -c[:, None] * sin + s[:, None] * cos
            slope = -rate / np.square(np.maximum(fit, 1e-6))
        chi2 = np.sum(weight * np.square(u - fit), axis=1)
        distance = 1.0 / np.maximum(c, 1e-6)
        return cls(distance, np.sqrt(ss / det) * distance**2, -s * distance**2, chi2)


def _off_lines(sweep: Sweep, r: Floats, beam: _Beam) -> tuple[Bools, Bools]:
    """Which readings stand off the line of six neighbours, and which hang between the two lines of
    three neighbours each."""
    if len(r) < 7:
        none = np.zeros(len(r), dtype=bool)
        return none, none
    left, turn_left, r_left = _side(sweep, r, -1)
    right, turn_right, r_right = _side(sweep, r, 1)
    both = left & right

    whole = _LineFit.of(
        np.concatenate([turn_left, turn_right], axis=1),
        np.concatenate([r_left, r_right], axis=1),
        beam,
    )
    off = np.abs(r - whole.distance) / np.hypot(whole.sigma, beam.sigma(r, whole.slope))
    alone = both & (whole.chi2 < CHI2_ALIGNED) & (off > K_LINE)

    one, two = _LineFit.of(turn_left, r_left, beam), _LineFit.of(turn_right, r_right, beam)
    low = np.where(one.distance < two.distance, one.distance, two.distance)
    high = np.where(one.distance < two.distance, two.distance, one.distance)

    def clear(fit: _LineFit) -> Bools:
        return np.abs(r - fit.distance) > K_LINE * np.hypot(fit.sigma, beam.sigma(r, fit.slope))

    edge = high - low > EDGE_SIGMAS * np.hypot(one.sigma, two.sigma)
    hanging = both & (one.chi2 < CHI2_SIDE) & (two.chi2 < CHI2_SIDE) & edge
    hanging &= (r > low) & (r < high) & clear(one) & clear(two)
    return alone, hanging & ~alone
