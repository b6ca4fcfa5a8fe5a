# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted total least squares lines through stretches of readings.

The line that minimises the weighted squared normal distances goes through the weighted centroid
along the eigenvector of the larger eigenvalue of the 2 x 2 scatter matrix; the minimum is the
smaller eigenvalue (total least squares for a line: Golub and Van Loan, *Matrix Computations*,
section 6.3; with range and bearing noise: Pfister, Roumeliotis and Burdick, "Weighted line fitting
algorithms for mobile robot map building", ICRA 2003). Sums of moments make the fit of any stretch
a matter of a few subtractions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M
from .model import Capture, Ints


def dot(a: Floats, b: Floats) -> Floats:
    """Scalar products ``(n,)`` of vectors ``(n, 2)``; a third of einsum's time for a few."""
    return np.asarray(a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])


def beside(x: Floats, y: Floats) -> Floats:
    """Vectors ``(n, 2)`` of their parts."""
    both = np.empty((len(x), 2))
    both[:, 0], both[:, 1] = x, y
    return both


@dataclass(frozen=True)
class ReadingNoise:
    """Standard errors of a capture's distances (m) and angles (rad)."""

    distance_m: float
    angle_rad: float

    def variance_across(self, distance_m: Floats, cos_incidence: Floats) -> Floats:
        """Variances ``(n,)`` in m2 of readings across the face they lie on.

        Along the beam the error is the range's, across the beam distance times the angle's; the
        incidence, counted from the face's normal, turns both into the normal's direction.
        """
        return self.variance_at(distance_m, np.square(cos_incidence))

    def variance_at(self, distance_m: Floats, cos2_incidence: Floats) -> Floats:
        """The same from the square of the cosine."""
        across = np.square(distance_m * self.angle_rad)
        return np.asarray(across + cos2_incidence * (self.distance_m**2 - across))


def noise_of(capture: Capture) -> ReadingNoise:
    """What the capture says of its noise, 2 mm and 0.03 degrees where it says nothing."""
    distance = capture.distance_sigma_m
    angle = capture.angle_sigma_deg
    return ReadingNoise(
        distance if np.isfinite(distance) else DISTANCE_SIGMA_M,
        float(np.radians(angle if np.isfinite(angle) else ANGLE_SIGMA_DEG)),
    )


@dataclass(frozen=True, eq=False)
class Moments:
    """Running sums ``(6, n + 1)`` of w, wx, wy, wxx, wxy, wyy over readings in scan order."""

    sums: Floats

    @classmethod
    def of(cls, xy_m: Floats, weight: Floats) -> Moments:
        """The running sums of points ``(n, 2)`` with weights ``(n,)``."""
        x, y = xy_m[:, 0], xy_m[:, 1]
        wx, wy = weight * x, weight * y
        sums = np.zeros((6, len(weight) + 1))
        for row, part in enumerate((weight, wx, wy, wx * x, wx * y, wy * y)):
            part.cumsum(out=sums[row, 1:])
        return cls(sums)

    def between(self, start: Ints, stop: Ints) -> Floats:
        """Sums ``(6, k)`` over the readings from ``start`` up to but without ``stop``."""
        return self.sums.take(stop, axis=1) - self.sums.take(start, axis=1)

    def cost(self, start: Ints, stop: Ints) -> Floats:
        """Weighted sums ``(k,)`` of squared normal residuals of the best line of each stretch."""
        return least_cost(self.between(start, stop))

    def cut_cost(self, start: Ints, at: Ints, stop: Ints, owner: Ints) -> Floats:
        """The costs ``(m,)`` of the two lines of stretches ``(k,)`` cut at places ``at (m,)``, each
        of which is of the stretch ``owner (m,)``."""
        count = len(at)
        ahead = self.sums.take(at, axis=1)
        parts = np.empty((6, 2 * count))
        np.subtract(ahead, self.sums.take(start[owner], axis=1), out=parts[:, :count])
        np.subtract(self.sums.take(stop[owner], axis=1), ahead, out=parts[:, count:])
        cost = least_cost(parts)
        return cost[:count] + cost[count:]


def scatter(sums: Floats) -> tuple[Floats, Floats, Floats]:
    """Central second moments xx, xy, yy ``(k,)`` of sums ``(6, k)``."""
    w, x, y, xx, xy, yy = sums
    one = 1.0 / np.maximum(w, 1e-300)
    mean_x, mean_y = x * one, y * one
    return xx - x * mean_x, xy - x * mean_y, yy - y * mean_y


def least_cost(sums: Floats) -> Floats:
    """The smaller eigenvalues ``(k,)`` of the scatter matrices of sums ``(6, k)``."""
    xx, xy, yy = scatter(sums)
    half = 0.5 * (xx - yy)
    radius = np.sqrt(half * half + xy * xy)
    return np.maximum(0.5 * (xx + yy) - radius, 0.0)


@dataclass(frozen=True, eq=False)
class Lines:
    """Weighted least-squares lines ``(k,)``: centroids, unit normals towards the origin (the
    instrument), weights, second moments along the line and the minimum of each fit."""

    centre_m: Floats
    normal: Floats
    weight: Floats
    along: Floats
    cost: Floats

    def only(self, chosen: NDArray[np.bool_]) -> Lines:
        """The chosen ``(k,)`` of the lines."""
        return Lines(
            self.centre_m[chosen],
            self.normal[chosen],
            self.weight[chosen],
            self.along[chosen],
            self.cost[chosen],
        )

    @property
    def direction(self) -> Floats:
        """Unit vectors along the lines ``(k, 2)``, the normal turned counterclockwise."""
        return beside(-self.normal[:, 1], self.normal[:, 0])


def lines_of(sums: Floats) -> Lines:
    """The lines of sums of moments ``(6, k)``."""
    weight = np.maximum(sums[0], 1e-300)
    centre = (sums[1:3] / weight).T
    xx, xy, yy = scatter(sums)
    half = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    normal = beside(-np.sin(half), np.cos(half))
    normal[dot(normal, centre) > 0.0] *= -1.0
    mean, radius = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), xy)
    return Lines(centre, normal, weight, mean + radius, np.maximum(mean - radius, 0.0))


def label_moments(xy_m: Floats, weight: Floats, label: Ints, count: int) -> Floats:
    """Sums ``(6, count)`` of moments by label ``(n,)``; the label -1 is left out."""
    (used,) = (label >= 0).nonzero()
    x, y, w, at = xy_m[used, 0], xy_m[used, 1], weight[used], label[used]
    wx, wy = w * x, w * y
    sums = np.empty((6, count))
    for row, part in enumerate((w, wx, wy, wx * x, wx * y, wy * y)):
        sums[row] = np.bincount(at, part, minlength=count)
    return sums
