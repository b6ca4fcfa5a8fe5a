# SPDX-License-Identifier: GPL-2.0-or-later
"""Export drawing: a plan as DXF for CAD."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFileDestination,
)

from ..errors import SurveyError
from ..files import all_or_nothing
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .drawing_input import add_plot_scales, plot_scales
from .plan_input import add_plan_input, read_plan_file

COORDINATES = ("plan", "target CRS")


class ExportDrawing(RoomtieAlgorithm):
    ID = "exportdrawing"
    TITLE = "Export drawing"
    PAGE = "export-drawing"
    HELP = (
        "Writes a plan as a DXF drawing for CAD: walls at the chosen plot scales, openings, rooms "
        "as closed polylines with name and area, survey control, stations, survey notes with date "
        "and accuracy, and the readings if you want them. The header states the unit. Layers are "
        "named after ISO 13567: who, what, how shown, storey, scale.\n\n"
        "Plot scales and storeys lie over each other, each on its own layers: the finest scale of "
        "the ground floor is switched on, the others off.\n\n"
        "A plan is not a structural or boundary document: defer to local codes and a licensed "
        "surveyor."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_plan_input(self)
        add_plot_scales(self)
        self.addParameter(
            QgsProcessingParameterEnum(
                "COORDINATES",
                tr("Coordinates"),
                options=list(COORDINATES),
                defaultValue=COORDINATES[0],
                usesStaticStrings=True,
            )
        )
        self.addParameter(
            QgsProcessingParameterBoolean("READINGS", tr("With readings"), defaultValue=False)
        )
        self.addParameter(
            QgsProcessingParameterFileDestination("OUTPUT", tr("Drawing"), tr("DXF files (*.dxf)"))
        )

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..drawing.dxf import write_dxf
        from ..drawing.plan_drawing import plan_drawing

        scales = plot_scales(self, parameters, context)
        word = self.parameterAsEnumString(parameters, "COORDINATES", context)
        if word not in COORDINATES:
            raise SurveyError(
                f"COORDINATES: found {word or 'nothing'}, expected {' or '.join(COORDINATES)}."
            )
        readings = self.parameterAsBool(parameters, "READINGS", context)
        text = self.parameterAsFileOutput(parameters, "OUTPUT", context)
        output = Path(text if text.lower().endswith(".dxf") else f"{text}.dxf")
        plan = read_plan_file(self, parameters, context, readings, progress.part(0.0, 0.3))
        contents, unit = plan.in_target() if word == COORDINATES[1] else (plan.in_plan(), 6)
        drawing = plan_drawing(contents, scales, readings, unit, progress.part(0.3, 0.6))
        with all_or_nothing() as draft:
            write_dxf(draft(output), drawing, progress.part(0.6, 1.0))
        progress.say(
            f"{len(drawing.entities)} entities on {len(drawing.layers)} layers written to {output}."
        )
        return {"OUTPUT": str(output)}
