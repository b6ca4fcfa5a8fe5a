# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces of single captures in the plan frame, with the covariances of their stations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..angles import Floats, along, unit, wrap_half
from ..captures.face_model import End, Faces
from ..captures.model import Ints, Survey
from ..stations.model import Network


@dataclass(frozen=True, eq=False)
class PlanFaces:
    """``M`` faces of all captures in the plan frame.

    `capture` and `face` say where each comes from. `own (M, 2)` are its own variances (direction
    rad2, offset m2) at `centre_m`; `span_m`, `end` and `readings` as in `Faces`. `across_m (M, 2)`
    are the lengths of the faces that each meets in an inner corner at its start and end, 0 where it
    meets none. `station_m (S, 2)` and `stations (S, S, 3, 3)` are all stations' positions and their
    covariances by pairs.
    """

    capture: Ints
    face: Ints
    level: Ints
    network: Ints
    centre_m: Floats
    normal_rad: Floats
    own: Floats
    span_m: Floats
    end: Ints
    across_m: Floats
    readings: Ints
    station_m: Floats
    stations: Floats

    def __len__(self) -> int:
        return len(self.capture)

    @cached_property
    def normal(self) -> Floats:
        """Unit normals ``(M, 2)`` towards the free side."""
        return unit(self.normal_rad)

    @cached_property
    def direction(self) -> Floats:
        """Unit directions ``(M, 2)``."""
        return along(self.normal_rad)

    @cached_property
    def ends_m(self) -> Floats:
        """Start and end points ``(M, 2, 2)``."""
        return self.centre_m[:, None, :] + self.span_m[:, :, None] * self.direction[:, None, :]


def in_plan(survey: Survey, faces: Sequence[Faces], network: Network) -> PlanFaces:
    """All faces in the plan frame, in the order of stations by name, so that the order of the
    files plays no part."""
    order = sorted(range(len(survey)), key=lambda i: (survey.captures[i].level, survey.names[i]))
    order = [i for i in order if len(faces[i])]
    if not order:
        none, ints = np.empty(0), np.empty(0, dtype=np.int64)
        return PlanFaces(
            ints, ints, ints, ints, np.empty((0, 2)), none, np.empty((0, 2)), np.empty((0, 2)),
            np.empty((0, 2), dtype=np.int64), np.empty((0, 2)), ints, network.xy_m,
            station_covariance(network),
        )  # fmt: skip
    sizes = [len(faces[i]) for i in order]
    capture = np.repeat(order, sizes)
    return PlanFaces(
        capture=capture,
        face=np.concatenate([np.arange(size) for size in sizes]),
        level=np.array([c.level for c in survey.captures], dtype=np.int64)[capture],
        network=network.network[capture],
        centre_m=np.concatenate([network.to_plan(i, faces[i].centre_m) for i in order]),
        normal_rad=wrap_half(
            np.concatenate([faces[i].normal_rad + network.orientation_rad[i] for i in order])
        ),
        own=np.concatenate(
            [
                np.stack([faces[i].sigma_normal_rad ** 2, faces[i].sigma_offset_m ** 2], axis=-1)
                for i in order
            ]
        ),
        span_m=np.concatenate([faces[i].span_m for i in order]),
        end=np.concatenate([faces[i].end for i in order]),
        across_m=np.concatenate([_across(faces[i]) for i in order]),
        readings=np.concatenate([faces[i].readings for i in order]),
        station_m=network.xy_m,
        stations=station_covariance(network),
    )


def _across(faces: Faces) -> Floats:
    """The lengths ``(F, 2)`` of the faces that each face of a capture meets in an inner corner at
    its start and end; 0 where it meets none."""
    length = np.zeros((len(faces), 2))
    for side, step in enumerate((1, -1)):
        ahead = np.roll(faces.centre_m, step, axis=0) - faces.centre_m
        inner = np.einsum("ij,ij->i", ahead, faces.normal) > 0.0
        meets = inner & (faces.end[:, side] == End.CORNER)
        length[:, side] = np.where(meets, np.roll(faces.length_m, step), 0.0)
    return length


def station_covariance(network: Network) -> Floats:
    """Covariance ``(S, S, 3, 3)`` by pairs of stations; zero where a station is unconnected: it is
    its own datum then."""
    count = len(network)
    blocks = network.covariance.reshape(count, 3, count, 3).transpose(0, 2, 1, 3)
    return np.nan_to_num(blocks)


def station_jacobian(normal: Floats, lever_m: Floats) -> Floats:
    """How direction and height along ``normal (..., 2)`` of a station's face at a point that lies
    ``lever_m (..., 2)`` from the station follow its (x, y, orientation): ``(..., 2, 3)``."""
    jacobian = np.zeros((*normal.shape[:-1], 2, 3))
    jacobian[..., 0, 2] = 1.0
    jacobian[..., 1, :2] = normal
    # A clockwise turn moves the point at (px, py) from the station along (py, -px).
    jacobian[..., 1, 2] = normal[..., 0] * lever_m[..., 1] - normal[..., 1] * lever_m[..., 0]
    return jacobian


def own_covariance(own: Floats, t_m: Floats) -> Floats:
    """Covariance ``(..., 2, 2)`` of (direction, height) at the place ``t_m`` along a face whose
    variances at the centre are ``own (..., 2)``."""
    covariance = np.empty((*t_m.shape, 2, 2))
    covariance[..., 0, 0] = own[..., 0]
    covariance[..., 0, 1] = covariance[..., 1, 0] = t_m * own[..., 0]
    covariance[..., 1, 1] = own[..., 1] + t_m**2 * own[..., 0]
    return covariance
