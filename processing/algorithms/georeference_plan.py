# SPDX-License-Identifier: GPL-2.0-or-later
"""Georeference plan: plan layers into a coordinate system, from geotags, bearings and control."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingOutputNumber,
    QgsProcessingOutputString,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterMultipleLayers,
)

from ..errors import SurveyError
from ..files import all_or_nothing
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .crs import from_wkt
from .site_input import MODES, WHAT_IS_EMPTY, add_site_parameters, fit_with_parameters, project_crs
from .survey_input import add_covariance, add_stations, read_survey_layers

NUMBERS = (
    ("DECLINATION", "Declination (deg)"),
    ("CONVERGENCE", "Convergence (deg)"),
    ("COMBINED_SCALE_FACTOR", "Combined scale factor"),
    ("ROTATION", "Rotation: grid azimuth of plan north (deg)"),
    ("SIGMA_ROTATION", "Standard error of the rotation (deg)"),
    ("SIGMA_EAST", "Standard error of the east (m)"),
    ("SIGMA_NORTH", "Standard error of the north (m)"),
)


class GeoreferencePlan(RoomtieAlgorithm):
    ID = "georeferenceplan"
    TITLE = "Georeference plan"
    HELP = (
        "Places plan layers on the earth by one weighted fit of east, north and rotation to what "
        "there is: geotags, compass bearings corrected for declination and convergence, and "
        "control points. Bearings are tested against each other, so that a compass bent by steel "
        "is found and left out.\n\n"
        "Move coordinates writes the layers in the target CRS, scaled from ground to grid. Site "
        "grid keeps the plan's own axes and true distances in a derived CRS that the host "
        "reprojects exactly.\n\n"
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
        add_stations(self, "Adjusted stations")
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
        from ..layers.features import LayerCopy

        layers = self.parameterAsLayerList(parameters, "LAYERS", context)
        self._layers = [LayerCopy.of(layer) for layer in layers]
        return True

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..layers.features import write_geopackage
        from ..reports.html import page
        from ..reports.site_section import site_section_html
        from ..site.placement import Placement
        from ..site.site_grid import site_grid_wkt

        layers = read_survey_layers(self, parameters, context, adjusted=True)
        _check_not_moved(layers.stations, layers.station_points)
        survey, network = layers.survey(), layers.network()
        group_of = dict(zip(network.station, network.network.tolist()))
        tables = self._tables(group_of)
        site = (parameters, context, progress.part(0.0, 0.3), _outlines(tables))
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
        for sentence in (*told, *(warning for fit in fits for warning in fit.warnings)):
            progress.say(sentence)
        moved = [table.placed(placement.place) for table in tables]
        output = self.geopackage_output(parameters, "OUTPUT", context)
        crs = from_wkt(wkt) if site_grid else host_crs_of(fits[0].target_crs)
        html = page("Georeferencing", site_section_html(fits))
        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        with all_or_nothing() as draft:
            if report:
                draft(Path(report)).write_text(html, encoding="utf-8")
            write_geopackage(draft(output), moved, crs, progress=progress.part(0.4, 0.95))
        return {
            "OUTPUT": str(output),
            **({"OUTPUT_HTML": report} if report else {}),
            **site_numbers(fits[0]),
            "SITE_GRID_CRS": wkt,
        }

    def _tables(self, group_of: dict[str, int]) -> list[Any]:
        from ..layers.features import read_table
        from ..layers.schema import schema_with

        def network_of(row: dict[str, Any]) -> int:
            if row.get("network") is not None:
                return int(row["network"])
            station = row.get("station") or row.get("from_station") or row.get("station_a")
            return group_of.get(station, 1)

        tables: list[Any] = []
        taken: set[str] = set()
        for layer in self._layers:
            known = schema_with({field.name() for field in layer.fields})
            name = plain = known.name if known else layer.name
            number = 1
            while name.casefold() in taken:
                number += 1
                name = f"{plain} ({number})"
            taken.add(name.casefold())
            table = read_table(layer, name, network_of)
            _check_in_plan(layer.name, table)
            tables.append(table)
        if not tables:
            raise SurveyError("LAYERS: nothing was given; expected the layers of a plan.")
        return tables


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


def host_crs_of(text: str) -> Any:
    """The host's CRS of a fit's target (an authority's code or WKT)."""
    from qgis.core import QgsCoordinateReferenceSystem

    crs = QgsCoordinateReferenceSystem(text)
    return crs if crs.isValid() else from_wkt(text)


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


FAR_M = 10_000.0


def _check_in_plan(name: str, table: Any) -> None:
    """No building reaches so far from its first station: a layer that does was moved already."""
    import shapely

    farthest = np.abs(shapely.get_coordinates(table.geometry)).max(initial=0.0)
    if farthest > FAR_M:
        raise SurveyError(
            f"Layer {name}: it lies {farthest / 1000:.0f} km from the plan's origin; expected "
            "layers in plan coordinates."
        )


def _check_not_moved(stations: dict[str, list], geometry: np.ndarray) -> None:
    """A plan that was moved already would be moved twice."""
    import shapely

    for name, x, y, point in zip(stations["station"], stations["x_m"], stations["y_m"], geometry):
        if point is None or x is None or y is None:
            continue
        if abs(shapely.get_x(point) - x) + abs(shapely.get_y(point) - y) > 0.001:
            raise SurveyError(
                f"Layer stations, station {name}: it lies at {shapely.get_x(point):.3f}, "
                f"{shapely.get_y(point):.3f}, not at its plan coordinates {x:.3f}, {y:.3f}: these "
                "layers were moved already; expected layers in plan coordinates."
            )
