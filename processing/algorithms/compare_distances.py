# SPDX-License-Identifier: GPL-2.0-or-later
"""Compare with taped distances: what a tape measured against what the plan says."""

from __future__ import annotations

from typing import Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingOutputNumber,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterNumber,
)

from ..errors import SurveyError
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .distance_input import distances_between, walls_in_plan
from .survey_input import (
    add_covariance,
    add_readings,
    add_stations,
    read_columns_of,
    read_survey_layers,
)
from .translation import mark

USUAL_SIGMA_MM = 2.0
"""Standard error of a taped distance that gives none (common practice in a room)."""


class CompareDistances(RoomtieAlgorithm):
    ID = "comparedistances"
    TITLE = "Compare with taped distances"
    PAGE = "compare-distances"
    HELP = (
        "Holds taped distances against the plan. The table has a row for each: from_ref and to_ref "
        "name what was taped (a wall such as W012, a corner as its two walls W012/W013, or a "
        "target), taped_m the length, sigma_taped_mm its standard error if it has one.\n\n"
        "Between two walls the distance is square to them from the middle of what they face each "
        "other; from a corner or target to a wall square to the wall; between points straight. "
        "Each difference is judged by the errors of both (95 %). The accuracy asked for is decided "
        "from all distances together; none of them takes part in the adjustment.\n\n"
        "The layers may lie in plan coordinates or on the site: distances are those on the ground."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        source = QgsProcessing.SourceType
        self.addParameter(
            QgsProcessingParameterFeatureSource("TAPED", tr("Taped distances"), [source.TypeVector])
        )
        self.addParameter(
            QgsProcessingParameterFeatureSource(
                "WALL_FACES", tr("Wall faces"), [source.TypeVectorLine]
            )
        )
        add_stations(self, mark("Adjusted stations"))
        add_readings(self)
        self.addParameter(
            QgsProcessingParameterFeatureSource(
                "TARGETS", tr("Targets"), [source.TypeVectorPoint], optional=True
            )
        )
        add_covariance(self)
        number = QgsProcessingParameterNumber
        self.addParameter(
            number(
                "PLOT_SCALE",
                tr("Plot scale of the walls (empty: the finest there is)"),
                number.Type.Integer,
                None,
                optional=True,
                minValue=0,
            )
        )
        self.addParameter(
            number(
                "SIGMA_TAPED",
                tr("Standard error of a taped distance where the table gives none (mm)"),
                number.Type.Double,
                USUAL_SIGMA_MM,
                minValue=0.01,
            )
        )
        self.addParameter(
            number(
                "ACCURACY",
                tr("Accuracy asked for: standard error of a distance (mm)"),
                number.Type.Double,
                None,
                optional=True,
                minValue=0.01,
            )
        )
        self.add_sink("TAPED_DISTANCES", mark("Taped distances compared"), schema.TAPED_DISTANCES)
        self.add_report()
        for name, title in (
            ("DISTANCES", mark("Distances compared")),
            ("BEYOND_TOLERANCE", mark("Distances beyond tolerance")),
            ("ROOT_MEAN_SQUARE", mark("Root mean square of the differences (mm)")),
        ):
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        import numpy as np

        from ..layers.read_taped import TAPED_FIELDS, read_taped
        from ..layers.read_walls import OPTIONAL_WALL_FIELDS, WALL_FIELDS
        from ..layers.rows_plan import taped_distances
        from ..reports.distances_section import distances_section_html
        from ..reports.html import page
        from ..walls.taped import accuracy_class, compare

        source = self.source(parameters, "TAPED", context)
        columns, _ = read_columns_of(
            self, "TAPED", parameters, context, TAPED_FIELDS, ("sigma_taped_mm",)
        )
        usual = self.parameterAsDouble(parameters, "SIGMA_TAPED", context) / 1000.0
        taped = read_taped(columns, source.sourceName() or "TAPED", usual)
        if not taped:
            raise SurveyError("Layer TAPED has no rows; expected taped distances.")
        progress.at(0.1)
        layers = read_survey_layers(self, parameters, context, progress, adjusted=True)
        progress.at(0.4)
        columns, stored = read_columns_of(
            self, "WALL_FACES", parameters, context, WALL_FIELDS, OPTIONAL_WALL_FIELDS
        )
        drawn = walls_in_plan(layers, columns, stored)
        scale = self._scale(parameters, context, sorted(drawn))
        progress.at(0.7)
        comparison = compare(distances_between(layers, drawn[scale]), taped)
        asked = self.optional_number(parameters, "ACCURACY", context)
        judged = None if asked is None else accuracy_class(comparison, asked / 1000.0)
        html = page(tr("Taped distances"), distances_section_html(comparison, judged, scale))
        table = taped_distances(comparison).placed(layers.frame.place)
        progress.at(0.9)
        crs = self.source(parameters, "WALL_FACES", context).sourceCrs()
        gap = comparison.difference_m
        return {
            **self.store_with_report({"TAPED_DISTANCES": table}, html, parameters, context, crs),
            "DISTANCES": len(comparison),
            "BEYOND_TOLERANCE": int((~comparison.agrees).sum()),
            "ROOT_MEAN_SQUARE": float(1000.0 * np.sqrt(np.mean(gap**2))),
        }

    def _scale(
        self, parameters: dict[str, Any], context: QgsProcessingContext, there: list[int]
    ) -> int:
        if not there:
            raise SurveyError("Layer WALL_FACES has no features; expected the faces of a plan.")
        if parameters.get("PLOT_SCALE") in (None, ""):
            return there[0]
        asked = self.parameterAsInt(parameters, "PLOT_SCALE", context)
        if asked not in there:
            raise SurveyError(
                f"PLOT_SCALE: the walls are not drawn at 1:{asked}; expected one of "
                f"{', '.join(f'1:{scale}' for scale in there)}."
            )
        return asked
