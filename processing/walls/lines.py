# SPDX-License-Identifier: GPL-2.0-or-later
"""The joint least-squares line of several faces, and lines that are one across a gap."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import chdtri

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from .planes import PlanFaces, own_covariance, station_jacobian


@dataclass(frozen=True, eq=False)
class Line:
    """A line through `members` (indices of faces).

    At `centre_m` direction and position are uncorrelated; `variance (2,)` are those of direction
    (rad2) and position (m2). `own (2, 2)` is the part of (direction, position) from the readings,
    `by_station (2, 3S)` the derivatives by the stations' (x, y, orientation).
    """

    members: Ints
    centre_m: Floats
    normal_rad: float
    variance: Floats
    own: Floats
    by_station: Floats

    @cached_property
    def direction(self) -> Floats:
        """The unit vector along the line, the free side to its right."""
        return along(self.normal_rad)

    def extents_m(self, faces: PlanFaces) -> Floats:
        """The extents ``(k, 2)`` of the members along the line, from its centre."""
        return np.sort((faces.ends_m[self.members] - self.centre_m) @ self.direction, axis=1)


def common_line(faces: PlanFaces, members: Ints) -> Line:
    """The generalised least-squares line through several faces.

    The members' lines are the sufficient statistics of their readings, so this is the joint
    adjustment of the readings with the stations as correlated observations (Mikhail and Ackermann,
    *Observations and Least Squares*, chapter 4, general covariance). Where the members disagree by
    more than their errors allow (chi-square, 0.1 %), the variances are scaled by it.
    """
    strength = 1.0 / faces.own[members, 1]
    normal_rad = float(faces.normal_rad[members[int(np.argmax(strength))]])
    point = np.average(faces.centre_m[members], axis=0, weights=strength)
    captures, count = faces.capture[members], len(members)
    pairs = faces.stations[captures[:, None], captures[None, :]]
    design = np.tile(np.eye(2), (count, 1))
    for _ in range(2):
        n, u = unit(normal_rad), along(normal_rad)
        t = (point - faces.centre_m[members]) @ u
        turned = wrap_half(faces.normal_rad[members] - normal_rad)
        height = (faces.centre_m[members] - point) @ n + t * np.tan(turned)
        lever = point - faces.station_m[captures]
        jacobian = station_jacobian(np.broadcast_to(n, (count, 2)), lever)
        blocks = jacobian[:, None] @ pairs @ jacobian.transpose(0, 2, 1)[None, :]
        own = np.zeros_like(blocks)
        own[np.arange(count), np.arange(count)] = own_covariance(faces.own[members], t)
        own = own.transpose(0, 2, 1, 3).reshape(2 * count, 2 * count)
        covariance = own + blocks.transpose(0, 2, 1, 3).reshape(2 * count, 2 * count)
        observed = np.stack([turned, height], axis=-1).ravel()
        weighted = np.linalg.solve(covariance, design)
        cofactor = np.linalg.inv(design.T @ weighted)
        gain = cofactor @ weighted.T
        shift = gain @ observed
        point = point + shift[1] * n
        normal_rad = float(wrap_half(normal_rad + shift[0]))
    left = observed - design @ shift
    misfit = float(left @ np.linalg.solve(covariance, left))
    freedom = 2 * count - 2
    scale = misfit / freedom if freedom and misfit > chdtri(freedom, 0.001) else 1.0

    by_member = np.einsum("iaj,ajk->aik", gain.reshape(2, count, 2), jacobian)
    stations = np.zeros((len(faces.station_m), 2, 3))
    np.add.at(stations, captures, by_member)
    by_station = stations.transpose(1, 0, 2).reshape(2, -1)
    # Along the line the variance of the position is least where it is uncorrelated.
    along_m = -cofactor[0, 1] / cofactor[0, 0]
    shear = np.array([[1.0, 0.0], [along_m, 1.0]])
    variance = np.diagonal(shear @ cofactor @ shear.T).clip(1e-18)
    return Line(
        members,
        point + along_m * along(normal_rad),
        normal_rad,
        scale * variance,
        scale * (shear @ gain @ own @ gain.T @ shear.T),
        np.sqrt(scale) * (shear @ by_station),
    )


def difference(a: Line, b: Line, stations: Floats, at_m: float) -> tuple[Floats, Floats]:
    """Difference ``(2,)`` in direction (rad) and position (m) of two lines at the place ``at_m``
    along the first, with its covariance ``(2, 2)``; ``stations (3S, 3S)`` is the stations'."""
    point = a.centre_m + at_m * a.direction
    n = unit(a.normal_rad)
    turned = float(wrap_half(b.normal_rad - a.normal_rad))
    t = float((point - b.centre_m) @ b.direction)
    height = float((b.centre_m + t * b.direction - point) @ n)
    shear_a = np.array([[1.0, 0.0], [at_m, 1.0]])
    shear_b = np.array([[1.0, 0.0], [t, 1.0]])
    derivative = shear_a @ a.by_station - shear_b @ b.by_station
    # of hundreds of stations a few saw the two lines
    seen = np.flatnonzero(derivative.any(axis=0))
    derivative, stations = derivative[:, seen], stations[np.ix_(seen, seen)]
    covariance = (
        shear_a @ a.own @ shear_a.T
        + shear_b @ b.own @ shear_b.T
        + derivative @ stations @ derivative.T
    )
    return np.array([turned, height]), covariance
