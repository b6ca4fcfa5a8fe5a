# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan from captures: the whole chain into one GeoPackage, with its report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingOutputNumber,
    QgsProcessingParameterFileDestination,
)

from ..errors import SurveyError
from ..files import all_or_nothing, scratch_folder, write_text
from ..progress import Progress
from .adjust_stations import NUMBERS as NETWORK_NUMBERS
from .adjust_stations import add_adjustment_parameters, network_numbers
from .base import RoomtieAlgorithm, tr
from .capture_input import add_capture_input, add_reading_parameters
from .drawing_input import (
    add_niches,
    add_plot_scales,
    add_squaring,
    niches,
    plot_scales,
    sigmas_of_squaring,
    squaring,
)
from .earlier_input import (
    EarlierFile,
    add_earlier_parameters,
    earlier_path,
    read_earlier,
    unsaved_edits,
)
from .earlier_place import known_points
from .georeference_plan import NUMBERS as SITE_NUMBERS
from .georeference_plan import site_numbers
from .loading import LoadedPlan, load_plan
from .plan_output import write_plan
from .plan_parts import plan_to_write, tables_of, tied_captures
from .plan_place import ToPlace, place_plan
from .plan_tell import growth_of, sentences_of, told_parameters, versions, what_is_empty
from .remembered import about_scales, with_remembered
from .site_input import WHAT_IS_EMPTY, add_site_parameters, project_crs

if TYPE_CHECKING:
    from ..reports.growth_section import Growth


class PlanFromCaptures(RoomtieAlgorithm):
    ID = "planfromcaptures"
    TITLE = "Plan from captures"
    PAGE = "plan-from-captures"
    HELP = (
        "From a folder of captures to a georeferenced plan: imports and checks the captures, ties "
        "and adjusts the stations, fits the walls, finds rooms and openings at each plot scale and "
        "places the plan by geotags, compass bearings and control points. The result is one "
        "GeoPackage with all layers and their styles, a report to read, and beside it the same "
        "report as JSON.\n\n"
        "A survey without geotag and control stays in plan coordinates and says so.\n\n"
        "With an earlier plan its captures go on, and new ones join them: names of rooms, windows "
        "and doors marked by hand, choices about stations and ties, fields and styles that were "
        "added, and identifiers of walls and rooms stay. Without new captures the plan is adjusted "
        "and drawn again. The result may be written over the earlier plan, which is then kept "
        "beside it.\n\n"
        "A plan is not a structural or boundary document: defer to local codes and a licensed "
        "surveyor. Laser safety: observe the class on the instrument's own label."
    )

    def shortHelpString(self) -> str:
        return super().shortHelpString() + tr(WHAT_IS_EMPTY)

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_capture_input(self)
        captures = self.parameterDefinition("INPUT")
        captures.setFlags(captures.flags() | captures.Flag.FlagOptional)
        add_earlier_parameters(self)
        add_plot_scales(self)
        add_site_parameters(self)
        for add in (add_reading_parameters, add_adjustment_parameters, add_squaring, add_niches):
            before = {definition.name() for definition in self.parameterDefinitions()}
            add(self)
            for definition in self.parameterDefinitions():
                if definition.name() not in before:
                    definition.setFlags(definition.flags() | definition.Flag.FlagAdvanced)
        self.addParameter(
            QgsProcessingParameterFileDestination(
                "OUTPUT", tr("Plan"), tr("GeoPackage files (*.gpkg)")
            )
        )
        self.add_report("REPORT")
        for name, title in (*NETWORK_NUMBERS, *SITE_NUMBERS):
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))

    def prepareAlgorithm(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        feedback: QgsProcessingFeedback,
    ) -> bool:
        self._project_crs = project_crs(context)
        self._unsaved = unsaved_edits(earlier_path(self, parameters, context), context)
        output = self.geopackage_output(parameters, "OUTPUT", context)
        self._loaded = LoadedPlan.of(context, output)
        return True

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        report = self.parameterAsFileOutput(parameters, "REPORT", context)
        if report.lower().endswith(".json"):
            raise SurveyError(
                f"REPORT: {report} ends in .json, which is the name of the report for programs "
                "beside it; expected a name that ends in .html."
            )
        if self._unsaved:
            raise SurveyError(self._unsaved)
        path = earlier_path(self, parameters, context)
        with scratch_folder() as folder:
            earlier = None
            if path is not None:
                earlier = read_earlier(path, folder, progress.part(0.0, 0.05))
                parameters = with_remembered(parameters, earlier)
            return self._make(parameters, context, progress.part(0.05, 1.0), earlier, report)

    def _make(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        progress: Progress,
        earlier: EarlierFile | None,
        report: str,
    ) -> dict[str, Any]:
        from ..chain import draw_plans
        from ..reports.survey_report import Run, survey_report_html, survey_report_json
        from ..site.footprint import outlines_of

        scales = plot_scales(self, parameters, context)
        square = squaring(self, parameters, context)
        survey, tied, grown = tied_captures(
            self, parameters, context, progress.part(0.0, 0.45), earlier
        )
        network = tied.network
        drawn = draw_plans(
            tied,
            scales,
            square,
            progress.part(0.45, 0.8),
            niches(self, parameters, context),
            grown.drawing if grown is not None else None,
            sigmas_of_squaring(self, parameters, context),
        )
        outlines = outlines_of(drawn.plans[0].rooms) if drawn.plans else {}
        to_place = ToPlace(tied.survey, network, outlines, self._project_crs, earlier, grown)
        placed = place_plan(self, to_place, parameters, context, progress.part(0.8, 0.85))
        growth: Growth | None = None
        about = [*what_is_empty(drawn), *placed.sentences]
        if earlier is not None and grown is not None:
            growth = growth_of(earlier.path.name, earlier.plan.earlier, grown, drawn)
            about = [*grown.sentences, *about_scales(earlier, scales), *about]
        warnings = sentences_of(survey, tied, placed.fits, about)
        for sentence in warnings:
            progress.say(sentence)
        run = Run(
            drawn.survey,
            network,
            drawn.plans,
            placed.fits,
            versions(),
            told_parameters(self, parameters, context),
            warnings,
            placed.site_grid_wkt,
            growth,
            drawn.measured,
        )
        output = self.geopackage_output(parameters, "OUTPUT", context)
        title = tr("Plan {name}").format(name=self._job(parameters, context, output, earlier))
        html = survey_report_html(title, run, progress.part(0.85, 0.85))
        progress.at(0.85)
        text = survey_report_json(run)
        made = progress.part(0.85, 0.88)
        tables = tables_of(tied, drawn, placed, outlines, earlier, grown, made)
        known = known_points(self, tied.survey, earlier, placed.fits, parameters, context)
        aside = grown.aside.captures if grown is not None else ()
        plan = plan_to_write(self, parameters, survey, tied, drawn, aside, placed, tables, known)
        over = [output] if earlier is not None and _same_file(output, earlier.path) else []
        with all_or_nothing(over, progress.part(0.97, 1.0)) as draft:
            if report:
                write_text(draft(Path(report)), html)
                write_text(draft(Path(report).with_suffix(".json")), text)
            write_plan(draft(output), plan, earlier, progress.part(0.88, 0.97))
        load_plan(context, output, tables, title, self._loaded if over else None)
        return {
            "OUTPUT": str(output),
            **({"REPORT": report} if report else {}),
            **(site_numbers(placed.fits[0]) if placed.fits else {}),
            **network_numbers(network),
        }

    def postProcessAlgorithm(
        self, context: QgsProcessingContext, feedback: QgsProcessingFeedback
    ) -> dict[str, Any]:
        self._loaded.reload(context)
        return {}

    def _job(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        output: Path,
        earlier: EarlierFile | None,
    ) -> str:
        """What the job is called: after its plan, or, where the plan is temporary, the earlier one
        or the captures."""
        if output.stem != "OUTPUT":
            return output.stem
        if earlier is not None:
            return earlier.path.stem
        captures = Path(self.parameterAsString(parameters, "INPUT", context))
        return captures.parent.name if captures.name == "captures" else captures.stem


def _same_file(one: Path, other: Path) -> bool:
    return one.exists() and other.exists() and one.samefile(other)
