# SPDX-License-Identifier: GPL-2.0-or-later
"""How much the readings of a capture scatter, told from the readings alone.

A straight wall at perpendicular distance p in direction b shows the range r(a) = p / cos(a - b),
so that 1/r is a sum of sin a and cos a: from two neighbours on the wall the reading between
them follows exactly, whatever the incidence. What differs is noise, or no wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from ..angles import Floats
from .model import Capture
from .sweeps import sweeps_of

STEEP = float(np.sqrt(3.0))
"""Tangent of the incidence from which the angle's error tells more than the distance's (60 deg)."""

GRAZING = 8.0
"""Beyond this tangent (83 deg) neighbours are on different things more often than on one wall."""

UNEVEN = 0.5
"""The two halves of a triple on one wall differ in slope by less than this share."""

FEWEST = 40
"""Fewer triples than this tell nothing."""

BASE_RAD = float(np.radians(0.7))
"""The neighbours of a triple are about this far from it, and at least one step."""

WIDEST_RAD = float(np.radians(90.0))
"""Readings further apart than this are no neighbours on a wall."""

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
    """The step that all distances of a capture are multiples of; 0 when none is found, as where
    all are equal, which tells of no step."""
    distance = capture.as_read_m
    distance = distance[np.isfinite(distance) & (distance < 1e3)]
    if len(distance) < FEWEST or np.ptp(distance) == 0.0:
        return 0.0
    for step in STEPS_M:
        # Most steps fail on the first few distances.
        if _multiples(distance[:FEWEST], step) and _multiples(distance, step):
            return step
    return 0.0


def _multiples(distance: Floats, step: float) -> bool:
    count = distance / step
    return bool(np.all(np.abs(count - np.round(count)) < 1e-6 * np.maximum(count, 1.0)))


@dataclass(frozen=True, eq=False)
class Triples:
    """``t`` readings and the walls through their two neighbours: the residual along the beam (m),
    the wall's slope dr/da there (m per rad), the tangent of the incidence, and half the angle
    between the neighbours (rad).

    The residual's variance is 1.5 times the reading's on even steps.
    """

    residual: Floats
    slope: Floats
    tangent: Floats
    base_rad: Floats

    def facing(self) -> Triples:
        """Those on walls that the beam meets at less than 60 degrees."""
        return self._only(self.tangent < STEEP)

    def slanting(self) -> Triples:
        """Those on walls met more slantingly, but not at a depth edge, where one of the halves of
        a triple is steep and the other is not."""
        even = np.abs(self.residual) < UNEVEN * np.abs(self.slope) * self.base_rad
        return self._only(even & (self.tangent >= STEEP) & (self.tangent < GRAZING))

    def _only(self, which: NDArray[np.bool_]) -> Triples:
        return Triples(
            self.residual[which], self.slope[which], self.tangent[which], self.base_rad[which]
        )


def triples_of(capture: Capture) -> Triples:
    """The triples of neighbours among a capture's usable ring readings."""
    parts = [np.empty((0, 4))]
    usable = capture.usable_ring & (np.nan_to_num(capture.distance_m) > 0.0)
    for sweep in sweeps_of(capture):
        sweep = sweep.only(usable[sweep.at])
        if len(sweep) < 3:
            continue
        distance = capture.distance_m[sweep.at]
        # Neighbours as near to each other as the angle is uncertain tell no slope.
        offset = max(1, int(BASE_RAD / max(sweep.step_rad, 1e-6)))
        before, near_before, back = sweep.neighbour(-offset)
        after, near_after, ahead = sweep.neighbour(offset)
        # Of a few scraps of a ring, neighbours may lie on opposite sides: no wall passes through.
        good = near_before & near_after & (back < 0.0) & (ahead > 0.0)
        good &= ahead - back < WIDEST_RAD
        r, a, b = distance[good], -back[good], ahead[good]
        r0, r1 = distance[before[good]], distance[after[good]]
        # A file may hold distances that no floating-point number can divide by.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            inverse = (np.sin(b) / r0 + np.sin(a) / r1) / np.sin(a + b)
            slope = (r1 - r0) / (a + b)
            tangent = np.abs(slope) / np.minimum(r0, r1)
            triples = np.stack([r - 1.0 / inverse, slope, tangent, 0.5 * (a + b)], axis=-1)
        parts.append(triples[np.isfinite(triples).all(axis=1)])
    return Triples(*np.concatenate(parts).T)


@dataclass(frozen=True)
class FacingScatter:
    """How the triples on walls met at less than 60 degrees scatter: their number, the variance of a
    distance (m2), and the mean square of the slopes (m per rad), by which the angle's error is a
    part of it. NaN with fewer than `FEWEST`."""

    count: int
    variance: float = float("nan")
    square_slope: float = float("nan")

    @classmethod
    def of(cls, triples: Triples) -> FacingScatter:
        smooth = triples.facing()
        count = len(smooth.residual)
        if count < FEWEST:
            return cls(count)
        absolute = np.abs(smooth.residual)
        inner = absolute <= np.quantile(absolute, INNER)
        total = np.mean(np.square(smooth.residual[inner])) / _INNER_RMS**2 / 1.5
        return cls(count, float(total), float(np.mean(np.square(smooth.slope[inner]))))

    def distance_m(self, sigma_angle_rad: float) -> float:
        """The standard error (m) of a distance without the part that the angle's error explains;
        NaN when too few readings lie along anything smooth."""
        rest = self.variance - self.square_slope * sigma_angle_rad**2
        return float(np.sqrt(max(rest, 0.0))) if rest == rest else float("nan")


class SlantingScatter:
    """The triples on slanting walls of captures that state the same noise, taken together: from
    them the standard error of an angle is told.

    No more than about `MOST` are held: from then on every second one, and so on, so that memory
    does not grow with the captures.
    """

    MOST = 65536

    def __init__(self) -> None:
        self._parts: list[Floats] = []
        self._held = 0
        self._every = 1

    def add(self, triples: Triples, sigma_distance_m: float) -> None:
        """Take a capture's triples and the standard error of its distances."""
        slanting = triples.slanting()
        part = np.stack(
            [
                np.abs(slanting.residual),
                np.square(slanting.slope),
                np.full(len(slanting.residual), sigma_distance_m**2),
            ]
        )[:, :: self._every]
        self._parts.append(part)
        self._held += part.shape[1]
        if self._held > self.MOST:
            self._every *= 2
            self._parts = [np.concatenate(self._parts, axis=1)[:, ::2]]
            self._held = self._parts[0].shape[1]

    def angle_rad(self) -> tuple[float, int]:
        """The standard error (rad) of an angle, and the number of triples behind it.

        The angle's error is the one that makes the smaller half of the residuals as large as
        expected. NaN when too few readings lie along slanting walls.
        """
        residual, square_slope, variance = np.concatenate([np.empty((3, 0)), *self._parts], axis=1)
        if len(residual) < FEWEST:
            return float("nan"), len(residual)
        inner = int(INNER * len(residual))

        def excess(log_angle: float) -> float:
            expected = np.sqrt(1.5 * (variance + square_slope * np.exp(2.0 * log_angle)))
            ratio = np.partition(residual / expected, inner)[:inner]
            return float(np.sqrt(np.mean(np.square(ratio))) - _INNER_RMS)

        low, high = np.log(1e-7), np.log(0.2)
        if excess(low) <= 0.0:
            return 0.0, len(residual)
        if excess(high) >= 0.0:
            return float(np.exp(high)), len(residual)
        return float(np.exp(brentq(excess, low, high, xtol=1e-4))), len(residual)
