# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations, readings, targets and covariances from layers, for the algorithms that take them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterFeatureSource,
)

from ..layers import schema
from ..progress import SILENT, Progress
from .base import RoomtieAlgorithm, tr

if TYPE_CHECKING:
    from ..captures.model import Survey
    from ..layers.plan_frame import PlanFrame
    from ..stations.model import Network


def add_stations(algorithm: RoomtieAlgorithm, title: str) -> None:
    """The stations layer."""
    algorithm.addParameter(
        QgsProcessingParameterFeatureSource(
            "STATIONS", tr(title), [QgsProcessing.SourceType.TypeVectorPoint]
        )
    )


def add_readings(algorithm: RoomtieAlgorithm) -> None:
    """The readings layer; readings without a return have no geometry, which is in order."""
    algorithm.addParameter(
        QgsProcessingParameterFeatureSource(
            "READINGS", tr("Readings"), [QgsProcessing.SourceType.TypeVectorPoint]
        )
    )


def add_covariance(algorithm: RoomtieAlgorithm) -> None:
    """The optional table of covariances between stations."""
    algorithm.addParameter(
        QgsProcessingParameterFeatureSource(
            "NETWORK_COVARIANCE",
            tr("Network covariance (without it stations count as uncorrelated)"),
            [QgsProcessing.SourceType.TypeVector],
            optional=True,
        )
    )


@dataclass(frozen=True)
class SurveyLayers:
    """Columns of the layers that hold a survey, each read once, and what is made of them, each made
    once; None where an input was left empty or the algorithm has none of that name."""

    stations: dict[str, list]
    station_points: Any
    readings: dict[str, list] | None
    reading_points: Any
    targets: dict[str, list] | None
    covariance: dict[str, list] | None

    @cached_property
    def survey(self) -> Survey:
        """Captures of the stations, with their readings where there are any."""
        from ..layers import read

        return read.survey(self.stations, self.readings)

    @cached_property
    def frame(self) -> PlanFrame:
        """Between the layers' coordinates and the plan's; SurveyError where they do not belong
        together."""
        from ..layers import read
        from ..layers.plan_frame import plan_frame

        survey = self.survey
        rows = None if self.readings is None else read.rows_by_station(survey.names, self.readings)
        return plan_frame(survey, self.network, self.station_points, self.reading_points, rows)

    @cached_property
    def network(self) -> Network:
        """The adjusted network; SurveyError where the stations are not adjusted."""
        from ..layers import read

        return read.network(self.stations, self.targets, self.covariance)


def read_survey_layers(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
    adjusted: bool,
) -> SurveyLayers:
    """The inputs STATIONS, READINGS, TARGETS and NETWORK_COVARIANCE, as far as the algorithm has
    them; `adjusted` says that stations need their poses."""

    def columns(
        kind: schema.LayerSchema, wanted: Sequence[str], optional: Sequence[str] = ()
    ) -> tuple[Any, Any]:
        name = kind.name.upper()
        return read_columns_of(algorithm, name, parameters, context, wanted, optional, progress)

    return survey_layers(columns, adjusted)


def survey_layers(columns: Callable[..., tuple[Any, Any]], adjusted: bool) -> SurveyLayers:
    """What ``columns(kind, wanted, optional)`` gives of each kind of layer: columns by field, and
    geometries; None for both where there is no such layer."""
    from ..layers import read

    stations, points = columns(
        schema.STATIONS,
        (*read.STATION_FIELDS, *(read.POSE_FIELDS if adjusted else ())),
        (*read.OPTIONAL_STATION_FIELDS, *(() if adjusted else read.POSE_FIELDS)),
    )
    return SurveyLayers(
        stations,
        points,
        *columns(schema.READINGS, read.READING_FIELDS, read.OPTIONAL_READING_FIELDS),
        columns(schema.TARGETS, read.TARGET_FIELDS, read.OPTIONAL_TARGET_FIELDS)[0],
        columns(schema.NETWORK_COVARIANCE, schema.NETWORK_COVARIANCE.field_names)[0],
    )


def read_columns_of(
    algorithm: RoomtieAlgorithm,
    name: str,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    wanted: Sequence[str],
    optional: Sequence[str] = (),
    progress: Progress = SILENT,
) -> tuple[dict[str, list], Any] | tuple[None, None]:
    """Columns and geometries of a vector input; (None, None) where the algorithm has no such input
    or it is optional and was left empty."""
    from ..layers.features_read import read_columns

    definition = algorithm.parameterDefinition(name)
    if definition is None or definition.isDestination():
        return None, None
    may_be_empty = bool(definition.flags() & definition.Flag.FlagOptional)
    if may_be_empty and parameters.get(name) in (None, ""):
        return None, None
    source = algorithm.source(parameters, name, context)
    return read_columns(source, source.sourceName() or name, wanted, optional, progress)
