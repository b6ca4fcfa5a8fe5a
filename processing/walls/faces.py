# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces of a survey: the faces that several stations saw of one wall become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit
from ..captures.face_model import Faces
from ..captures.faces import REJECT
from ..captures.faces_fit import noise_of
from ..captures.model import Capture, Flag, Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .alignment import aligned
from .corners import closed
from .curve_faces import with_curves
from .curve_model import no_curves
from .curves import find_curves
from .lines import Line, common_line
from .matching import grouped, touching_pairs
from .model import WallFaces
from .planes import PlanFaces, in_plan, station_jacobian
from .poles import poles
from .stretches import Beams, beams_of, continuous, contradicted, open_gaps


@dataclass(frozen=True, eq=False)
class Stretch:
    """One wall face before it has a name: its line, the faces (indices of `PlanFaces`) that show
    it, and the extent ``(2,)`` from the line's centre that they support."""

    line: Line
    members: Ints
    span_m: Floats


def find_walls(
    survey: Survey, faces: Sequence[Faces], network: Network, progress: Progress = SILENT
) -> tuple[WallFaces, Survey]:
    """The wall faces of a survey as measured (``plot_scale`` 0), and the survey with what turned
    out to be no wall flagged.

    ``faces`` are those of each capture (`fit_faces`), ``network`` the adjusted stations. Faces of
    one level, network and side that overlap or touch and cannot be told apart get one generalised
    least-squares line (`matching`, `lines`), and so do pieces on both sides of a gap (`alignment`);
    each continuous stretch of a line is a wall face. Arcs of curved walls and columns become
    chords of common circles (`curves`). Faces that other stations' beams went through are no walls
    (flag ``passer-by``: whatever it was had moved), nor are legs and poles (``clutter``); their
    readings keep wall -1. No reading is flagged for its residual.
    """
    curved = find_curves(survey, faces, network, progress.part(0.0, 0.1))
    seen = in_plan(survey, curved.straight, network)
    pairs = touching_pairs(seen, progress=progress.part(0.1, 0.4))
    groups = grouped(seen, pairs)
    lines = [common_line(seen, group) for group in progress.part(0.4, 0.6).over(groups)]
    lines = aligned(seen, lines, progress.part(0.6, 0.78))
    beams = beams_of(survey, faces, network, progress.part(0.78, 0.8))
    small = _small(seen, curved.straight)
    stretches: list[Stretch] = []
    flags = np.zeros(len(seen), dtype=np.int64)
    for line in progress.part(0.8, 0.95).over(lines):
        for piece in _stretches_of(seen, line, beams):
            flag = _doubt(seen, piece, beams, small)
            flags[piece.members] = flag
            if flag == Flag.USABLE:
                stretches.append(piece)
    progress.at(0.95)
    ordered = _ordered(seen, stretches)
    named = progress.part(0.95, 0.99)
    walls = _named(survey, curved.straight, network, seen, ordered, named)
    walls = with_curves(walls, curved, survey, network)
    return walls, _flagged(survey, curved.straight, seen, flags)


def _small(seen: PlanFaces, faces: Sequence[Faces]) -> NDArray[np.bool_]:
    result = np.zeros(len(seen), dtype=bool)
    for i, own in enumerate(faces):
        at = seen.capture == i
        result[at] = poles(own)[seen.face[at]]
    return result


def _flagged(survey: Survey, faces: Sequence[Faces], seen: PlanFaces, flags: Ints) -> Survey:
    captures = []
    for i, capture in enumerate(survey.captures):
        table = np.zeros(len(faces[i]) + 1, dtype=np.int64)
        own = seen.capture == i
        table[seen.face[own]] = flags[own]
        of_reading = table[faces[i].face_of_reading]
        for flag in (Flag.PASSER_BY, Flag.CLUTTER):
            capture = capture.with_flags(of_reading == flag, flag)
        captures.append(capture)
    return replace(survey, captures=tuple(captures))


def _stretches_of(seen: PlanFaces, line: Line, beams: Beams) -> list[Stretch]:
    members, spans = line.members, line.extents_m(seen)
    place = int(seen.level[members[0]]), int(seen.network[members[0]])
    gaps = open_gaps(beams, place, spans, line.centre_m, line.direction)
    return [
        Stretch(line, members[part], np.array([spans[part, 0].min(), spans[part, 1].max()]))
        for part in continuous(spans, seen.end[members], gaps)
    ]


def _doubt(seen: PlanFaces, stretch: Stretch, beams: Beams, small: NDArray[np.bool_]) -> Flag:
    """Why a stretch is no wall; usable if it is one."""
    first = stretch.members[0]
    place = int(seen.level[first]), int(seen.network[first])
    line = stretch.line
    start, end = (line.centre_m + t * line.direction for t in stretch.span_m)
    captures = np.unique(seen.capture[stretch.members])
    readings = int(seen.readings[stretch.members].sum())
    if contradicted(beams, place, start, end, captures, readings):
        return Flag.PASSER_BY
    if small[stretch.members].all():
        return Flag.CLUTTER
    return Flag.USABLE


def _ordered(seen: PlanFaces, stretches: list[Stretch]) -> list[Stretch]:
    """By level, then north to south, then west to east, to the millimetre; so names do not depend
    on the order of files."""

    def key(stretch: Stretch) -> tuple[float, ...]:
        line = stretch.line
        middle = line.centre_m + stretch.span_m.mean() * line.direction
        x, y = np.round(middle, 3)
        return (float(seen.level[stretch.members[0]]), -y, x, round(line.normal_rad, 4))

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
    pose = np.nan_to_num(network.block(station))
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
    progress: Progress,
) -> WallFaces:
    count = len(stretches)
    wall_of_face = np.full(len(seen), -1, dtype=np.int64)
    for number, stretch in enumerate(stretches):
        wall_of_face[stretch.members] = number
    first = np.array([s.members[0] for s in stretches], dtype=np.int64)
    centre = np.array([s.line.centre_m for s in stretches]).reshape(count, 2)
    normal = np.array([s.line.normal_rad for s in stretches])
    variance = np.array([s.line.variance for s in stretches]).reshape(count, 2)
    span = np.array([s.span_m for s in stretches]).reshape(count, 2)

    wall_of_reading, residuals = [], []
    squares, weights, largest = np.zeros(count), np.zeros(count), np.zeros(count)
    for i, capture in enumerate(progress.part(0.0, 0.7).over(survey.captures)):
        table = np.append(np.full(len(faces[i]), -1, dtype=np.int64), -1)
        own = seen.capture == i
        table[seen.face[own]] = wall_of_face[own]
        wall = table[faces[i].face_of_reading]
        on = np.flatnonzero(wall >= 0)
        owner = wall[on]
        xy = network.to_plan(i, capture.xy_m[on])
        residual = np.full(len(capture), np.nan)
        residual[on] = np.einsum("ij,ij->i", unit(normal[owner]), xy - centre[owner])
        doubt = across_variance(capture, network, i, on, unit(normal[owner]))
        far = np.abs(residual[on]) > REJECT * np.sqrt(doubt)
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
        sigma_normal_rad=np.sqrt(variance[:, 0]),
        sigma_offset_m=np.sqrt(variance[:, 1]),
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
        curves=no_curves(count),
    )
    return replace(measured, drawn_m=closed(measured, progress=progress.part(0.7, 1.0)))
