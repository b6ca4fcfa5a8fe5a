# SPDX-License-Identifier: GPL-2.0-or-later
"""Target CRS, date, height and control, for the algorithms that place a plan on the earth."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCsException,
    QgsPointXY,
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterCrs,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterField,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
    QgsProject,
)

from ..angles import wrap_half_deg
from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .crs import to_pyproj

if TYPE_CHECKING:
    from ..captures.model import Survey
    from ..site.evidence import Control
    from ..site.model import SiteFit
    from ..stations.model import Network

WHAT_IS_EMPTY = (
    "\n\nTarget CRS: empty means the project's where it is projected, else the UTM zone of the "
    "geotags. Date and height: empty means as in the captures. Control points: a point layer, or a "
    "table with east_m and north_m in the target CRS; sigma_mm where known (else 10 mm)."
)
MODES = ("move coordinates", "site grid")
# Not x and y: in many national grids x is the northing.
EAST_FIELDS = ("east_m", "east", "easting")
NORTH_FIELDS = ("north_m", "north", "northing")
SIGMA_FIELD = "sigma_mm"
DEFAULT_CONTROL_SIGMA_MM = 10.0


def add_site_parameters(algorithm: RoomtieAlgorithm) -> None:
    """Where the plan goes and what is known of the place."""
    algorithm.addParameter(
        QgsProcessingParameterCrs(
            "TARGET_CRS",
            tr("Target CRS"),
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterString(
            "DATE",
            tr("Date of the declination (YYYY-MM-DD)"),
            "",
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterNumber(
            "HEIGHT",
            tr("Ellipsoidal height (m)"),
            QgsProcessingParameterNumber.Type.Double,
            None,
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterFeatureSource(
            "CONTROL",
            tr("Control points"),
            [QgsProcessing.SourceType.TypeVector],
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterField(
            "CONTROL_NAME",
            tr("Field with the target's name"),
            "target",
            parentLayerParameterName="CONTROL",
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterEnum(
            "MODE",
            tr("Result"),
            options=list(MODES),
            defaultValue=MODES[0],
            usesStaticStrings=True,
        )
    )


def project_crs(context: QgsProcessingContext) -> QgsCoordinateReferenceSystem | None:
    """The project's CRS where it is projected; to be asked on the main thread."""
    project: QgsProject | None = context.project()
    crs = project.crs() if project is not None else None
    return crs if crs is not None and crs.isValid() and not crs.isGeographic() else None


def fit_with_parameters(
    algorithm: RoomtieAlgorithm,
    survey: Survey,
    network: Network,
    of_project: QgsCoordinateReferenceSystem | None,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
) -> tuple[tuple[SiteFit, ...], list[str]]:
    """The fits of the connected groups, and sentences about what was chosen; no fits where nothing
    says where the group of the held (else the first) station lies."""
    from ..site.fit import fit_site

    target, told = _target(algorithm, survey, of_project, parameters, context)
    if target is None:
        return (), told
    control = None
    if parameters.get("CONTROL") not in (None, ""):
        control = read_control(algorithm, target, parameters, context)
    fits = fit_site(
        survey,
        network,
        target_crs=to_pyproj(target),
        on=_date(algorithm.parameterAsString(parameters, "DATE", context)),
        height_m=algorithm.optional_number(parameters, "HEIGHT", context),
        control=control,
        progress=progress,
    )
    main = int(network.network.min())
    if fits and fits[0].network != main:
        member = network.station[network.network.tolist().index(main)]
        told.append(
            f"Nothing says where the group of station {member} lies or how it is turned; what "
            "other stations say of their own place is not carried over to it."
        )
        return (), told
    return fits, told


def _target(
    algorithm: RoomtieAlgorithm,
    survey: Survey,
    of_project: QgsCoordinateReferenceSystem | None,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
) -> tuple[QgsCoordinateReferenceSystem | None, list[str]]:
    """The target CRS: as asked, else the project's, else the UTM zone of the geotags, else none;
    and what to say about it."""
    from ..site.grid import grid_at
    from ..site.target_crs import utm_for

    asked = algorithm.parameterAsCrs(parameters, "TARGET_CRS", context)
    if asked.isValid():
        return asked, []
    if parameters.get("TARGET_CRS") not in (None, ""):
        raise SurveyError(
            f"TARGET_CRS: {parameters['TARGET_CRS']!r} is not a coordinate system that the host "
            "knows; expected for example EPSG:32631."
        )
    tagged = [capture for capture in survey.captures if capture.has_geotag]
    if not tagged:
        if parameters.get("CONTROL") in (None, ""):
            return None, []
        if of_project is None:
            raise SurveyError(
                "TARGET_CRS: nothing was given and no station has a geotag; expected the "
                "coordinate system of the control points."
            )
        return of_project, []
    # The median, on both sides of the antimeridian: one absurd geotag must not choose the zone.
    first = tagged[0].longitude_deg
    east = wrap_half_deg([capture.longitude_deg - first for capture in tagged])
    longitude = float(wrap_half_deg(first + np.median(east)))
    latitude = float(np.median([capture.latitude_deg for capture in tagged]))
    zone = utm_for(longitude, latitude)
    host_zone = QgsCoordinateReferenceSystem(f"EPSG:{zone.to_epsg()}")
    if of_project is None:
        return host_zone, []
    try:
        grid_at(to_pyproj(of_project), longitude, latitude, 0.0)
    except SurveyError as unfit:
        # Nobody chose the project's CRS for this plan: it may be a web map's.
        return host_zone, [f"{unfit} The plan lies in {zone.name} instead."]
    return of_project, []


def _date(text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip()[:10])
    except ValueError:
        raise SurveyError(f"DATE: found {text!r}, expected a date such as 2026-03-18.") from None


def read_control(
    algorithm: RoomtieAlgorithm,
    host_target: QgsCoordinateReferenceSystem,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
) -> Control:
    """Control points in host coordinates of the target CRS: a point layer is transformed from
    its own CRS, a table without geometry is taken as it stands."""
    from ..site.evidence import Control

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
    transform = None
    if source.sourceCrs().isValid() and source.sourceCrs() != host_target:
        transform = QgsCoordinateTransform(
            source.sourceCrs(), host_target, context.transformContext()
        )
    found: list[str] = []
    xy: list[tuple[float, float]] = []
    sigma: list[float] = []
    for feature in source.getFeatures():
        attributes = feature.attributes()
        name = str(attributes[place_of["name"]])
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
    """A number from a field of any type; NaN for NULL."""
    if value is None or str(value) in ("", "NULL"):
        return float("nan")
    try:
        return float(str(value).replace(",", "."))
    except ValueError:
        raise SurveyError(f"{where}: found {value!r}, expected a number.") from None
