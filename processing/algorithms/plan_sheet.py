# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan sheet: a plan on paper at a true plot scale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsLayoutExporter,
    QgsProcessingAlgorithm,
    QgsProcessingContext,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterNumber,
    QgsProject,
    QgsVectorLayer,
)

from ..drawing.pdf import is_whole
from ..errors import SurveyError
from ..files import all_or_nothing
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .drawing_input import SCALE_NAMES
from .plan_input import PlanFile, add_plan_input, read_plan_file

if TYPE_CHECKING:
    from ..drawing.sheet import Need
    from .sheet_layout import SheetLayout

PAPERS = (
    "smallest that fits",
    *(f"A{size} {way}" for size in (4, 3, 2, 1) for way in ("landscape", "portrait")),
)


class PlanSheet(RoomtieAlgorithm):
    ID = "plansheet"
    TITLE = "Plan sheet"
    PAGE = "plan-sheet"
    HELP = (
        "Puts a plan on paper at a true plot scale: PDF, one sheet a storey, with scale bar, plan "
        "north and grid north, title block, area schedule, accuracy, datum and cautions. The "
        "layout stays in the project, to be edited and exported again.\n\n"
        "The scale is that of the ground: where a plan lies in a grid, distances on the sheet are "
        "ground distances, the combined scale factor taken out. Print without fitting to the "
        "page.\n\n"
        "A plan is not a structural or boundary document: defer to local codes and a licensed "
        "surveyor."
    )

    def flags(self) -> Any:
        # Layouts and the project belong to the main thread.
        flag = getattr(QgsProcessingAlgorithm, "Flag", QgsProcessingAlgorithm).FlagNoThreading
        return super().flags() | flag

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_plan_input(self)
        self.addParameter(
            QgsProcessingParameterEnum(
                "PLOT_SCALE",
                tr("Plot scale"),
                options=list(SCALE_NAMES),
                defaultValue="1:100",
                usesStaticStrings=True,
            )
        )
        self.addParameter(
            QgsProcessingParameterEnum(
                "PAPER",
                tr("Paper"),
                options=list(PAPERS),
                defaultValue=PAPERS[0],
                usesStaticStrings=True,
            )
        )
        self.addParameter(
            QgsProcessingParameterNumber(
                "LEVEL", tr("Level (empty: all, one sheet each)"), optional=True
            )
        )
        self.addParameter(
            QgsProcessingParameterFileDestination("OUTPUT", tr("Sheets"), tr("PDF files (*.pdf)"))
        )

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        scale = self._plot_scale(parameters, context)
        wanted = self.parameterAsEnumString(parameters, "PAPER", context)
        if wanted not in PAPERS:
            raise SurveyError(
                f"PAPER: found {wanted or 'nothing'}, expected one of {', '.join(PAPERS)}."
            )
        text = self.parameterAsFileOutput(parameters, "OUTPUT", context)
        output = Path(text if text.lower().endswith(".pdf") else f"{text}.pdf")
        plan = read_plan_file(self, parameters, context, progress=progress.part(0.0, 0.2))
        plan.contents.check_plot_scales([scale], "PLOT_SCALE")
        storeys = self._storeys(plan, scale, self.optional_number(parameters, "LEVEL", context))
        project = context.project() or QgsProject()
        made, layers = self._layout(plan, project, scale, wanted, storeys, progress.part(0.2, 0.4))
        progress.at(0.4)
        with all_or_nothing() as draft:
            path = draft(output)
            settings = QgsLayoutExporter.PdfExportSettings()
            settings.forceVectorOutput = True
            result = QgsLayoutExporter(made.layout).exportToPdf(str(path), settings)
            if result != QgsLayoutExporter.ExportResult.Success:
                raise SurveyError(f"{output}: the host could not write the sheets.")
            if not is_whole(path):
                raise SurveyError(
                    f"{output}: the sheets were written in part only; expected a folder on a disk "
                    "with room for them."
                )
            progress.at(0.9)
        if context.project() is not None:
            self._keep(project, made, layers)
        progress.say(f"{made.pages} sheets at 1:{scale} on {made.paper.name}.")
        return {"OUTPUT": str(output)}

    def _plot_scale(self, parameters: dict[str, Any], context: QgsProcessingContext) -> int:
        word = self.parameterAsEnumString(parameters, "PLOT_SCALE", context)
        if word not in SCALE_NAMES:
            raise SurveyError(
                f"PLOT_SCALE: found {word or 'nothing'}, expected one of {', '.join(SCALE_NAMES)}."
            )
        return int(word.split(":")[1])

    def _storeys(
        self, plan: PlanFile, scale: int, level: float | None
    ) -> list[tuple[tuple[float, float], Need]]:
        from ..drawing.sheet_text import storey_frame

        levels = plan.contents.levels
        if level is not None:
            if level not in levels:
                raise SurveyError(
                    f"LEVEL: found {level:g}, expected one of the plan's levels "
                    f"{', '.join(map(str, levels))}, or nothing for all."
                )
            levels = (int(level),)
        found = [storey_frame(plan.contents, one, scale) for one in levels]
        return [one for one in found if one is not None]

    def _layout(
        self,
        plan: PlanFile,
        project: QgsProject,
        scale: int,
        wanted: str,
        storeys: list[tuple[tuple[float, float], Need]],
        progress: Progress,
    ) -> tuple[SheetLayout, dict[int, list[QgsVectorLayer]]]:
        import math

        from ..drawing.sheet import choose_paper
        from ..drawing.sheet_text import area_schedule, notes, title_fields
        from .sheet_layout import Sheet, SheetLayout, storey_layers

        contents = plan.contents
        paper = choose_paper([need for _, need in storeys], scale, wanted)
        look = getattr(self.provider(), "style_layer", None)
        rotations = {
            number: math.atan2(-factor.imag, factor.real)
            for number, (_, factor) in plan.frame.motions.items()
        }
        style = None if look is None else lambda layer: look(layer, rotations)
        made = SheetLayout(project, f"{contents.job}, 1:{scale}", paper)
        layers: dict[int, list[QgsVectorLayer]] = {}
        for number, (middle, need) in enumerate(progress.over(storeys), start=1):
            level = need.level
            layers[level] = storey_layers(plan.open_layer, level, scale, style)
            made.add(
                Sheet(
                    layers[level],
                    middle,
                    scale,
                    contents.units_per_m,
                    contents.axis_deg,
                    plan.georeferenced,
                    title_fields(contents, level, scale, paper, number, len(storeys)),
                    area_schedule(contents, level, scale),
                    notes(contents, level, scale),
                )
            )
        return made, layers

    def _keep(
        self, project: QgsProject, made: SheetLayout, layers: dict[int, list[QgsVectorLayer]]
    ) -> None:
        """Leave the layout in the project, and its layers in a group that the map does not draw."""
        manager = project.layoutManager()
        name, number = made.layout.name(), 1
        while manager.layoutByName(made.layout.name()) is not None:
            number += 1
            made.layout.setName(f"{name} ({number})")
        group = project.layerTreeRoot().addGroup(
            tr("Sheets {name}").format(name=made.layout.name())
        )
        for of_level in layers.values():
            for layer in of_level:
                project.addMapLayer(layer, False)
                group.addLayer(layer)
        group.setItemVisibilityChecked(False)
        group.setExpanded(False)
        manager.addLayout(made.layout)
