# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters of a run that made a plan, for the next run on from it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from ..captures.findings import listed
from ..errors import SurveyError
from .base import RoomtieAlgorithm
from .drawing_input import PLOT_SCALES
from .earlier_input import EarlierFile

PARAMETER = "parameter"
REMEMBERED = (
    *("PLOT_SCALES", "SQUARE", "NICHES", "SIGMA_DISTANCE", "SIGMA_ANGLE", "USE_TARGETS"),
    *("USE_OVERLAP", "USE_COMPASS", "CORRECT_INSTRUMENT", "DATE", "HEIGHT", "MODE"),
)
"""What a run takes from the earlier one where it is not given; a held station is a choice in the
layer of stations."""


def with_remembered(parameters: dict[str, Any], earlier: EarlierFile) -> dict[str, Any]:
    """The parameters with those of the earlier run where this one leaves them out."""
    noted = {name: value for _, name, value in earlier.plan.notes.of(PARAMETER)}
    remembered = {
        name: _value(noted[name], name)
        for name in REMEMBERED
        if name in noted and parameters.get(name) is None
    }
    if "PLOT_SCALES" not in noted and parameters.get("PLOT_SCALES") is None:
        remembered["PLOT_SCALES"] = [f"1:{scale}" for scale in _scales(earlier)]
    return {**parameters, **remembered}


def _value(text: str, name: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise SurveyError(
            f"Table survey_notes: the parameter {name} is not what this plugin wrote; expected it "
            "as it was, or given."
        ) from None


def _scales(earlier: EarlierFile) -> list[int]:
    """The plot scales that the earlier plan was drawn at, finest first."""
    found = np.unique(earlier.plan.earlier.drawing.walls.plot_scale).tolist()
    return [scale for scale in found if scale in PLOT_SCALES]


def about_scales(earlier: EarlierFile, scales: Sequence[int]) -> list[str]:
    """A sentence where the earlier plan was drawn at plot scales that are not asked for, since a
    dialog gives those that it shows."""
    left = [f"1:{scale}" for scale in _scales(earlier) if scale not in scales]
    if not left:
        return []
    return [
        f"The earlier plan was drawn at {listed(left)} too, which this one is not; choose that in "
        "PLOT_SCALES to go on with it."
    ]


def parameters_noted(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any]
) -> list[tuple[str, str, str, str]]:
    """The parameters to remember, as lines of the table of notes."""
    noted = []
    for name in REMEMBERED:
        value = parameters.get(name)
        if value is None:
            value = algorithm.parameterDefinition(name).defaultValue()
        if isinstance(value, (str, int, float, bool, list, tuple)) and value != "":
            noted.append((PARAMETER, "", name, json.dumps(value)))
    return noted
