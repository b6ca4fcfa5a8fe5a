# SPDX-License-Identifier: GPL-2.0-or-later
"""Georeference plan: plan layers into a coordinate system, from geotags, bearings and control."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingOutputNumber,
    QgsProcessingOutputString,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterMultipleLayers,
)

from ..angles import wrap_half_deg
from ..errors import SurveyError
from ..files import all_or_nothing, write_text
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .crs import called, from_wkt, host_crs_of
from .plan_layers import LayerWithCrs, in_plan
from .site_input import MODES, WHAT_IS_EMPTY, add_site_parameters, fit_with_parameters, project_crs
from .survey_input import add_covariance, add_stations, read_survey_layers
from .translation import mark

if TYPE_CHECKING:
    from ..layers.plan_frame import PlanFrame
    from ..site.placement import Placement

NUMBERS = (
    ("DECLINATION", mark("Declination (deg)")),
    ("CONVERGENCE", mark("Convergence (deg)")),
    ("COMBINED_SCALE_FACTOR", mark("Combined scale factor")),
    ("ROTATION", mark("Rotation: grid azimuth of plan north (deg)")),
    ("SIGMA_ROTATION", mark("Standard error of the rotation (deg)")),
    ("SIGMA_EAST", mark("Standard error of the east (m)")),
    ("SIGMA_NORTH", mark("Standard error of the north (m)")),
)


class GeoreferencePlan(RoomtieAlgorithm):
    ID = "georeferenceplan"
    TITLE = "Georeference plan"
    PAGE = "georeference"
    HELP = (
        "Places plan layers on the earth by one weighted fit of east, north and rotation to what "
        "there is: geotags, compass bearings corrected for declination and convergence, and "
        "control points. Bearings are tested against each other, so that a compass bent by steel "
        "is found and left out.\n\n"
        "Move coordinates writes the layers in the target CRS, scaled from ground to grid. Site "
        "grid keeps the plan's own axes and true distances in a derived CRS that the host "
        "reprojects exactly. Layers that were georeferenced before are taken back to plan "
        "coordinates by their stations and fitted again, as often as you like. With rooms among "
        "the layers, an error band shows where the plan's outside may lie (95 %).\n\n"
        "A plan is not a boundary document: defer to a licensed surveyor."
    )

    def shortHelpString(self) -> str:
        return super().shortHelpString() + tr(WHAT_IS_EMPTY)

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        self.addParameter(
            QgsProcessingParameterMultipleLayers(
                "LAYERS", tr("Plan layers"), QgsProcessing.SourceType.TypeVector
            )
        )
        add_stations(self, mark("Adjusted stations"))
        self.addParameter(
            QgsProcessingParameterFeatureSource(
                "TARGETS",
                tr("Targets (needed for control points)"),
                [QgsProcessing.SourceType.TypeVectorPoint],
                optional=True,
            )
        )
        add_covariance(self)
        add_site_parameters(self)
        self.addParameter(
            QgsProcessingParameterFileDestination(
                "OUTPUT", tr("Georeferenced plan"), tr("GeoPackage files (*.gpkg)")
            )
        )
        self.add_report()
        for name, title in NUMBERS:
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))
        self.addOutput(QgsProcessingOutputString("SITE_GRID_CRS", tr("Site grid CRS (WKT)")))

    def prepareAlgorithm(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        feedback: QgsProcessingFeedback,
    ) -> bool:
        self._project_crs = project_crs(context)
        layers = self.parameterAsLayerList(parameters, "LAYERS", context)
        self._layers = [LayerWithCrs.of(layer) for layer in layers]
        return True

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..layers.features import write_geopackage
        from ..layers.rows_plan import error_bands
        from ..reports.html import bullets, page
        from ..reports.site_section import site_section_html
        from ..site.placement import Placement
        from ..site.site_grid import site_grid_wkt

        layers = read_survey_layers(self, parameters, context, progress, adjusted=True)
        stations_crs = self.source(parameters, "STATIONS", context).sourceCrs()
        plan = in_plan(self._layers, layers, stations_crs, progress.part(0.0, 0.1))
        survey, network, outlines = layers.survey, layers.network, _outlines(plan.tables)
        site = (parameters, context, progress.part(0.1, 0.4), outlines)
        fits, told = fit_with_parameters(self, survey, network, self._project_crs, *site)
        if not fits:
            raise SurveyError(
                told[-1]
                if told
                else "The stations have no geotags and no control points were given: nothing says "
                "where the plan lies; expected either."
            )
        site_grid = self.parameterAsEnumString(parameters, "MODE", context) == MODES[1]
        placement = Placement(fits, site_grid)
        wkt = site_grid_wkt(fits[0], "Site grid")
        crs = from_wkt(wkt) if site_grid else host_crs_of(fits[0].target_crs)
        if plan.before is not None:
            told.insert(0, _moved_before(plan.before, placement, stations_crs, crs))
        bands = error_bands(fits, outlines)
        tables = [_with_roles(table, fits) for table in plan.tables]
        tables = [bands, *tables] if len(bands) else tables
        if not len(bands):
            told.append("No error band is drawn: there are no rooms among the layers.")
        for sentence in (*told, *(warning for fit in fits for warning in fit.warnings)):
            progress.say(sentence)
        moved = [table.placed(placement.place) for table in tables]
        output = self.geopackage_output(parameters, "OUTPUT", context)
        html = page("Georeferencing", bullets(told) + site_section_html(fits, _corners(outlines)))
        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        with all_or_nothing() as draft:
            if report:
                write_text(draft(Path(report)), html)
            write_geopackage(draft(output), moved, crs, progress=progress.part(0.4, 0.95))
        return {
            "OUTPUT": str(output),
            **({"OUTPUT_HTML": report} if report else {}),
            **site_numbers(fits[0]),
            "SITE_GRID_CRS": wkt,
        }


def _outlines(tables: list[Any]) -> dict[int, Any]:
    """The outside of each connected group by the rooms among the layers, all storeys together."""
    from ..layers.schema import ROOMS
    from ..site.footprint import outline_of

    rooms = [table for table in tables if set(ROOMS.field_names) <= set(table.schema.field_names)]
    if not rooms:
        return {}
    shapes: dict[int, list[Any]] = {}
    for table in rooms:
        for number, shape in zip(table.network.tolist(), table.geometry):
            if shape is not None:
                shapes.setdefault(int(number), []).append(shape)
    return {number: outline_of(of) for number, of in shapes.items()}


def _with_roles(table: Any, fits: Any) -> Any:
    """The targets that placed the plan as control points; other tables as they are."""
    from ..layers.rows import with_control
    from ..layers.schema import TARGETS

    if not set(TARGETS.field_names) <= set(table.schema.field_names):
        return table
    used = [e.name for fit in fits for e in fit.evidence if e.kind == "control"]
    return with_control(table, used)


def _corners(outlines: dict[int, Any]) -> dict[int, np.ndarray]:
    """The corners of the outsides, for the accuracy at the farthest."""
    import shapely

    return {number: shapely.get_coordinates(shape) for number, shape in outlines.items()}


def _moved_before(
    before: PlanFrame,
    placement: Placement,
    old: QgsCoordinateReferenceSystem,
    new: QgsCoordinateReferenceSystem,
) -> str:
    """That the layers had been georeferenced, and how far the new fit is from that."""
    first = placement.fits[0]
    sentence = (
        f"The layers had been georeferenced before (in {called(old)}): they "
        "were taken back to plan coordinates by their stations and fitted again from the start"
    )
    if old != new:
        return f"{sentence}."
    ends = np.array([[0.0, 0.0], [0.0, 100.0]])
    was, now = before.place(first.network, ends), placement.place(first.network, ends)
    (dx, dy), (sx, sy) = was[1] - was[0], now[1] - now[0]
    turned = float(wrap_half_deg(np.degrees(np.arctan2(sx, sy) - np.arctan2(dx, dy))))
    shifted = float(np.hypot(*(now[0] - was[0]))) * first.unit_m
    return (
        f"{sentence}; the plan's origin moved by {shifted:.3f} m, the plan turned by "
        f"{turned:+.4f} deg."
    )


def site_numbers(fit: Any) -> dict[str, float]:
    """The outputs that say how a plan was placed (`SiteFit`), degrees and metres."""
    sigma = np.sqrt(np.diagonal(fit.covariance))
    return {
        "DECLINATION": float(np.degrees(fit.north.declination_rad)),
        "CONVERGENCE": float(np.degrees(fit.north.convergence_rad)),
        "COMBINED_SCALE_FACTOR": float(fit.scale),
        "ROTATION": float(np.degrees(fit.rotation_rad) % 360.0),
        "SIGMA_ROTATION": float(np.degrees(sigma[2])),
        "SIGMA_EAST": float(sigma[0]),
        "SIGMA_NORTH": float(sigma[1]),
    }
