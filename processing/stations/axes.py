# SPDX-License-Identifier: GPL-2.0-or-later
"""A building's main axes, from the directions of its faces: what plan north and squaring share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats

LONG_M = 0.5
"""Shorter faces say nothing about the axes."""

NEAR_AXIS_RAD = np.radians(3.0)
"""Only faces this near to the first guess decide the axes."""

BUILT_SQUARE_RAD = np.radians(0.05)
"""What walls that were meant square are out of square (1 sigma; common practice: about 1 mm a
metre): it keeps one very well measured wall from deciding the axes alone."""


@dataclass(frozen=True, eq=False)
class Axes:
    """The axes of a building: azimuth (rad, 0 to a quarter turn) of one of them, the
    others every quarter turn, and its standard error (infinite where no face is long enough).
    `weight (F,)` tells how much each face has decided; zero for most short ones."""

    azimuth_rad: float
    sigma_rad: float
    weight: Floats

    def told_by_others(self, normal_rad: Floats, sigma_rad: Floats) -> tuple[Floats, Floats]:
        """Differences ``(F,)`` of all faces from the axis that the other faces alone tell, and the
        standard errors of these; infinite where there are no others."""
        total = self.weight.sum()
        rest = np.maximum(total - self.weight, 0.0)
        alone = rest <= 1e-9 * total
        rest = np.where(alone, np.inf, rest)
        squares = self.weight**2 * sigma_rad**2
        others = np.maximum(squares.sum() - squares, 0.0) / rest**2
        away = quarter(normal_rad - self.azimuth_rad) * np.where(alone, 1.0, total / rest)
        return away, np.where(alone, np.inf, np.sqrt(sigma_rad**2 + others))


def quarter(angle_rad: Floats | float) -> Floats:
    """Angles brought into [-45, 45) degrees by quarter turns (radians)."""
    return (np.asarray(angle_rad, dtype=float) + np.pi / 4) % (np.pi / 2) - np.pi / 4


def axes_of(normal_rad: Floats, length_m: Floats, sigma_rad: Floats) -> Axes:
    """The axes of a building from the azimuths ``(F,)`` of its faces' normals, their lengths and
    standard errors of direction.

    First guess: the direction within 1.5 degrees of which, by quarter turns, most length lies. Then
    the weighted mean of the long faces near it, by Huber weights (Huber, *Robust Statistics*,
    section 3.2, k = 1.345).
    """
    use = np.flatnonzero(length_m >= LONG_M)
    weight_of = np.zeros(len(normal_rad))
    if not len(use):
        return Axes(0.0, np.inf, weight_of)
    angle, length = normal_rad[use], length_m[use]
    support = _length_within(angle, length, np.radians(1.5))
    guess = float(angle[int(np.argmax(np.round(support, 6)))])
    near = np.abs(quarter(angle - guess)) < NEAR_AXIS_RAD
    d, sigma = quarter(angle[near] - guess), sigma_rad[use][near]
    variance = sigma**2 + BUILT_SQUARE_RAD**2
    mean = float(np.median(d))
    weight = 1.0 / variance
    for _ in range(20):
        size = np.abs(d - mean) / np.sqrt(variance)
        weight = np.minimum(1.0, 1.345 / np.maximum(size, 1e-12)) / variance
        mean = float(np.sum(weight * d) / np.sum(weight))
    # What the readings do not tell of the axis; how square the walls were built plays no part.
    sigma_axis = float(np.sqrt(np.sum(weight**2 * sigma**2)) / np.sum(weight))
    weight_of[use[near]] = weight
    return Axes(float((guess + mean) % (np.pi / 2)), sigma_axis, weight_of)


def _length_within(angle: Floats, length: Floats, reach: float) -> Floats:
    """The length ``(F,)`` of all faces whose direction lies, by quarter turns, nearer to each one's
    than `reach`. Directions in order are summed once, as a table of all pairs would grow with the
    square of the faces."""
    direction = quarter(angle)
    order = np.argsort(direction, kind="stable")
    # A quarter turn before and after, so that what lies across the cut is counted.
    once = direction[order]
    sorted_thrice = np.concatenate([once - np.pi / 2, once, once + np.pi / 2])
    total = np.concatenate([[0.0], np.cumsum(np.tile(length[order], 3))])
    first = np.searchsorted(sorted_thrice, direction - reach, side="right")
    last = np.searchsorted(sorted_thrice, direction + reach, side="left")
    return np.asarray(total[last] - total[first])
