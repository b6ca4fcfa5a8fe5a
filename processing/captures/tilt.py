# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether the ring was level: as reported, and as far as the walls tell.

A ring tilted by t cuts vertical walls in a tilted plane: distances in the direction of the tilt are
too long by 1 / cos t, across it they are right, and the beam leaves the height of the cut by up to
d sin t. So walls stay straight and parallel, and those at right angles no longer are: by up to
t^2 / 2 (0.04 deg at 2 deg, 0.22 deg at 5 deg), least where the tilt runs along a wall. That is
within what buildings themselves deviate by, so that a tilt below about 5 deg cannot be seen in a
ring. Floor and ceiling, met at h / tan t, show as straight faces: a ring does not tell them from
walls.
"""

from __future__ import annotations

from math import cos, degrees, radians, sqrt

import numpy as np

from ..angles import Floats, azimuth_of
from .faces_fit import Moments, ReadingNoise, lines_of
from .model import Capture, Flag, Remark
from .reported import TILT_DEG
from .turns import FULL_RAD, Turn

SIGMAS = 3.0
"""A reading is flagged where the tilt may lengthen it by more than this many standard errors."""

SKEW_DEG = (0.2, 1.0)
"""Walls whose two directions differ from a right angle by as much as this may be those of a tilted
ring: less is within what buildings deviate by, more would be a tilt beyond 10 deg."""

SKEW_SIGMAS = 5.0

WINDOW = 0.04
"""The share of a turn whose line tells a direction (14 deg: 0.75 m of a wall at 3 m),"""

FEWEST_IN_WINDOW = 12
"""with so many readings at least,"""

OVERLAP = 4
"""taken at each such part of its length; then three of them are worth one that stands alone."""

CHI2_STRAIGHT = 1.5

NEAR_RAD = float(np.radians(2.0))
"""Directions closer to each other than this belong to the same walls."""

SHARE = 0.6
"""This share of all straight windows must stand in the two directions."""

FEWEST = 6
"""Windows in each direction."""


def check_level(
    capture: Capture, turns: list[Turn], noise: ReadingNoise
) -> tuple[Capture, tuple[Remark, ...]]:
    """The capture with readings flagged that a reported tilt lengthens beyond their noise, and
    remarks with the figures."""
    tilt = abs(capture.tilt_deg)
    if not np.isfinite(tilt):
        return capture, _skewed(turns, noise)
    if tilt <= TILT_DEG:
        return capture, ()
    share = 1.0 - cos(radians(tilt))
    # A file that gives the zenith of each reading has taken the tilt into account.
    level = capture.zenith_deg == 90.0
    too_long = level & (capture.distance_m * share > SIGMAS * noise.distance_m)
    before = int(capture.usable.sum())
    capture = capture.with_flags(too_long, Flag.TILTED)
    flagged = before - int(capture.usable.sum())
    if not flagged:
        return capture, ()
    limit = SIGMAS * noise.distance_m / share
    sentence = (
        f"{flagged} readings beyond {limit:.1f} m may be more than {3e3 * noise.distance_m:.0f} mm "
        "too long by the tilt and are flagged as tilted."
    )
    return capture, (Remark("level", sentence, again=True),)


def _skewed(turns: list[Turn], noise: ReadingNoise) -> tuple[Remark, ...]:
    if not turns:
        return ()
    skew, sigma = skew_deg(max(turns, key=len), noise)
    if not SKEW_DEG[0] <= abs(skew) <= SKEW_DEG[1] or abs(skew) < SKEW_SIGMAS * sigma:
        return ()
    tilt = degrees(sqrt(2.0 * radians(abs(skew))))
    return (
        Remark(
            "level",
            f"The walls stand in two directions that miss a right angle by {abs(skew):.2f} deg "
            f"(standard error {sigma:.2f} deg): the building is out of square, or the instrument "
            f"stood tilted by {tilt:.0f} deg or more. No tilt is reported: check its level.",
        ),
    )


def skew_deg(turn: Turn, noise: ReadingNoise) -> tuple[float, float]:
    """By how much the two directions that most walls of a turn stand in differ from a right angle,
    and the standard error; NaN where most walls do not stand in two directions."""
    nothing = float("nan"), float("nan")
    azimuth, sigma = _directions(turn, noise)
    if len(azimuth) < 2 * FEWEST:
        return nothing
    weight = 1.0 / sigma**2
    main = _direction(azimuth, weight, 4)
    off = _folded(azimuth - main, np.pi)
    one = np.abs(off) < NEAR_RAD
    two = np.abs(np.abs(off) - np.pi / 2.0) < NEAR_RAD
    if min(one.sum(), two.sum()) < FEWEST or (one | two).mean() < SHARE:
        return nothing
    middle: list[float] = []
    variance = 0.0
    for own, base in ((one, 0.0), (two, np.pi / 2.0)):
        turned, w = _folded(off[own] - base, np.pi), weight[own]
        rest = turned - float(np.median(turned))
        spread = max(1.4826 * float(np.median(np.abs(rest))), float(np.median(sigma[own])))
        near = np.abs(rest) < 3.0 * spread
        # Walls of one direction differ by more than their errors: none may decide alone.
        w = 1.0 / (1.0 / w[near] + spread**2)
        middle.append(float(np.sum(w * turned[near]) / np.sum(w)))
        variance += (OVERLAP - 1) / float(np.sum(w))
    return degrees(middle[1] - middle[0]), degrees(sqrt(variance))


def _directions(turn: Turn, noise: ReadingNoise) -> tuple[Floats, Floats]:
    """Azimuths of the normals of straight windows ``(k,)`` of a turn and their standard errors."""
    m = len(turn)
    window = max(FEWEST_IN_WINDOW, int(WINDOW * FULL_RAD / max(turn.step_rad, 1e-4)))
    start = np.arange(0, m - window + 1, max(1, window // OVERLAP))
    if not len(start):
        return np.empty(0), np.empty(0)
    r, a = turn.distance_m, turn.angle_rad
    xy = np.stack([r * np.sin(a), r * np.cos(a)], axis=-1)
    stop = start + window
    rough = lines_of(Moments.of(xy, np.full(m, 1.0 / noise.distance_m**2)).between(start, stop))
    centre = np.hypot(*rough.centre_m.T)
    cosine = np.abs(np.einsum("ij,ij->i", rough.normal, rough.centre_m)) / np.maximum(centre, 1e-9)
    # One variance a window: it is narrow.
    factor = noise.variance_across(centre, cosine) / noise.distance_m**2
    cost = rough.cost / factor
    sigma = np.sqrt(factor / np.maximum(rough.along, 1e-12))
    good = (cost < CHI2_STRAIGHT * (window - 2)) & (sigma < np.radians(1.0)) & (cosine > 0.2)
    azimuth = azimuth_of(rough.normal[good])
    return azimuth, sigma[good]


def _direction(azimuth: Floats, weight: Floats, fold: int) -> float:
    """The weighted mean azimuth of directions that repeat `fold` times a turn."""
    return float(
        np.arctan2(np.sum(weight * np.sin(fold * azimuth)), np.sum(weight * np.cos(fold * azimuth)))
        / fold
    )


def _folded(angle: Floats, period: float) -> Floats:
    return np.asarray((angle + period / 2.0) % period - period / 2.0)
