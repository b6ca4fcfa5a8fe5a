# SPDX-License-Identifier: GPL-2.0-or-later
"""Observation equations: what each kind of observation should read, and its derivatives.

One function a kind gives, for all its items at once, the residual ``v`` = predicted less observed
``(n, d)``, angles wrapped into [-pi, pi), and the Jacobian ``(n, d, k)`` with respect to the
unknowns in the item's ``k`` columns. Formulas: Ghilani, *Adjustment Computations*, 5th ed.,
eqs. 14.9 (distance), 15.8 (azimuth), 15.12 (angle); the relative pose is the usual one of pose
graphs (Grisetti et al., *A tutorial on graph-based SLAM*, 2010, eqs. 30-33), its residual kept in
the first station's frame, where the covariance is given.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ..angles import Floats, bearing, sine_cosine, wrap_half
from ..captures.model import Ints
from ..errors import SurveyError
from .observations import (
    Angles,
    Azimuths,
    Distances,
    Kind,
    Observations,
    Orientations,
    Positions,
    RelativePoses,
    ScalarValues,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)

Equations = tuple[Floats, Floats]


class Equation:
    """The equations of one kind in a given network.

    `columns (n, k)` index the vector of unknowns with one zero appended: its last entry stands for
    a scalar that an item does not have. `covariance (n, d, d)` is a priori, `whitening (n, d, d)`
    W with W'W the weight matrix.
    """

    def __init__(self, name: str, kind: Kind, rows: slice, unknowns: Unknowns) -> None:
        self.name, self.kind, self.rows = name, kind, rows
        _check(name, kind, unknowns)
        self.columns: Ints = _COLUMNS[type(kind)](kind, unknowns)
        self.covariance: Floats = covariance_of(kind)
        self.whitening: Floats = _whitening(name, self.covariance)
        self._evaluate = _EQUATIONS[type(kind)]

    def evaluate(self, extended: Floats) -> Equations:
        """Residuals ``(n, d)`` and Jacobian ``(n, d, k)`` at a vector ``(U + 1,)``."""
        # Places that coincide give infinities, which the caller notices.
        with np.errstate(divide="ignore", invalid="ignore"):
            return self._evaluate(self.kind, extended[self.columns])


def equations(unknowns: Unknowns, observations: Observations) -> list[Equation]:
    """The equations of all kinds that have items; SurveyError for indices that point nowhere."""
    return [
        Equation(name, kind, rows, unknowns)
        for name, kind, rows in observations.kinds()
        if len(kind)
    ]


# --- columns ---------------------------------------------------------------------------------


def _place(unknowns: Unknowns, *places: Ints) -> Ints:
    columns = [unknowns.place_column(place) for place in places]
    return np.stack([c + i for c in columns for i in (0, 1)], axis=1)


def _pose(unknowns: Unknowns, *stations: Ints) -> Ints:
    return np.concatenate([3 * s[:, None] + np.arange(3) for s in stations], axis=1)


def _scalar(unknowns: Unknowns, scalar: Ints) -> Ints:
    return np.where(scalar < 0, unknowns.size, unknowns.scalar_column(scalar))[:, None]


_COLUMNS: dict[type, Callable[[Any, Unknowns], Ints]] = {
    Distances: lambda o, u: np.hstack([_place(u, o.at, o.to), _scalar(u, o.zero)]),
    Angles: lambda o, u: _place(u, o.at, o.backsight, o.foresight),
    Azimuths: lambda o, u: _place(u, o.at, o.to),
    Sightings: lambda o, u: np.hstack(
        [_pose(u, o.station), _place(u, o.to), _scalar(u, o.zero)],
    ),
    RelativePoses: lambda o, u: _pose(u, o.station, o.to),
    Positions: lambda o, u: _place(u, o.place),
    Orientations: lambda o, u: np.hstack(
        [u.orientation_column(o.station)[:, None], _scalar(u, o.offset)]
    ),
    SurfaceDirections: lambda o, u: np.hstack(
        [u.orientation_column(o.station)[:, None], _scalar(u, o.surface)]
    ),
    SurfaceOffsets: lambda o, u: np.hstack(
        [
            _pose(u, o.station),
            _place(u, o.reference),
            _scalar(u, o.surface),
            _scalar(u, o.normal_distance),
        ]
    ),
    ScalarValues: lambda o, u: _scalar(u, o.scalar),
}


# --- residuals and Jacobians -------------------------------------------------------------------


def _length(dx: Floats, dy: Floats) -> tuple[Floats, Floats]:
    """Distance and its derivatives ``(n, 2)`` with respect to the far end."""
    distance = np.hypot(dx, dy)
    return distance, np.stack([dx, dy], axis=1) / distance[:, None]


def _azimuth(dx: Floats, dy: Floats) -> tuple[Floats, Floats]:
    """Azimuth and its derivatives ``(n, 2)`` with respect to the far end."""
    square = dx * dx + dy * dy
    return bearing(dx, dy), np.stack([dy, -dx], axis=1) / square[:, None]


def _distances(o: Distances, u: Floats) -> Equations:
    length, far = _length(u[:, 2] - u[:, 0], u[:, 3] - u[:, 1])
    jacobian = np.hstack([-far, far, np.ones((len(o), 1))])[:, None, :]
    return (length + u[:, 4] - o.distance_m)[:, None], jacobian


def _angles(o: Angles, u: Floats) -> Equations:
    back, back_far = _azimuth(u[:, 2] - u[:, 0], u[:, 3] - u[:, 1])
    fore, fore_far = _azimuth(u[:, 4] - u[:, 0], u[:, 5] - u[:, 1])
    jacobian = np.hstack([back_far - fore_far, -back_far, fore_far])[:, None, :]
    return wrap_half(fore - back - o.angle_rad)[:, None], jacobian


def _azimuths(o: Azimuths, u: Floats) -> Equations:
    azimuth, far = _azimuth(u[:, 2] - u[:, 0], u[:, 3] - u[:, 1])
    return wrap_half(azimuth - o.azimuth_rad)[:, None], np.hstack([-far, far])[:, None, :]


def _sightings(o: Sightings, u: Floats) -> Equations:
    dx, dy = u[:, 3] - u[:, 0], u[:, 4] - u[:, 1]
    azimuth, across = _azimuth(dx, dy)
    length, along = _length(dx, dy)
    residual = np.stack(
        [wrap_half(azimuth - u[:, 2] - o.angle_rad), length + u[:, 5] - o.distance_m], axis=1
    )
    jacobian = np.zeros((len(o), 2, 6))
    jacobian[:, 0, 0:2], jacobian[:, 0, 2], jacobian[:, 0, 3:5] = -across, -1.0, across
    jacobian[:, 1, 0:2], jacobian[:, 1, 3:5], jacobian[:, 1, 5] = -along, along, 1.0
    return residual, jacobian


def _relative_poses(o: RelativePoses, u: Floats) -> Equations:
    dx, dy = u[:, 3] - u[:, 0], u[:, 4] - u[:, 1]
    s, c = sine_cosine(u[:, 2])
    # The second station in the first one's frame: the difference turned back by the orientation.
    x, y = dx * c - dy * s, dx * s + dy * c
    residual = np.stack(
        [x - o.pose[:, 0], y - o.pose[:, 1], wrap_half(u[:, 5] - u[:, 2] - o.pose[:, 2])], axis=1
    )
    jacobian = np.zeros((len(o), 3, 6))
    jacobian[:, 0, 0], jacobian[:, 0, 1], jacobian[:, 0, 2] = -c, s, -y
    jacobian[:, 1, 0], jacobian[:, 1, 1], jacobian[:, 1, 2] = -s, -c, x
    jacobian[:, 0, 3], jacobian[:, 0, 4] = c, -s
    jacobian[:, 1, 3], jacobian[:, 1, 4] = s, c
    jacobian[:, 2, 2], jacobian[:, 2, 5] = -1.0, 1.0
    return residual, jacobian


def _positions(o: Positions, u: Floats) -> Equations:
    return u - o.xy_m, np.broadcast_to(np.eye(2), (len(o), 2, 2))


def _orientations(o: Orientations, u: Floats) -> Equations:
    residual = wrap_half(u[:, 0] + u[:, 1] - o.azimuth_rad)[:, None]
    return residual, np.ones((len(o), 1, 2))


def _surface_directions(o: SurfaceDirections, u: Floats) -> Equations:
    residual = wrap_half(u[:, 1] - u[:, 0] - o.angle_rad)[:, None]
    return residual, np.broadcast_to(np.array([[-1.0, 1.0]]), (len(o), 1, 2))


def _surface_offsets(o: SurfaceOffsets, u: Floats) -> Equations:
    s, c = sine_cosine(u[:, 2])
    # The surface's point turned clockwise by the orientation; its derivative is (y, -x).
    x = o.centre_m[:, 0] * c + o.centre_m[:, 1] * s
    y = -o.centre_m[:, 0] * s + o.centre_m[:, 1] * c
    nx, ny = sine_cosine(u[:, 5])
    dx, dy = u[:, 0] + x - u[:, 3], u[:, 1] + y - u[:, 4]
    residual = u[:, 6] - nx * dx - ny * dy
    jacobian = np.stack(
        [-nx, -ny, ny * x - nx * y, nx, ny, nx * dy - ny * dx, np.ones(len(o))], axis=1
    )
    return residual[:, None], jacobian[:, None, :]


def _scalar_values(o: ScalarValues, u: Floats) -> Equations:
    return u - o.value[:, None], np.ones((len(o), 1, 1))


_EQUATIONS: dict[type, Callable[[Any, Floats], Equations]] = {
    Distances: _distances,
    Angles: _angles,
    Azimuths: _azimuths,
    Sightings: _sightings,
    RelativePoses: _relative_poses,
    Positions: _positions,
    Orientations: _orientations,
    SurfaceDirections: _surface_directions,
    SurfaceOffsets: _surface_offsets,
    ScalarValues: _scalar_values,
}


# --- weights -----------------------------------------------------------------------------------


def covariance_of(kind: Kind) -> Floats:
    """A-priori covariances ``(n, d, d)`` of the items of a kind."""
    if isinstance(kind, RelativePoses):
        return kind.covariance
    if isinstance(kind, Positions):
        return kind.covariance_m2
    if isinstance(kind, Sightings):
        sigma = np.stack([kind.sigma_rad, kind.sigma_m], axis=1)
    elif isinstance(kind, (Distances, SurfaceOffsets)):
        sigma = kind.sigma_m[:, None]
    elif isinstance(kind, ScalarValues):
        sigma = kind.sigma[:, None]
    else:
        sigma = kind.sigma_rad[:, None]
    return sigma[:, :, None] ** 2 * np.eye(sigma.shape[1])


def _whitening(name: str, covariance: Floats) -> Floats:
    diagonal = np.sqrt(np.abs(np.einsum("nii->ni", covariance)))
    skew = np.abs(covariance - np.swapaxes(covariance, 1, 2))
    if (skew > 1e-9 * diagonal[:, :, None] * diagonal[:, None, :]).any():
        raise SurveyError(f"The covariances of {name} are not symmetric.")
    try:
        return np.linalg.inv(np.linalg.cholesky(covariance))
    except np.linalg.LinAlgError:
        smallest = np.linalg.eigvalsh(covariance)[:, 0]
        raise SurveyError(
            f"The covariance of item {int(np.argmin(smallest))} of {name} is not positive definite."
        ) from None


# --- checks ------------------------------------------------------------------------------------

_PLACES = {"at", "to", "backsight", "foresight", "place", "reference"}
_SCALARS = {"zero", "offset", "surface", "normal_distance", "scalar"}
_OPTIONAL = {"zero", "offset"}


def _check(name: str, kind: Kind, unknowns: Unknowns) -> None:
    places = len(unknowns.station) + len(unknowns.point)
    ends: list[Ints] = []
    for index in kind._integers:
        values = getattr(kind, index)
        if index in _SCALARS:
            count, what, least = len(unknowns.scalar), "scalars", -1 if index in _OPTIONAL else 0
        elif index in _PLACES and not isinstance(kind, RelativePoses):
            count, what, least = places, "places", 0
        else:
            count, what, least = len(unknowns.station), "stations", 0
        wrong = np.flatnonzero((values < least) | (values >= count))
        if len(wrong):
            raise SurveyError(
                f"Item {wrong[0]} of {name}: {index} is {values[wrong[0]]}, "
                f"but the network has {count} {what}."
            )
        if index not in _SCALARS and index != "reference":
            ends.append(values)
    for i, first in enumerate(ends):
        for second in ends[i + 1 :]:
            same = np.flatnonzero(first == second)
            if len(same):
                where = unknowns.owner(int(unknowns.place_column(first[same[0]])))
                raise SurveyError(f"Item {same[0]} of {name} goes from {where} to itself.")
