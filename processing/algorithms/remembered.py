# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters of a run that made a plan, for the next run on from it."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from .base import RoomtieAlgorithm
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
        name: json.loads(noted[name])
        for name in REMEMBERED
        if name in noted and parameters.get(name) is None
    }
    if "PLOT_SCALES" not in noted and parameters.get("PLOT_SCALES") is None:
        scales = np.unique(earlier.plan.earlier.drawing.walls.plot_scale)
        remembered["PLOT_SCALES"] = [f"1:{scale}" for scale in scales]
    return {**parameters, **remembered}


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
