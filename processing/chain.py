# SPDX-License-Identifier: GPL-2.0-or-later
"""The stages in a row, passing arrays: what Plan from captures does, and what the single
algorithms do each a part of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .captures.defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M
from .captures.face_model import Faces
from .captures.faces import fit_faces
from .captures.model import Survey
from .captures.noise import with_noise
from .progress import SILENT, Progress
from .stations.model import Network
from .stations.network import adjust_survey
from .stations.network_options import NetworkOptions
from .stations.systematics import corrected_survey
from .walls.bounding import bounds_room
from .walls.earlier import EarlierDrawing
from .walls.faces import find_walls
from .walls.identity_kept import Found, with_kept_rooms, with_kept_walls
from .walls.model import Plan, WallFaces
from .walls.plot_scales import TOLERANCE_M, draw_walls
from .walls.rooms import build_rooms
from .walls.squaring import UNTELLABLE, Square
from .walls.tolerance import check_tolerance

CORRECTIONS = 2
"""Large errors raise the scatter and are found only in part at first; what is left is found in the
network that was freed of most of them."""


@dataclass(frozen=True, eq=False)
class Tied:
    """A survey whose stations are tied: definite noise, faces of each capture, the network."""

    survey: Survey
    faces: tuple[Faces, ...]
    network: Network


@dataclass(frozen=True, eq=False)
class Drawn:
    """The survey with what is no wall flagged, wall faces as measured, what is drawn at each plot
    scale, and what the survey itself says of rooms and openings (`identity_kept.Found`)."""

    survey: Survey
    measured: WallFaces
    plans: tuple[Plan, ...]
    found: Found


def fit_all_faces(survey: Survey, progress: Progress = SILENT) -> tuple[Faces, ...]:
    """The straight faces of every capture."""
    return tuple(fit_faces(capture) for capture in progress.over(survey.captures))


def tie_stations(
    survey: Survey,
    options: NetworkOptions,
    sigma_distance_m: float = DISTANCE_SIGMA_M,
    sigma_angle_deg: float = ANGLE_SIGMA_DEG,
    progress: Progress = SILENT,
) -> Tied:
    """Tie and adjust the stations of a survey whose readings are flagged.

    Where `options.corrected` names systematic errors of the instrument, the readings are freed of
    them first.
    """
    if options.corrected is not None:
        survey = corrected_survey(survey, options.corrected)
    survey = with_noise(survey, sigma_distance_m, sigma_angle_deg)
    faces = fit_all_faces(survey, progress.part(0.0, 0.2))
    network = adjust_survey(survey, faces, options, progress.part(0.2, 1.0))
    return Tied(survey, faces, network)


def tie_and_correct(
    survey: Survey,
    options: NetworkOptions,
    sigma_distance_m: float = DISTANCE_SIGMA_M,
    sigma_angle_deg: float = ANGLE_SIGMA_DEG,
    progress: Progress = SILENT,
) -> Tied:
    """Tie the stations, free the readings of what the network tells of the instrument's systematic
    errors, and tie them again; once where it tells of none."""
    noise = (sigma_distance_m, sigma_angle_deg)
    tied = tie_stations(survey, options, *noise, progress=progress.part(0.0, 0.4))
    for step, _ in progress.part(0.4, 1.0).each(range(CORRECTIONS)):
        told = tied.network.systematics
        found = None if told is None else told.to_apply()
        if found is None:
            break
        known = options.corrected
        options = replace(options, corrected=found if known is None else known.plus(found))
        tied = tie_stations(survey, options, *noise, progress=step)
    progress.at(1.0)
    return tied


def draw_walls_at(
    measured: WallFaces,
    plot_scales: Sequence[int],
    square: Square = Square.WHERE_READINGS_ALLOW,
    tolerance_m: float | None = None,
    progress: Progress = SILENT,
    untellable: float = UNTELLABLE,
) -> tuple[tuple[WallFaces, float], ...]:
    """The measured faces drawn at each plot scale, with the furthest that a face moved (m). A
    user's own tolerance narrows that of the scale; it never widens what the scale promises.
    `square` and `untellable` as in `draw_walls`.

    The promise of the tolerance is checked on every result; SurveyError if it were broken.
    """
    drawn = []
    for part, scale in progress.each(sorted(set(plot_scales))):
        allowed = min(TOLERANCE_M[scale], np.inf if tolerance_m is None else tolerance_m)
        walls = draw_walls(
            measured,
            plot_scale=scale,
            tolerance_m=allowed,
            square=square,
            untellable=untellable,
            progress=part.part(0.0, 0.7),
        )
        moves = check_tolerance(measured, walls, allowed, part.part(0.7, 1.0))
        drawn.append((walls, moves.largest_m))
    progress.at(1.0)
    return tuple(drawn)


def draw_plans(
    tied: Tied,
    plot_scales: Sequence[int],
    square: Square = Square.WHERE_READINGS_ALLOW,
    progress: Progress = SILENT,
    niches: bool = True,
    earlier: EarlierDrawing | None = None,
    untellable: float = UNTELLABLE,
) -> Drawn:
    """Walls, rooms and openings at each plot scale; `square` and `untellable` as in `draw_walls`,
    `niches` as in `build_rooms`. What goes on from an `earlier` drawing keeps its identifiers,
    names and a person's marks."""
    measured, survey = find_walls(tied.survey, tied.faces, tied.network, progress.part(0.0, 0.4))
    if earlier is not None:
        measured = with_kept_walls(measured, survey, earlier)
    drawn = draw_walls_at(
        measured, plot_scales, square, progress=progress.part(0.4, 0.5), untellable=untellable
    )
    plans = []
    for part, (walls, moved_m) in progress.part(0.5, 1.0).each(drawn):
        rooms, openings = build_rooms(
            tied.survey, tied.network, walls, niches=niches, progress=part.part(0.0, 0.97)
        )
        bounding = bounds_room(walls, rooms, openings, part.part(0.97, 1.0))
        plans.append(Plan(walls, rooms, openings, bounding, moved_m))
    kept, found = with_kept_rooms(plans, earlier)
    return Drawn(survey, measured, kept, found)
