# SPDX-License-Identifier: GPL-2.0-or-later
"""Target CRS, date, height and control, for the algorithms that place a plan on the earth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsCoordinateReferenceSystem,
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

from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .control_input import read_control
from .crs import host_crs_of, to_pyproj
from .footprint_input import add_footprint_parameters, read_footprint
from .translation import mark

if TYPE_CHECKING:
    from ..captures.model import KnownPoint, Survey
    from ..site.model import SiteFit
    from ..stations.model import Network

WHAT_IS_EMPTY = mark(
    "\n\nTarget CRS: empty means the project's where it is projected, else the UTM zone of the "
    "geotags. Date and height: empty means as in the captures. Control points: a point layer, or a "
    "table with east_m and north_m in the target CRS; sigma_mm where known (else 10 mm); empty "
    "means the coordinates that LandXML files among the captures give. Building outlines: a "
    "polygon layer of the site map; the plan's outside is fitted to the building it lies in."
)
MODES = ("move coordinates", "site grid")


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
    add_footprint_parameters(algorithm)
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
    outlines: Mapping[int, Any] | None = None,
    earlier_control: Sequence[KnownPoint] = (),
) -> tuple[tuple[SiteFit, ...], list[str]]:
    """The fits of the connected groups, and sentences about what was chosen; no fits where nothing
    says where the group of the held (else the first) station lies. `outlines` are the outsides of
    the groups, for the footprint; `earlier_control` were given as control points before."""
    from ..site.fit import fit_site
    from ..site.known_points import control_of_known, with_earlier_control
    from ..site.target_crs import middle_of_geotags

    target, told = _target(algorithm, survey, of_project, parameters, context)
    if target is None:
        return (), told
    given = parameters.get("CONTROL") not in (None, "")
    place = middle_of_geotags(survey.captures)
    control = None
    if given:
        control = read_control(algorithm, target, parameters, context, progress.part(0.0, 0.05))
        if survey.known_points:
            told.append(
                "Control points were given; the coordinates in the capture files are not used."
            )
    elif not earlier_control:
        control, about_files = control_of_known(
            survey.known_points, network, to_pyproj(target), place
        )
        told.extend(about_files)
    if earlier_control:
        control, about_control = with_earlier_control(
            control, earlier_control, network, to_pyproj(target), place
        )
        told.extend(about_control)
    fits = fit_site(
        survey,
        network,
        target_crs=to_pyproj(target),
        on=algorithm.optional_date(parameters, "DATE", context),
        height_m=algorithm.optional_number(parameters, "HEIGHT", context),
        control=control,
        footprint=read_footprint(
            algorithm, target, outlines or {}, parameters, context, told, progress.part(0.05, 0.1)
        ),
        progress=progress.part(0.1, 1.0),
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
    from ..site.target_crs import middle_of_geotags, utm_for

    asked = algorithm.parameterAsCrs(parameters, "TARGET_CRS", context)
    if asked.isValid():
        return asked, []
    if parameters.get("TARGET_CRS") not in (None, ""):
        raise SurveyError(
            f"TARGET_CRS: {parameters['TARGET_CRS']!r} is not a coordinate system that the host "
            "knows; expected for example EPSG:32631."
        )
    place = middle_of_geotags(survey.captures)
    if place is None:
        if parameters.get("CONTROL") in (None, ""):
            return _target_of_files(survey, of_project)
        if of_project is None:
            raise SurveyError(
                "TARGET_CRS: nothing was given and no station has a geotag; expected the "
                "coordinate system of the control points."
            )
        return of_project, []
    longitude, latitude = place
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


def _target_of_files(
    survey: Survey, of_project: QgsCoordinateReferenceSystem | None
) -> tuple[QgsCoordinateReferenceSystem | None, list[str]]:
    """The target CRS where only the files' own coordinates may tell the place: the project's if it
    suits it, else the one that the files name, else none."""
    from ..site.grid import grid_at
    from ..site.known_points import crs_of_known, place_of_known

    known = survey.known_points
    if not known:
        return None, []
    text = crs_of_known(known)
    if not text:
        if of_project is not None:
            return of_project, []
        return None, [
            "The capture files give coordinates but name no coordinate system for them; give "
            "TARGET_CRS to place the plan by them."
        ]
    own = host_crs_of(text)
    if of_project is None:
        return own, []
    try:
        grid_at(to_pyproj(of_project), *place_of_known(known, text), 0.0)
    except SurveyError as unfit:
        return own, [f"{unfit} The plan lies in {own.description()} instead."]
    return of_project, []
