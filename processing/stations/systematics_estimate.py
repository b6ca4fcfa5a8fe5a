# SPDX-License-Identifier: GPL-2.0-or-later
"""The instrument's systematic errors, estimated from an adjusted network.

They are further parameters of all observations (self-calibration; Teunissen, *Testing theory*,
2006, ch. 4): what the readings say about them is what the poses, the targets and the walls cannot
take up, and how far from straight they make the walls.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats, azimuth_of, unit
from ..captures.face_model import Faces
from ..captures.instrument_errors import PARAMETERS
from ..captures.model import Capture
from .network_group import AdjustedGroup
from .systematics import FaceResponse, SystematicsEstimate, face_response, point_response
from .targets import TargetSightings


def estimate_systematics(
    captures: Sequence[Capture],
    faces: Sequence[Faces],
    sightings: TargetSightings,
    groups: Sequence[AdjustedGroup],
) -> SystematicsEstimate:
    """What the adjusted groups together say about the one instrument that took all captures."""
    information, pull = np.zeros((3, 3)), np.zeros(3)
    for group in groups:
        responses = _responses(captures, faces, group)
        adjustment = group.snooping.adjustment
        _, matrix, right = adjustment.influence(change_of(group, responses, sightings))
        information += matrix
        pull += right
        for response in responses.values():
            information += response.information / group.scatter**2
            pull += response.pull / group.scatter**2
    return _solved(information, pull)


def follow_systematics(
    captures: Sequence[Capture],
    faces: Sequence[Faces],
    sightings: TargetSightings,
    group: AdjustedGroup,
) -> Floats:
    """How the poses of a group's stations ``(3m, 3)`` follow a unit of each parameter."""
    change = change_of(group, _responses(captures, faces, group), sightings)
    follow, _, _ = group.snooping.adjustment.influence(change)
    return follow[: 3 * len(group.members)]


def _responses(
    captures: Sequence[Capture], faces: Sequence[Faces], group: AdjustedGroup
) -> dict[int, FaceResponse]:
    return {int(s): face_response(captures[s], faces[s]) for s in group.members}


def change_of(
    group: AdjustedGroup, responses: dict[int, FaceResponse], sightings: TargetSightings
) -> Floats:
    """By how much each observed row ``(m, 3)`` of a group grows when the readings are corrected by
    a unit of each parameter."""
    observations = group.snooping.adjustment.observations
    change = np.zeros((observations.rows, len(PARAMETERS)))
    where = list(zip(group.sights.station.tolist(), group.sights.face.tolist()))
    if where:
        directions = observations.rows_of("surface_directions")
        first = slice(directions.start, directions.start + len(where))
        change[first] = np.array([responses[s].normal[f] for s, f in where])
        offsets = observations.rows_of("surface_offsets")
        of_faces = slice(offsets.start, offsets.start + len(where))
        change[of_faces] = np.array([responses[s].offset[f] for s, f in where])
        change[of_faces.stop : offsets.stop] = _of_points(group, len(where))
    rows = observations.rows_of("sightings")
    angle, distance = (
        sightings.angle_rad[group.target_rows],
        sightings.distance_m[group.target_rows],
    )
    of_sightings = np.zeros((len(angle), 2, 3))
    of_sightings[:, 0, 1], of_sightings[:, 0, 2], of_sightings[:, 1, 0] = 1 / distance, -angle, -1.0
    change[rows] = of_sightings.reshape(-1, 3)
    return change


def _of_points(group: AdjustedGroup, first: int) -> Floats:
    """The same ``(k, 3)`` of the offsets from `first` on, which are of points on walls."""
    offsets = group.snooping.adjustment.observations.surface_offsets
    unknowns = group.snooping.adjustment.unknowns
    point = offsets.centre_m[first:]
    normal = unit(
        unknowns.scalar[offsets.surface[first:]] - unknowns.orientation_rad[offsets.station[first:]]
    )
    angle = azimuth_of(point) % (2 * np.pi)
    response = point_response(angle, np.hypot(point[:, 0], point[:, 1]))
    return np.asarray(np.einsum("ij,ijk->ik", normal, response))


def _solved(information: Floats, pull: Floats) -> SystematicsEstimate:
    """Values and covariance; a parameter without information has none."""
    value, covariance = np.zeros(3), np.full((3, 3), np.inf)
    told = np.flatnonzero(np.diagonal(information) > 0.0)
    if len(told):
        scale = 1.0 / np.sqrt(np.diagonal(information)[told])
        # In units of its own precision each parameter has the information 1: rank is plain to see.
        inverse = np.linalg.pinv(
            information[np.ix_(told, told)] * np.outer(scale, scale), rcond=1e-10, hermitian=True
        ) * np.outer(scale, scale)
        value[told] = inverse @ pull[told]
        covariance[np.ix_(told, told)] = inverse
    return SystematicsEstimate(value, covariance)
