# SPDX-License-Identifier: GPL-2.0-or-later
"""Plot scales and squaring, for the algorithms that draw."""

from __future__ import annotations

from typing import Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsProcessingParameterNumber,
)

from ..errors import SurveyError
from .base import RoomtieAlgorithm, tr

PLOT_SCALES = (20, 50, 100, 200)
DEFAULT_SCALES = (50, 100, 200)
SCALE_NAMES = tuple(f"1:{scale}" for scale in PLOT_SCALES)
SQUARING = ("never", "where the readings allow", "within tolerance")
USUAL_SIGMAS = 2.576
"""As `walls.squaring.UNTELLABLE`, which needs numpy."""


def add_plot_scales(algorithm: RoomtieAlgorithm) -> None:
    """Several plot scales."""
    algorithm.addParameter(
        QgsProcessingParameterEnum(
            "PLOT_SCALES",
            tr("Plot scales"),
            options=list(SCALE_NAMES),
            allowMultiple=True,
            defaultValue=[f"1:{scale}" for scale in DEFAULT_SCALES],
            usesStaticStrings=True,
        )
    )


def add_squaring(algorithm: RoomtieAlgorithm) -> None:
    """When a face may be turned to a building axis."""
    algorithm.addParameter(
        QgsProcessingParameterEnum(
            "SQUARE",
            tr("Turn walls to the building's axes"),
            options=list(SQUARING),
            defaultValue=SQUARING[1],
            usesStaticStrings=True,
        )
    )
    number = QgsProcessingParameterNumber
    algorithm.addParameter(
        number(
            "SQUARE_SIGMAS",
            tr(
                "Standard errors within which the readings cannot tell a wall from an axis "
                "(2.576: 99 %)"
            ),
            number.Type.Double,
            USUAL_SIGMAS,
            minValue=0.0,
            maxValue=10.0,
        )
    )


def add_niches(algorithm: RoomtieAlgorithm) -> None:
    """Which convention areas follow."""
    algorithm.addParameter(
        QgsProcessingParameterBoolean(
            "NICHES",
            tr("Count recesses of walls (niches, closed doors in their reveals) to room areas"),
            True,
        )
    )


def niches(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> bool:
    """Whether shallow recesses count to the rooms."""
    return bool(algorithm.parameterAsBool(parameters, "NICHES", context))


def plot_scales(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> tuple[int, ...]:
    """The chosen plot scales, finest first."""
    names = algorithm.parameterAsEnumStrings(parameters, "PLOT_SCALES", context)
    unknown = [name for name in names if name not in SCALE_NAMES]
    if unknown or not names:
        raise SurveyError(
            f"PLOT_SCALES: found {unknown[0] if unknown else 'nothing'}, expected one or more of "
            f"{', '.join(SCALE_NAMES)}."
        )
    return tuple(sorted({int(name.split(":")[1]) for name in names}))


def squaring(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> Any:
    """The chosen `walls.squaring.Square`."""
    from ..walls.squaring import Square

    word = algorithm.parameterAsEnumString(parameters, "SQUARE", context)
    choices = (Square.NEVER, Square.WHERE_READINGS_ALLOW, Square.WITHIN_TOLERANCE)
    return choices[SQUARING.index(word)] if word in SQUARING else Square.WHERE_READINGS_ALLOW


def sigmas_of_squaring(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> float:
    """Standard errors within which a face cannot be told from an axis."""
    return float(algorithm.parameterAsDouble(parameters, "SQUARE_SIGMAS", context))
