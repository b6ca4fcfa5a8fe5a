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
    """Vectors ``(n, 2)`` of their parts, each of which lies in one piece: what is done with them
    is done column by column."""
    both = np.empty((2, len(x)))
    both[0], both[1] = x, y
    return both.T


def rows_of(vectors: Floats, at: Ints) -> Floats:
    """The vectors ``(m, 2)`` at some places ``(m,)`` among ``(n, 2)``, again as `beside`."""
    return vectors.T.take(at, axis=1).T


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


def moments_of(xy_m: Floats, weight: Floats) -> Floats:
    """Moments ``(6, n)`` w, wx, wy, wxx, wxy, wyy of points ``(n, 2)`` with weights ``(n,)``."""
    x, y = xy_m[:, 0], xy_m[:, 1]
    moments = np.empty((6, len(weight)))
    moments[0] = weight
    wx = np.multiply(weight, x, out=moments[1])
    wy = np.multiply(weight, y, out=moments[2])
    np.multiply(wx, x, out=moments[3])
    np.multiply(wx, y, out=moments[4])
    np.multiply(wy, y, out=moments[5])
    return moments


@dataclass(frozen=True, eq=False)
class Moments:
    """Running sums ``(6, n + 1)`` of w, wx, wy, wxx, wxy, wyy over readings in scan order."""

    sums: Floats

    @classmethod
    def of(cls, xy_m: Floats, weight: Floats) -> Moments:
        """The running sums of points ``(n, 2)`` with weights ``(n,)``."""
        sums = np.zeros((6, len(weight) + 1))
        moments_of(xy_m, weight).cumsum(axis=1, out=sums[:, 1:])
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
    """Central second moments xx, xy, yy ``(k,)`` of sums ``(6, k)`` with weights above zero."""
    w, x, y, xx, xy, yy = sums
    one = 1.0 / w
    mean_x, mean_y = x * one, y * one
    return xx - x * mean_x, xy - x * mean_y, yy - y * mean_y


def least_cost(sums: Floats) -> Floats:
    """The smaller eigenvalues ``(k,)`` of the scatter matrices of sums ``(6, k)``."""
    xx, xy, yy = scatter(sums)
    # In place, since this is done thousands of times: half the trace less the root of the square of
    # half the difference and of xy.
    radius = xx - yy
    radius *= 0.5
    radius *= radius
    xy *= xy
    radius += xy
    np.sqrt(radius, out=radius)
    xx += yy
    xx *= 0.5
    xx -= radius
    return np.maximum(xx, 0.0, out=xx)


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
    sums = np.concatenate([np.maximum(sums[:1], 1e-300), sums[1:]])
    weight, x, y = sums[:3]
    centre = beside(x / weight, y / weight)
    xx, xy, yy = scatter(sums)
    half = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    normal = beside(-np.sin(half), np.cos(half))
    normal[dot(normal, centre) > 0.0] *= -1.0
    mean, radius = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), xy)
    return Lines(centre, normal, weight, mean + radius, np.maximum(mean - radius, 0.0))


def label_moments(xy_m: Floats, weight: Floats, label: Ints, count: int) -> Floats:
    """Sums ``(6, count)`` of moments by label ``(n,)``, fastest where readings of one label follow
    each other; the label -1 is left out."""
    (used,) = (label >= 0).nonzero()
    if len(used) == 0:
        return np.zeros((6, count))
    own = label[used]
    # Where readings of one label follow each other, few runs are left to be added by label.
    change = own[1:] != own[:-1]
    (first,) = np.concatenate([[True], change]).nonzero()
    runs = np.add.reduceat(moments_of(rows_of(xy_m, used), weight[used]), first, axis=1)
    if np.array_equal(own[first], np.arange(count)):
        return runs
    return np.stack([np.bincount(own[first], run, minlength=count) for run in runs])
