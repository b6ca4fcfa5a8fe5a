# SPDX-License-Identifier: GPL-2.0-or-later
"""Control points from a layer or table, for the algorithms that place a plan on the earth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCsException,
    QgsPointXY,
    QgsProcessingContext,
)

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .base import RoomtieAlgorithm
from .crs import transform_between
from .values import identifier, plain

if TYPE_CHECKING:
    from ..site.control import Control

# Not x and y: in many national grids x is the northing.
EAST_FIELDS = ("east_m", "east", "easting")
NORTH_FIELDS = ("north_m", "north", "northing")
SIGMA_FIELD = "sigma_mm"
DEFAULT_CONTROL_SIGMA_MM = 10.0


def read_control(
    algorithm: RoomtieAlgorithm,
    host_target: QgsCoordinateReferenceSystem,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress = SILENT,
) -> Control:
    """Control points in host coordinates of the target CRS: a point layer is transformed from
    its own CRS, a table without geometry is taken as it stands. SurveyError names the row that says
    too little, and what there is no field for."""
    from ..site.control import Control

    source = algorithm.source(parameters, "CONTROL", context)
    layer = f"CONTROL, layer {source.sourceName()}"
    fields = source.fields()
    names = {field.name().lower(): place for place, field in enumerate(fields)}
    name_field = algorithm.parameterAsString(parameters, "CONTROL_NAME", context) or "target"
    if name_field.lower() not in names:
        raise SurveyError(
            f"{layer}: there is no field {name_field!r} for the target's name; found "
            f"{', '.join(field.name() for field in fields)}."
        )
    place_of = {
        "east": next((names[n] for n in EAST_FIELDS if n in names), -1),
        "north": next((names[n] for n in NORTH_FIELDS if n in names), -1),
        "name": names[name_field.lower()],
        "sigma": names.get(SIGMA_FIELD, -1),
    }
    transform = transform_between(source.sourceCrs(), host_target, context)
    found: list[str] = []
    xy: list[tuple[float, float]] = []
    sigma: list[float] = []
    for feature in progress.over(source.getFeatures(), source.featureCount()):
        attributes = feature.attributes()
        name = identifier(attributes[place_of["name"]]).strip()
        if not name:
            raise SurveyError(
                f"{layer}, feature {feature.id()}: its field {name_field} is empty; expected the "
                "name of a target."
            )
        found.append(name)
        xy.append(_position(feature, attributes, place_of, transform, f"{layer}, {name}"))
        value = attributes[place_of["sigma"]] if place_of["sigma"] >= 0 else None
        sigma.append(_number(value, f"{layer}, {name}, field {SIGMA_FIELD}"))
    if not found:
        raise SurveyError(f"{layer}: it has no features; expected one for each known target.")
    millimetres = np.where(np.isnan(sigma), DEFAULT_CONTROL_SIGMA_MM, sigma)
    return Control(tuple(found), np.array(xy), millimetres / 1000.0)


def _position(
    feature: Any,
    attributes: list[Any],
    place_of: dict[str, int],
    transform: QgsCoordinateTransform | None,
    where: str,
) -> tuple[float, float]:
    if feature.hasGeometry():
        vertices = list(feature.geometry().vertices())
        if len(vertices) != 1:
            raise SurveyError(f"{where}: it has {len(vertices)} points; expected one.")
        point = QgsPointXY(vertices[0])
        if transform is not None:
            try:
                point = transform.transform(point)
            except QgsCsException as error:
                raise SurveyError(f"{where}: could not be transformed: {error}.") from error
        return point.x(), point.y()
    if place_of["east"] < 0 or place_of["north"] < 0:
        raise SurveyError(
            f"{where}: it has neither a point nor the fields east_m and north_m; expected one."
        )
    pair = tuple(
        _number(attributes[place_of[axis]], f"{where}, {axis}") for axis in ("east", "north")
    )
    if np.isnan(pair).any():
        raise SurveyError(f"{where}: a coordinate is empty; expected metres in the target CRS.")
    return pair


def _number(value: Any, where: str) -> float:
    """A number from a field of any type; NaN for a missing one."""
    known = plain(value)
    if known is None or known == "":
        return float("nan")
    try:
        return float(str(known).replace(",", "."))
    except ValueError:
        raise SurveyError(f"{where}: found {value!r}, expected a number.") from None
