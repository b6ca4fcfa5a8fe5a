# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures from point layer: points and stations of layers into stations and readings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterField,
    QgsProcessingParameterNumber,
)

from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .capture_input import add_check_parameters
from .crs import plan_crs
from .point_input import (
    about_the_grid,
    axes_of,
    check_not_geographic,
    common_crs,
    read_points_of,
    with_geotags,
)
from .survey_output import recorded
from .translation import mark

FIELDS = (
    ("STATION_NAME_FIELD", "STATION_POINTS", "station", mark("Station: name")),
    ("STATION_LEVEL_FIELD", "STATION_POINTS", "level", mark("Station: level (0 = ground floor)")),
    (
        "INSTRUMENT_HEIGHT_FIELD",
        "STATION_POINTS",
        "instrument_height",
        mark("Station: instrument height (m)"),
    ),
    ("STATION_FIELD", "POINTS", "station", mark("Point: its station (empty: the nearest)")),
    ("LEVEL_FIELD", "POINTS", "level", mark("Point: level, where the nearest station is taken")),
    ("TARGET_FIELD", "POINTS", "target", mark("Point: name of the target")),
    ("KIND_FIELD", "POINTS", "kind", mark("Point: kind (ring, target, surface)")),
    ("ORDER_FIELD", "POINTS", "order", mark("Point: order of the readings (empty: by angle)")),
)
FROM_THE_LAYER = "from the layer"
UNITS = (FROM_THE_LAYER, "m", "cm", "mm", "ft", "in")


class CapturesFromPoints(RoomtieAlgorithm):
    ID = "capturesfrompoints"
    TITLE = "Captures from point layer"
    PAGE = "captures-from-points"
    HELP = (
        "Makes captures from layers that you have already: a point layer, say from a drawing or a "
        "table, and the points where the instrument stood. Angles and distances are computed from "
        "the coordinates; zenith angles and slope distances too where both layers have heights.\n\n"
        "Which station a point belongs to is told by a field; without it the nearest station on "
        "the point's level is taken, which does not see walls, and the report counts the doubtful "
        "ones.\n\n"
        "Feet become metres. Layers in degrees are refused: reproject them first. A layer without "
        "a coordinate system needs its unit of length. Stations and readings come out where the "
        "layers lie; their zero direction is the layer's +y. The standard error of the station "
        "points, where it is known, makes them geotags."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        for name, title in (
            ("POINTS", mark("Points that were measured")),
            ("STATION_POINTS", mark("Points where the instrument stood")),
        ):
            self.addParameter(
                QgsProcessingParameterFeatureSource(
                    name, tr(title), [QgsProcessing.SourceType.TypeVectorPoint]
                )
            )
        for name, layer, _, title in FIELDS:
            self.addParameter(
                QgsProcessingParameterField(
                    name, tr(title), parentLayerParameterName=layer, optional=True
                )
            )
        self.addParameter(
            QgsProcessingParameterEnum(
                "DISTANCE_UNIT",
                tr("Unit of the coordinates"),
                options=list(UNITS),
                defaultValue=FROM_THE_LAYER,
                usesStaticStrings=True,
            )
        )
        self.addParameter(
            QgsProcessingParameterNumber(
                "SCALE_FACTOR",
                tr("Scale factor of the layers (length in the layer over length on the ground)"),
                QgsProcessingParameterNumber.Type.Double,
                None,
                optional=True,
                minValue=0.5,
                maxValue=2.0,
            )
        )
        self.addParameter(
            QgsProcessingParameterNumber(
                "STATION_SIGMA",
                tr("Standard error of the station points (m; empty: they give no geotag)"),
                QgsProcessingParameterNumber.Type.Double,
                None,
                optional=True,
                minValue=0.001,
            )
        )
        add_check_parameters(self)
        self.add_sink("STATIONS", mark("Stations"), schema.STATIONS)
        self.add_sink("READINGS", mark("Readings"), schema.READINGS)
        self.add_report()

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..captures.checks import check_capture
        from ..captures.checks_survey import check_survey
        from ..captures.flags import flag_readings
        from ..captures.from_points import captures_from_points
        from ..captures.noise import noise_in

        sources = {
            name: self.source(parameters, name, context) for name in ("STATION_POINTS", "POINTS")
        }
        for source in sources.values():
            check_not_geographic(source)
        crs, told = common_crs(sources["STATION_POINTS"], sources["POINTS"])
        stations, points = (
            read_points_of(
                source,
                name,
                {
                    meaning: self.parameterAsString(parameters, field, context)
                    for field, layer, meaning, _ in FIELDS
                    if layer == name
                },
                crs,
                context,
                progress.part(0.0, 0.4),
            )
            for name, source in sources.items()
        )
        unit = self.parameterAsEnumString(parameters, "DISTANCE_UNIT", context)
        axes = axes_of(crs, stations.xyz[:, :2], None if unit in ("", FROM_THE_LAYER) else unit)
        scale = self.optional_number(parameters, "SCALE_FACTOR", context)
        metres = axes.unit_m / (scale or 1.0)
        placed = captures_from_points(
            points,
            stations,
            unit_m=metres,
            skip_unreadable=self.parameterAsBool(parameters, "SKIP_UNREADABLE", context),
            progress=progress.part(0.4, 0.6),
        )
        survey = flag_readings(
            placed.survey,
            min_distance_m=self.parameterAsDouble(parameters, "MIN_DISTANCE", context),
            max_distance_m=self.optional_number(parameters, "MAX_DISTANCE", context),
            progress=progress.part(0.6, 0.7),
        )
        worth = noise_in(survey.captures)
        checked = progress.part(0.7, 0.8).over(survey.captures)
        survey = check_survey(replace(survey, captures=tuple(map(check_capture, checked, worth))))
        told += axes.told
        longest = max(float(capture.distance_m.max()) for capture in survey.captures)
        told += about_the_grid(axes, scale, longest)
        sigma = self.optional_number(parameters, "STATION_SIGMA", context)
        if sigma is not None:
            survey = with_geotags(survey, placed.xy_m / metres, sigma, axes, crs)
        survey = replace(survey, warnings=(*told, *survey.warnings))
        return self.store_with_report(
            *recorded(
                survey,
                placed.xy_m,
                np.zeros(len(survey)),
                progress.part(0.8, 0.95),
                title="Captures from points",
                place=lambda _, xy: xy / metres,
            ),
            parameters,
            context,
            crs if crs.isValid() else plan_crs("points without a coordinate system"),
        )
