# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations, readings, targets and covariances from layers, for the algorithms that take them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterFeatureSource,
)

from ..layers import schema
from .base import RoomtieAlgorithm, tr

if TYPE_CHECKING:
    from ..captures.model import Survey
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


def read_columns_of(
    algorithm: RoomtieAlgorithm,
    name: str,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    wanted: tuple[str, ...],
    optional: tuple[str, ...] = (),
) -> tuple[dict[str, list], Any] | tuple[None, None]:
    """Columns and geometries of a vector input; (None, None) for an optional one left empty."""
    from ..layers.features import read_columns

    if parameters.get(name) in (None, "") and is_optional(algorithm, name):
        return None, None
    source = algorithm.source(parameters, name, context)
    return read_columns(source, source.sourceName() or name, wanted, optional)


def is_optional(algorithm: RoomtieAlgorithm, name: str) -> bool:
    """Whether the algorithm can do without this input."""
    definition = algorithm.parameterDefinition(name)
    return bool(definition.flags() & definition.Flag.FlagOptional)


def read_survey_layers(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> Survey:
    """The survey of the STATIONS and READINGS inputs."""
    from ..layers import read

    stations, _ = read_columns_of(
        algorithm,
        "STATIONS",
        parameters,
        context,
        read.STATION_FIELDS,
        read.OPTIONAL_STATION_FIELDS,
    )
    readings, _ = read_columns_of(
        algorithm,
        "READINGS",
        parameters,
        context,
        read.READING_FIELDS,
        read.OPTIONAL_READING_FIELDS,
    )
    return read.survey(stations, readings)


def read_network(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> Network:
    """The network of the STATIONS input, with TARGETS and NETWORK_COVARIANCE where given."""
    from ..layers import read

    stations, _ = read_columns_of(
        algorithm,
        "STATIONS",
        parameters,
        context,
        (*read.STATION_FIELDS, *read.POSE_FIELDS),
        read.OPTIONAL_STATION_FIELDS,
    )
    targets = covariance = None
    if algorithm.parameterDefinition("TARGETS") is not None:
        targets, _ = read_columns_of(
            algorithm,
            "TARGETS",
            parameters,
            context,
            read.TARGET_FIELDS,
            read.OPTIONAL_TARGET_FIELDS,
        )
    if algorithm.parameterDefinition("NETWORK_COVARIANCE") is not None:
        covariance, _ = read_columns_of(
            algorithm,
            "NETWORK_COVARIANCE",
            parameters,
            context,
            schema.NETWORK_COVARIANCE.field_names,
        )
    return read.network(stations, targets, covariance)
