# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted geometric fit of a circle to readings.

The circle that minimises the weighted squared distances across it, by Gauss-Newton from an
algebraic fit (Gander, Golub and Strebel, "Least-squares fitting of circles and ellipses", *BIT* 34,
1994; the start is Taubin's fit, *IEEE Transactions on Pattern Analysis* 13, 1991).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of
from .faces_fit import ReadingNoise

ROUNDS = 25
ENOUGH_M = 1e-10
FLATTEST_M = 200.0
"""A circle of a larger radius is a wall."""


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle with the covariance ``(3, 3)`` of centre (m) and radius (m) as the readings' noise
    makes it, and `variance`, that of the residuals in units of the noise."""

    centre_m: Floats
    radius_m: float
    covariance: Floats
    variance: float

    def away_m(self, xy_m: Floats) -> Floats:
        """How far points ``(n, 2)`` lie outside the circle; negative inside."""
        return np.asarray(np.hypot(*(xy_m - self.centre_m).T) - self.radius_m)

    def variance_m2(self, xy_m: Floats, distance_m: Floats, noise: ReadingNoise) -> Floats:
        """The variances ``(n,)`` across the circle of readings taken from the origin."""
        away = xy_m - self.centre_m
        outward = away / np.maximum(np.hypot(*away.T), 1e-12)[:, None]
        cosine = np.einsum("ij,ij->i", outward, xy_m) / distance_m
        return noise.variance_across(distance_m, cosine)

    def arc_rad(self, xy_m: Floats) -> float:
        """The arc from which points are: a turn less the widest gap between them."""
        azimuth = np.sort(azimuth_of(xy_m - self.centre_m) % (2 * np.pi))
        gap = np.diff(np.append(azimuth, azimuth[0] + 2 * np.pi))
        return float(2 * np.pi - gap.max())


def algebraic_circle(xy_m: Floats) -> tuple[Floats, float] | None:
    """Centre and radius of Taubin's fit to points ``(n, 2)``; None where they lie on a line."""
    middle = xy_m.mean(axis=0)
    x, y = (xy_m - middle).T
    z = x * x + y * y
    mean = z.mean()
    if mean <= 0.0:
        return None
    design = np.column_stack([(z - mean) / (2.0 * np.sqrt(mean)), x, y])
    a = np.linalg.svd(design, full_matrices=False)[2][-1]
    square = a[0] / (2.0 * np.sqrt(mean))
    if abs(square) < 1e-12:
        return None
    centre = -a[1:] / (2.0 * square)
    constant = -mean * square
    radius = float(np.sqrt(max(centre @ centre - constant / square, 0.0)))
    return middle + centre, radius


def fit_circle(
    xy_m: Floats, distance_m: Floats, noise: ReadingNoise, start: Circle | None = None
) -> Circle | None:
    """The circle through readings at ``xy_m (n, 2)`` in the instrument's frame (n at least 4);
    None where they lie on a line, or on a circle so large that it is a wall."""
    first = algebraic_circle(xy_m) if start is None else (start.centre_m.copy(), start.radius_m)
    if first is None or not 0.0 < first[1] < FLATTEST_M:
        return None
    centre, radius = first
    freedom = max(len(xy_m) - 3, 1)
    for _ in range(ROUNDS):
        away = xy_m - centre
        reach = np.maximum(np.hypot(*away.T), 1e-12)
        outward = away / reach[:, None]
        cosine = np.einsum("ij,ij->i", outward, xy_m) / distance_m
        weight = 1.0 / noise.variance_across(distance_m, cosine)
        design = np.column_stack([outward, np.ones(len(xy_m))])
        left = reach - radius
        normal = design.T @ (weight[:, None] * design)
        if np.linalg.cond(normal) > 1e14:
            return None
        step = np.linalg.solve(normal, design.T @ (weight * left))
        centre, radius = centre + step[:2], radius + float(step[2])
        if not 0.0 < radius < FLATTEST_M:
            return None
        if np.abs(step).max() < ENOUGH_M * max(radius, 1.0):
            break
    left = np.hypot(*(xy_m - centre).T) - radius
    variance = float(np.sum(weight * left**2)) / freedom
    return Circle(centre, radius, np.linalg.inv(normal) * max(variance, 1.0), variance)
