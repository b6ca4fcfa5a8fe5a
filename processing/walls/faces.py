# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces of a survey: the faces that several stations saw of one wall become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, along, unit
from ..captures.face_model import End, Faces
from ..captures.faces import REJECT
from ..captures.faces_fit import noise_of
from ..captures.model import Capture, Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .corners import closed
from .model import WallFaces
from .planes import (
    PlanFaces,
    common_line,
    grouped,
    in_plan,
    misfits,
    station_covariance,
    station_jacobian,
)
from .stretches import SLIVER_M, Beams, beams_of, continuous, contradicted, open_gaps


@dataclass(frozen=True, eq=False)
class Stretch:
    """One wall face before it has a name: the faces (indices of `PlanFaces`) that show it, and its
    line."""

    members: Ints
    centre_m: Floats
    normal_rad: float
    sigma_normal_rad: float
    sigma_offset_m: float
    span_m: Floats


def join_faces(
    survey: Survey, faces: Sequence[Faces], network: Network, progress: Progress = SILENT
) -> WallFaces:
    """The wall faces of a survey as measured (``plot_scale`` 0).

    ``faces`` are those of each capture (`fit_faces`), ``network`` the adjusted stations. Faces of
    one level, one network and one side that a chi-square test with the stations' covariances
    cannot tell apart get one generalised least-squares line; each continuous stretch of the line
    is a wall face. Faces that other stations' beams went through, and free-standing slivers, are
    no walls; their readings keep wall -1.
    """
    seen = in_plan(survey, faces, network)
    misfit, telling = misfits(seen, progress.part(0.0, 0.5))
    beams = beams_of(survey, faces, network)
    stretches: list[Stretch] = []
    for group in progress.part(0.5, 0.8).over(grouped(misfit, telling)):
        stretches.extend(_stretches_of(seen, group, beams))
    progress.at(0.8)
    stretches = [s for s in stretches if not _no_wall(seen, s, beams)]
    return _named(survey, faces, network, seen, _ordered(seen, stretches))


def _stretches_of(seen: PlanFaces, group: Ints, beams: Beams) -> list[Stretch]:
    centre, normal, sigma_normal, sigma_offset = common_line(seen, group)
    u = along(normal)
    spans = np.sort((seen.ends_m[group] - centre) @ u, axis=1)
    place = int(seen.level[group[0]]), int(seen.network[group[0]])
    gaps = open_gaps(beams, place, spans, centre, u) if len(group) > 1 else []
    return [
        Stretch(
            group[part],
            centre,
            normal,
            sigma_normal,
            sigma_offset,
            np.array([spans[part, 0].min(), spans[part, 1].max()]),
        )
        for part in continuous(spans, seen.end[group], gaps)
    ]


def _no_wall(seen: PlanFaces, stretch: Stretch, beams: Beams) -> bool:
    first = stretch.members[0]
    place = int(seen.level[first]), int(seen.network[first])
    u = along(stretch.normal_rad)
    start, end = (stretch.centre_m + t * u for t in stretch.span_m)
    if contradicted(beams, place, start, end, int(seen.readings[stretch.members].sum())):
        return True
    length = stretch.span_m[1] - stretch.span_m[0]
    cornered = (seen.end[stretch.members] == End.CORNER).any()
    alone = len(np.unique(seen.capture[stretch.members])) == 1
    return bool(length < SLIVER_M and alone and not cornered)


def _ordered(seen: PlanFaces, stretches: list[Stretch]) -> list[Stretch]:
    """By level, then north to south, then west to east, to the millimetre; so names do not depend
    on the order of files."""

    def key(stretch: Stretch) -> tuple[float, ...]:
        middle = stretch.centre_m + stretch.span_m.mean() * along(stretch.normal_rad)
        x, y = np.round(middle, 3)
        return (float(seen.level[stretch.members[0]]), -y, x, round(stretch.normal_rad, 4))

    return sorted(stretches, key=key)


def across_variance(
    capture: Capture, network: Network, station: int, at: Ints, normal: Floats
) -> Floats:
    """Variances ``(k,)`` in m2 of readings ``at (k,)`` of a capture across faces with unit normals
    ``normal (k, 2)`` in the plan, with the station's own errors."""
    noise = noise_of(capture)
    lever = network.to_plan(station, capture.xy_m[at]) - network.xy_m[station]
    cosine = np.einsum("ij,ij->i", normal, lever) / capture.distance_m[at]
    jacobian = station_jacobian(normal, lever)[:, 1]
    pose = station_covariance(network)[station, station]
    return np.asarray(
        noise.variance_across(capture.distance_m[at], cosine)
        + np.einsum("ki,ij,kj->k", jacobian, pose, jacobian)
    )


def _named(
    survey: Survey,
    faces: Sequence[Faces],
    network: Network,
    seen: PlanFaces,
    stretches: list[Stretch],
) -> WallFaces:
    count = len(stretches)
    wall_of_face = np.full(len(seen), -1, dtype=np.int64)
    for number, stretch in enumerate(stretches):
        wall_of_face[stretch.members] = number
    first = np.array([s.members[0] for s in stretches], dtype=np.int64)
    centre = np.array([s.centre_m for s in stretches]).reshape(count, 2)
    normal = np.array([s.normal_rad for s in stretches])
    span = np.array([s.span_m for s in stretches]).reshape(count, 2)

    wall_of_reading, residuals = [], []
    squares, weights, largest = np.zeros(count), np.zeros(count), np.zeros(count)
    for i, capture in enumerate(survey.captures):
        table = np.append(np.full(len(faces[i]), -1, dtype=np.int64), -1)
        own = seen.capture == i
        table[seen.face[own]] = wall_of_face[own]
        wall = table[faces[i].face_of_reading]
        on = np.flatnonzero(wall >= 0)
        owner = wall[on]
        xy = network.to_plan(i, capture.xy_m[on])
        residual = np.full(len(capture), np.nan)
        residual[on] = np.einsum("ij,ij->i", unit(normal[owner]), xy - centre[owner])
        variance = across_variance(capture, network, i, on, unit(normal[owner]))
        far = np.abs(residual[on]) > REJECT * np.sqrt(variance)
        residual[on[far]], wall[on[far]] = np.nan, -1
        on, owner = on[~far], owner[~far]
        squares += np.bincount(owner, residual[on] ** 2, minlength=count)
        weights += np.bincount(owner, minlength=count)
        np.maximum.at(largest, owner, np.abs(residual[on]))
        wall_of_reading.append(wall)
        residuals.append(residual)

    u = along(normal)
    ends = centre[:, None, :] + span[:, :, None] * u[:, None, :]
    names = survey.names
    measured = WallFaces(
        wall=tuple(f"W{number + 1:03d}" for number in range(count)),
        plot_scale=0,
        level=seen.level[first],
        network=seen.network[first],
        centre_m=centre,
        normal_rad=normal,
        sigma_normal_rad=np.array([s.sigma_normal_rad for s in stretches]),
        sigma_offset_m=np.array([s.sigma_offset_m for s in stretches]),
        span_m=span,
        drawn_m=ends,
        readings=weights.astype(np.int64),
        stations=tuple(
            tuple(sorted({names[k] for k in seen.capture[s.members]})) for s in stretches
        ),
        rms_m=np.sqrt(squares / np.maximum(weights, 1.0)),
        largest_residual_m=largest,
        squared_by_rad=np.zeros(count),
        wall_of_reading=tuple(wall_of_reading),
        residual_of_reading_m=tuple(residuals),
    )
    return replace(measured, drawn_m=closed(measured))
