# SPDX-License-Identifier: GPL-2.0-or-later
"""The walls of a plan's layers, and the distances between them with their errors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .survey_input import SurveyLayers

if TYPE_CHECKING:
    from ..walls.distances import Distances
    from ..walls.model import WallFaces


def walls_in_plan(
    layers: SurveyLayers, columns: dict[str, list], stored: Any
) -> dict[int, WallFaces]:
    """The walls of a layer's columns and geometries by plot scale, taken back to the plan's axes.

    SurveyError where walls, readings and stations are not of one plan.
    """
    from ..captures.noise import with_noise
    from ..layers.read import numbers
    from ..layers.read_walls import read_walls
    from ..layers.table import moved_by_group

    group = numbers(columns["network"], 1.0)
    in_plan = moved_by_group(stored, group, layers.frame.to_plan)
    survey = with_noise(layers.survey)
    return read_walls(columns, in_plan, layers.readings, survey, layers.network)


def distances_between(layers: SurveyLayers, walls: WallFaces) -> Distances:
    """Distances between these walls and the targets of the plan."""
    from ..captures.noise import with_noise
    from ..walls.distances import Distances
    from ..walls.rooms_errors import face_errors

    survey, network = with_noise(layers.survey), layers.network
    return Distances(walls, face_errors(survey, network, walls), network)
