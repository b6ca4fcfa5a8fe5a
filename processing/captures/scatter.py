# SPDX-License-Identifier: GPL-2.0-or-later
"""How much the readings of a capture scatter, told from the readings alone.

A straight wall at perpendicular distance p in direction b shows the range r(a) = p / cos(a - b),
so that 1/r is a sum of sin a and cos a: from two neighbours on the wall the reading between
them follows exactly, whatever the incidence. What differs is noise, or no wall.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .model import Capture
from .sweeps import sweeps_of

FEWEST = 40
"""Fewer triples than this tell nothing."""

INNER = 0.5
"""The share of the smallest residuals that the estimate rests on: corners, clutter and outliers
are among the rest."""
# RMS of the smaller half of absolute values of a normal variable of sigma 1:
# sqrt(1 - 2 z f(z) / 0.5), f the normal density, z = 0.6745 its 75 % point.
_INNER_RMS = 0.3776

STEPS_M = tuple(
    sorted(
        [m * 10.0**e for e in (-4, -3, -2, -1) for m in (1.0, 2.0, 5.0)]
        + [0.3048 * k for k in (0.01, 0.1, 1 / 12, 1 / 24, 1 / 48, 1 / 96)],
        reverse=True,
    )
)
"""Steps that instruments round distances to (m), coarsest first."""


def rounding_step_m(capture: Capture) -> float:
    """The step that all distances of a capture are multiples of; 0 when none is found."""
    distance = capture.slope_distance_m + capture.distance_zero_m
    distance = distance[np.isfinite(distance) & (distance < 1e3)]
    if len(distance) < FEWEST:
        return 0.0
    for step in STEPS_M:
        count = distance / step
        if np.all(np.abs(count - np.round(count)) < 1e-6 * np.maximum(count, 1.0)):
            return step
    return 0.0


def triple_residuals(capture: Capture) -> tuple[Floats, Floats]:
    """Residuals (m) of usable ring readings from the wall through their two neighbours, where that
    wall is met at less than 60 degrees, and the slopes dr/da (m per rad) of that wall there.

    The residual's variance from ranges alone is 1.5 times the reading's on even steps.
    """
    residuals, slopes = [np.empty(0)], [np.empty(0)]
    usable = capture.usable_ring & (np.nan_to_num(capture.distance_m) > 0.0)
    for sweep in sweeps_of(capture):
        sweep = sweep.only(usable[sweep.at])
        if len(sweep) < 3:
            continue
        distance = capture.distance_m[sweep.at]
        before, near_before, back = sweep.neighbour(-1)
        after, near_after, ahead = sweep.neighbour(1)
        good = near_before & near_after & (back < 0.0) & (ahead > 0.0)
        if not good.any():
            continue
        r, a, b = distance[good], -back[good], ahead[good]
        r0, r1 = distance[before[good]], distance[after[good]]
        inverse = (np.sin(b) / r0 + np.sin(a) / r1) / np.sin(a + b)
        slope = (r1 - r0) / (a + b)
        smooth = np.abs(slope) < np.sqrt(3.0) * np.minimum(r0, r1)
        residuals.append((r - 1.0 / inverse)[smooth])
        slopes.append(slope[smooth])
    return np.concatenate(residuals), np.concatenate(slopes)


def distance_scatter_m(capture: Capture, sigma_angle_rad: float) -> tuple[float, int]:
    """The standard error (m) of a distance that a capture's readings show, with the part that
    the angle's error explains taken out, and the number of readings behind it.

    NaN when too few readings lie along anything smooth.
    """
    residual, slope = triple_residuals(capture)
    if len(residual) < FEWEST:
        return float("nan"), len(residual)
    absolute = np.abs(residual)
    inner = absolute <= np.quantile(absolute, INNER)
    total = np.mean(np.square(residual[inner])) / _INNER_RMS**2 / 1.5
    angle = np.mean(np.square(slope[inner] * sigma_angle_rad))
    return float(np.sqrt(max(total - angle, 0.0))), len(residual)
