# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan from captures: the whole chain into one GeoPackage, with its report."""

from __future__ import annotations

import platform
from pathlib import Path
from typing import Any

from qgis.core import (
    Qgis,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingOutputNumber,
    QgsProcessingParameterFileDestination,
)

from ..errors import SurveyError
from ..files import all_or_nothing
from ..progress import Progress
from ..version import plugin_version
from .adjust_stations import NUMBERS as NETWORK_NUMBERS
from .adjust_stations import add_adjustment_parameters, tie_with_parameters
from .base import RoomtieAlgorithm, tr
from .capture_input import add_capture_input, add_reading_parameters, read_survey
from .crs import from_wkt, plan_crs
from .drawing_input import (
    add_niches,
    add_plot_scales,
    add_squaring,
    niches,
    plot_scales,
    squaring,
)
from .georeference_plan import NUMBERS as SITE_NUMBERS
from .georeference_plan import host_crs_of, site_numbers
from .loading import load_plan
from .site_input import MODES, WHAT_IS_EMPTY, add_site_parameters, fit_with_parameters, project_crs


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
        "A plan is not a structural or boundary document: defer to local codes and a licensed "
        "surveyor. Laser safety: observe the class on the instrument's own label."
    )

    def shortHelpString(self) -> str:
        return super().shortHelpString() + tr(WHAT_IS_EMPTY)

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_capture_input(self)
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
        return True

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..chain import draw_plans
        from ..layers.features import write_geopackage
        from ..layers.plan import plan_tables
        from ..reports.survey_report import Run, survey_report_html, survey_report_json
        from ..site.fit import RotationUnknown
        from ..site.footprint import outlines_of
        from ..site.placement import Placement
        from ..site.site_grid import site_grid_wkt

        report = self.parameterAsFileOutput(parameters, "REPORT", context)
        if report.lower().endswith(".json"):
            raise SurveyError(
                f"REPORT: {report} ends in .json, which is the name of the report for programs "
                "beside it; expected a name that ends in .html."
            )
        scales = plot_scales(self, parameters, context)
        square = squaring(self, parameters, context)
        survey = read_survey(self, parameters, context, progress.part(0.0, 0.15))
        tied = tie_with_parameters(self, survey, parameters, context, progress.part(0.15, 0.45))
        network = tied.network
        drawn = draw_plans(
            tied, scales, square, progress.part(0.45, 0.8), niches(self, parameters, context)
        )
        outlines = outlines_of(drawn.plans[0].rooms) if drawn.plans else {}
        site = (parameters, context, progress.part(0.8, 0.85), outlines)
        try:
            fits, about_site = fit_with_parameters(
                self, tied.survey, network, self._project_crs, *site
            )
        except RotationUnknown as unknown:
            fits, about_site = (), [str(unknown)]

        site_grid = self.parameterAsEnumString(parameters, "MODE", context) == MODES[1]
        placement = Placement(fits, site_grid) if fits else None
        wkt = site_grid_wkt(fits[0], "Site grid") if fits else ""
        if placement is None:
            crs = plan_crs("plan coordinates")
        else:
            crs = from_wkt(wkt) if site_grid else host_crs_of(fits[0].target_crs)
        tables = plan_tables(tied, drawn, fits, outlines)
        if placement is not None:
            tables = [table.placed(placement.place) for table in tables]

        warnings = self._warnings(survey, tied, fits, about_site)
        for sentence in warnings:
            progress.say(sentence)
        run = Run(
            drawn.survey,
            network,
            drawn.plans,
            fits,
            _versions(),
            self._told_parameters(parameters, context),
            warnings,
            wkt,
        )
        output = self.geopackage_output(parameters, "OUTPUT", context)
        title = tr("Plan {name}").format(name=self._job(parameters, context, output))
        html, text = survey_report_html(title, run), survey_report_json(run)
        provider = self.provider()
        style = getattr(provider, "style_layer", None)
        rotations = {
            int(number): placement.rotation_rad(int(number)) if placement else 0.0
            for number in sorted(set(network.network.tolist()))
        }
        with all_or_nothing() as draft:
            if report:
                draft(Path(report)).write_text(html, encoding="utf-8")
                draft(Path(report).with_suffix(".json")).write_text(text, encoding="utf-8")
            write_geopackage(
                draft(output),
                tables,
                crs,
                style=None if style is None else lambda layer: style(layer, rotations),
                progress=progress.part(0.85, 0.97),
            )
        load_plan(context, output, tables, title)
        statistics = network.statistics
        return {
            "OUTPUT": str(output),
            **({"REPORT": report} if report else {}),
            **(site_numbers(fits[0]) if fits else {}),
            "REFERENCE_VARIANCE": statistics.reference_variance,
            "DEGREES_OF_FREEDOM": statistics.degrees_of_freedom,
            "LARGEST_STANDARDISED_RESIDUAL": statistics.largest_standardised_residual,
            "UNCONNECTED_STATIONS": statistics.unconnected_stations,
            "REJECTED_TIES": statistics.rejected_ties,
        }

    def _job(self, parameters: dict[str, Any], context: QgsProcessingContext, output: Path) -> str:
        """What the job is called: after its plan, or its captures where the plan is temporary."""
        if output.stem != "OUTPUT":
            return output.stem
        captures = Path(self.parameterAsString(parameters, "INPUT", context))
        return captures.parent.name if captures.name == "captures" else captures.stem

    def _warnings(self, survey: Any, tied: Any, fits: Any, about_site: list[str]) -> list[str]:
        """All that a person should know, each sentence once, in the order of the chain."""
        from ..captures.checks import COVERAGE

        sentences = [
            *survey.skipped,
            *(
                f"Station {capture.station}: {remark.sentence}"
                for capture in survey.captures
                for remark in capture.remarks
                if remark.check not in COVERAGE and remark.sentence not in survey.warnings
            ),
            *tied.survey.warnings,
            *tied.network.warnings,
            *about_site,
        ]
        if not fits:
            sentences.append(
                "The plan stays in plan coordinates and is not georeferenced."
                if about_site
                else "No station has a geotag and no control points were given: the plan stays in "
                "plan coordinates and is not georeferenced."
            )
        for fit in fits:
            sentences.extend(fit.warnings)
        return list(dict.fromkeys(sentences))

    def _told_parameters(
        self, parameters: dict[str, Any], context: QgsProcessingContext
    ) -> dict[str, Any]:
        """The parameters of the run as the report tells them: values, and names of files without
        their folders."""
        told: dict[str, Any] = {}
        for definition in self.parameterDefinitions():
            name = definition.name()
            value = parameters.get(name, definition.defaultValue())
            if definition.isDestination():
                continue
            if value in (None, ""):
                told[name] = None
            elif name == "INPUT":
                told[name] = Path(self.parameterAsString(parameters, name, context)).name
            elif name in ("CONTROL", "FOOTPRINT"):
                told[name] = self.source(parameters, name, context).sourceName()
            elif name == "TARGET_CRS":
                crs = self.parameterAsCrs(parameters, name, context)
                told[name] = crs.authid() or crs.description()
            else:
                told[name] = value if isinstance(value, (int, float, bool)) else str(value)
        return told


def _versions() -> dict[str, str]:
    import numpy
    import pyproj
    import scipy
    import shapely

    return {
        "Roomtie": plugin_version(),
        "QGIS": Qgis.QGIS_VERSION,
        "Python": platform.python_version(),
        "numpy": numpy.__version__,
        "scipy": scipy.__version__,
        "shapely": shapely.__version__,
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
    }
