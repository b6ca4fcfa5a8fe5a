# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters about what a person decided, and about the poses an adjustment starts from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
)

from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .survey_input import SurveyLayers, read_columns_of

if TYPE_CHECKING:
    from ..stations.choices import Choices, Start

ANEW, FROM_POSES, AS_PLACED = range(3)


def add_choice_parameters(algorithm: RoomtieAlgorithm) -> None:
    """Earlier ties with their choices, their covariances, and where the adjustment starts."""
    for name, title in (
        ("EARLIER_TIES", tr("Earlier ties, with what was decided about them")),
        ("EARLIER_COVARIANCE", tr("Earlier network covariance, for stations that are held")),
    ):
        algorithm.addParameter(
            QgsProcessingParameterFeatureSource(
                name, title, [QgsProcessing.SourceType.TypeVector], optional=True
            )
        )
    algorithm.addParameter(
        QgsProcessingParameterEnum(
            "START",
            tr("Start"),
            [
                tr("Search all overlaps anew"),
                tr("From adjusted stations; search those that are not tied"),
                tr("From adjusted stations; search nothing"),
            ],
            defaultValue=FROM_POSES,
        )
    )


def read_choices(
    algorithm: RoomtieAlgorithm,
    layers: SurveyLayers,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
) -> tuple[Choices, Start | None]:
    """What a person decided, and the poses to start from (None: from nothing).

    SurveyError for a choice or factor that is none, naming layer and feature.
    """
    from ..layers import choices as choices_of

    ties, _ = read_columns_of(
        algorithm,
        "EARLIER_TIES",
        parameters,
        context,
        choices_of.TIE_FIELDS,
        choices_of.OPTIONAL_TIE_FIELDS,
    )
    covariance, _ = read_columns_of(
        algorithm,
        "EARLIER_COVARIANCE",
        parameters,
        context,
        schema.NETWORK_COVARIANCE.field_names,
    )
    choices = choices_of.choices(layers.stations, ties)
    wanted = algorithm.parameterAsEnum(parameters, "START", context)
    start = choices_of.start(layers.stations, covariance, search=wanted != AS_PLACED)
    if start is not None and wanted == ANEW:
        names = layers.survey.names
        start = start.without(names, [name for name in names if name not in choices.held])
    if start is None or not start.known.any():
        return choices, None
    progress.say(
        tr("Starts from the poses of {0} of {1} stations.").format(
            int(start.known.sum()), len(start.known)
        )
    )
    return choices, start
