# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings of one sweep that lie on nothing: alone, or between two surfaces at a depth edge.

A reading is *held* by a neighbour when a surface could run through both that the beam still meets
at less than `GRAZING_DEG`, and by two neighbours on one side when it lies on their line. What
nothing holds is an outlier. Then, with those gone, three readings on either side are fitted by a
line each: a reading off the one line that all six lie on is alone; one that hangs between two
lines of different depth is a mixed return, where the beam's spot met both.

Everything is measured across the lines, with each reading's error there (range and angle by the
incidence, `faces_fit.ReadingNoise`), so that walls may be met as slantingly as they like.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from .faces_fit import ReadingNoise, lines_of
from .model import Bools
from .sweeps import Sweep

GRAZING_DEG = 80.0
"""Surfaces met more slantingly than this from the normal hold a reading by their line only."""

CLOSE_DEG = 60.0
"""Readings two or three places on hold a reading where the surface between is met at less than
this: so the readings on two surfaces seen in turns (slats, a grille, a plant) hold each other."""

SLANTING_DEG = 89.5
"""Two readings more slanting than this are on two surfaces, one behind the other."""

FARTHEST = 5.0
"""Two readings hold a third up to this many lengths between them away; on even steps it is 1.5."""

K_HELD = 4.0
"""Standard errors within which a reading lies on a line."""

K_LINE = 5.0
"""Standard errors by which a reading must miss a line to be told as missing it."""

CHI2_ALIGNED = 18.5
"""Six readings are on one line below this (chi-square of four degrees, 0.1 %)."""

CHI2_SIDE = 10.8
"""Three readings are on one line below this (chi-square of one degree, 0.1 %)."""

EDGE_SIGMAS = 12.0
"""Six readings are on two surfaces where they miss one line by this many standard errors in all
(root of the chi-square)."""


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
    noise = ReadingNoise(sigma_distance_m, sigma_angle_rad)
    loose = ~_held(sweep, distance_m, noise)
    between = _between_surfaces(sweep, distance_m, ~loose)
    isolated |= loose & ~between
    mixed |= loose & between

    kept = np.flatnonzero(~loose)
    alone, hanging = _off_lines(sweep.only(~loose), distance_m[kept], noise)
    isolated[kept[alone]] = True
    mixed[kept[hanging]] = True
    return isolated, mixed


@dataclass(frozen=True, eq=False)
class _Fit:
    """Lines through the ``k`` neighbours of each of ``m`` readings: how many standard errors the
    reading misses its line by, the range where its beam meets the line (infinite where it does
    not), the chi-square of the fit, the cosine of the incidence, and how far the reading lies from
    the neighbours' middle along the line, in lengths between the outer neighbours."""

    miss: Floats
    range_m: Floats
    chi2: Floats
    cosine: Floats
    reach: Floats

    @classmethod
    def of(cls, turn: Floats, r: Floats, own_r: Floats, noise: ReadingNoise) -> _Fit:
        """`turn` and `r (k, m)` are the neighbours' angles from the reading and distances.

        The frame is the reading's: itself at the origin, its beam along +y.
        """
        sine, cosine = np.sin(turn), np.cos(turn)
        x, y = r * sine, r * cosine - own_r
        w = np.ones(r.shape)
        for last in (False, False, True):
            wx, wy = w * x, w * y
            line = lines_of(np.array([w, wx, wy, wx * x, wx * y, wy * y]).sum(axis=1))
            if last:
                break
            incidence = line.normal[:, 0] * sine + line.normal[:, 1] * cosine
            w = 1.0 / noise.variance_across(r, incidence)
        across = np.einsum("ij,ij->i", line.normal, line.centre_m)
        lever = np.einsum("ij,ij->i", line.direction, line.centre_m)
        along = np.maximum(line.along, 1e-12)
        own = noise.variance_across(own_r, line.normal[:, 1])
        variance = own + 1.0 / line.weight + lever**2 / along
        with np.errstate(divide="ignore", invalid="ignore"):
            range_m = own_r + across / line.normal[:, 1]
        range_m = np.where(np.isfinite(range_m) & (range_m > 0.0), range_m, np.inf)
        length = np.hypot(x[-1] - x[0], y[-1] - y[0])
        return cls(
            np.abs(across) / np.sqrt(variance),
            range_m,
            line.cost,
            np.abs(line.normal[:, 1]),
            np.abs(lever) / np.maximum(length, 1e-12),
        )


def _beside(sweep: Sweep, r: Floats, offsets: tuple[int, ...]) -> tuple[Bools, Floats, Floats]:
    """The neighbours of every reading at some offsets: whether all are there, and their angles from
    the reading and distances ``(k, m)``."""
    there = np.ones(len(r), dtype=bool)
    turns, ranges = [], []
    for offset in offsets:
        place, near, turn = sweep.neighbour(offset)
        there &= near
        turns.append(turn)
        ranges.append(r[place])
    return there, np.array(turns), np.array(ranges)


def _held(sweep: Sweep, r: Floats, noise: ReadingNoise) -> Bools:
    """Which readings a neighbour or two neighbours in line hold; readings without any neighbour
    are not judged."""
    held = np.zeros(len(r), dtype=bool)
    judged = np.zeros(len(r), dtype=bool)
    for offset, steepest in ((1, GRAZING_DEG), (2, CLOSE_DEG), (3, CLOSE_DEG)):
        for side in (-1, 1):
            open_ = np.flatnonzero(~held)
            place, near, turn = sweep.neighbour(offset * side)
            near, turn = near[open_], turn[open_]
            own, other = r[open_], r[place[open_]]
            slope = np.minimum(own, other) * np.tan(np.radians(steepest))
            doubt = np.sqrt(2.0) * np.hypot(noise.distance_m, slope * noise.angle_rad)
            held[open_] = near & (np.abs(own - other) <= slope * np.abs(turn) + K_HELD * doubt)
            judged[open_] |= near & (offset == 1)
    for side in (-1, 1):
        there, turns, ranges = _beside(sweep, r, (side, 2 * side))
        open_ = np.flatnonzero(there & ~held)
        fit = _Fit.of(turns[:, open_], ranges[:, open_], r[open_], noise)
        slanting = fit.cosine < np.cos(np.radians(SLANTING_DEG))
        held[open_] = (fit.miss <= K_HELD) & (fit.reach < FARTHEST) & ~slanting
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


def _off_lines(sweep: Sweep, r: Floats, noise: ReadingNoise) -> tuple[Bools, Bools]:
    """Which readings stand off the line of six neighbours, and which hang between the two lines of
    three neighbours each."""
    if len(r) < 7:
        none = np.zeros(len(r), dtype=bool)
        return none, none
    left, turn_left, r_left = _beside(sweep, r, (-1, -2, -3))
    right, turn_right, r_right = _beside(sweep, r, (1, 2, 3))
    both = np.flatnonzero(left & right)
    turns = np.concatenate([turn_left, turn_right])[:, both]
    ranges = np.concatenate([r_left, r_right])[:, both]
    own = r[both]
    whole = _Fit.of(turns, ranges, own, noise)
    alone = np.zeros(len(r), dtype=bool)
    alone[both] = (whole.chi2 < CHI2_ALIGNED) & (whole.miss > K_LINE)

    # What is seen first ends at its nearest reading; what is behind it begins where the beam meets
    # its line.
    one, two = ranges[0], ranges[3]
    between = (own > np.minimum(one, two)) & (own < np.maximum(one, two))
    edge = np.flatnonzero((whole.chi2 > EDGE_SIGMAS**2) & between)
    own = own[edge]
    one = _Fit.of(turns[:3, edge], ranges[:3, edge], own, noise)
    two = _Fit.of(turns[3:, edge], ranges[3:, edge], own, noise)
    low, high = np.minimum(one.range_m, two.range_m), np.maximum(one.range_m, two.range_m)
    straight = (one.chi2 < CHI2_SIDE) & (two.chi2 < CHI2_SIDE)
    clear = (one.miss > K_LINE) & (two.miss > K_LINE)
    hanging = np.zeros(len(r), dtype=bool)
    hanging[both[edge]] = straight & clear & (own > low) & (own < high)
    return alone, hanging
