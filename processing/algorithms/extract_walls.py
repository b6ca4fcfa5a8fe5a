# SPDX-License-Identifier: GPL-2.0-or-later
"""Extract walls: straight wall faces over all stations, drawn at the plot scales."""

from __future__ import annotations

from typing import Any

from qgis.core import QgsProcessingContext, QgsProcessingParameterNumber

from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .crs import plan_crs
from .drawing_input import (
    add_plot_scales,
    add_squaring,
    plot_scales,
    sigmas_of_squaring,
    squaring,
)
from .survey_input import (
    add_covariance,
    add_readings,
    add_stations,
    read_survey_layers,
)
from .translation import mark


class ExtractWalls(RoomtieAlgorithm):
    ID = "extractwalls"
    TITLE = "Extract walls"
    PAGE = "walls-and-rooms"
    HELP = (
        "Fits straight wall faces to the adjusted readings, each weighted by range, angle and "
        "incidence; the faces of one wall seen from several stations become one. Each plot scale "
        "gets its own drawing within 0.25 mm on paper. A face is turned to a building axis only "
        "where its own standard error cannot tell the difference (or as you choose), and the turn "
        "is kept with it; the report lists every face that was turned, and every face that was "
        "left out of square with its angle and standard error.\n\n"
        "A plan is not a structural or boundary document."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_stations(self, mark("Adjusted stations"))
        add_readings(self)
        add_plot_scales(self)
        self.addParameter(
            QgsProcessingParameterNumber(
                "TOLERANCE",
                tr("Own tolerance (mm on the building; empty: 0.25 mm at the plot scale)"),
                QgsProcessingParameterNumber.Type.Double,
                None,
                optional=True,
                minValue=0.0,
            )
        )
        add_squaring(self)
        add_covariance(self)
        self.add_sink("WALL_FACES", mark("Wall faces"), schema.WALL_FACES)
        self.add_sink("FLAGGED_READINGS", mark("Readings with their walls"), schema.READINGS)
        self.add_report()

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..captures.noise import with_noise
        from ..chain import draw_walls_at, fit_all_faces
        from ..layers import rows, rows_plan
        from ..layers.table import concatenate
        from ..reports.html import page
        from ..reports.walls_section import walls_section_html
        from ..walls.faces import find_walls

        layers = read_survey_layers(self, parameters, context, progress, adjusted=True)
        survey, network = with_noise(layers.survey), layers.network
        scales = plot_scales(self, parameters, context)
        own = self.optional_number(parameters, "TOLERANCE", context)
        faces = fit_all_faces(survey, progress.part(0.1, 0.3))
        measured, survey = find_walls(survey, faces, network, progress.part(0.3, 0.8))
        drawn = draw_walls_at(
            measured,
            scales,
            squaring(self, parameters, context),
            None if own is None else own / 1000.0,
            progress.part(0.8, 0.95),
            sigmas_of_squaring(self, parameters, context),
        )
        tables = {
            "WALL_FACES": concatenate([rows_plan.wall_faces(walls) for walls, _ in drawn]),
            "FLAGGED_READINGS": rows.adjusted_readings(survey, network, measured),
        }
        progress.at(0.95)
        html = page(tr("Walls"), walls_section_html(drawn, measured=measured))
        crs = plan_crs("plan coordinates")
        return self.store_with_report(tables, html, parameters, context, crs)
