# SPDX-License-Identifier: GPL-2.0-or-later
"""Export indoor map: rooms and doorways of a plan as an IMDF archive."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingOutputNumber,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from ..errors import SurveyError
from ..files import all_or_nothing, write_text
from ..progress import Progress
from ..version import plugin_version
from .base import RoomtieAlgorithm, tr
from .drawing_input import SCALE_NAMES
from .indoor_input import add_venue_parameters, read_spaces, read_venue
from .indoor_place import created, lon_lat
from .plan_input import PlanFile, add_plan_input, read_plan_file
from .translation import mark

OUTER_WALL_M = 0.35
ADVANCED = ("UNIT", "PROVINCE", "OPENING_CATEGORY_FIELD", "OTHER_CATEGORY", "OUTER_WALL", "CREATED")
"""Parameters that the dialog folds away."""


class ExportIndoor(RoomtieAlgorithm):
    ID = "exportindoor"
    TITLE = "Export indoor map"
    PAGE = "export-indoor"
    HELP = (
        "Writes rooms and doorways of a plan as an archive of the Indoor Mapping Data Format 1.0.0 "
        "(OGC community standard 20-094): venue, address, building, footprints, storeys, units and "
        "openings in WGS 84, and which rooms a doorway joins. The plan must be georeferenced.\n\n"
        "What only a person knows (category of the venue, address, names of storeys, use of rooms) "
        "can be given here; what is not gets a stand-in that the standard allows, and the report "
        "lists each.\n\n"
        "Windows and stretches that nobody saw are left out: an opening of the standard is an "
        "entrance. The same plan gives the same bytes.\n\n"
        "A plan is not a structural or boundary document, and this is no plan of escape routes: "
        "defer to local codes and a licensed surveyor."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_plan_input(self)
        self.addParameter(
            QgsProcessingParameterEnum(
                "PLOT_SCALE",
                tr("Plot scale (empty: the finest of the plan)"),
                options=list(SCALE_NAMES),
                optional=True,
                usesStaticStrings=True,
            )
        )
        add_venue_parameters(self)
        self.addParameter(
            QgsProcessingParameterNumber(
                "OUTER_WALL",
                tr("Thickness of the outer walls (m)"),
                QgsProcessingParameterNumber.Type.Double,
                OUTER_WALL_M,
                minValue=0.0,
                maxValue=3.0,
            )
        )
        self.addParameter(
            QgsProcessingParameterString(
                "CREATED",
                tr("Date and time of the archive (empty: when the plan was written)"),
                "",
                optional=True,
            )
        )
        self.addParameter(
            QgsProcessingParameterFileDestination(
                "OUTPUT", tr("Indoor map"), tr("IMDF archives (*.zip)")
            )
        )
        self.add_report()
        for definition in self.parameterDefinitions():
            if definition.name() in ADVANCED:
                definition.setFlags(definition.flags() | definition.Flag.FlagAdvanced)
        for name, title in (
            ("UNITS", mark("Units")),
            ("OPENINGS", mark("Openings")),
            ("CHOICES", mark("Choices left to a person")),
        ):
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..building.indoor import indoor_map
        from ..building.indoor_archive import manifest, write_archive
        from ..building.indoor_groups import clear_of_each_other
        from ..reports.html import page
        from ..reports.indoor_section import indoor_section_html

        text = self.parameterAsFileOutput(parameters, "OUTPUT", context)
        output = Path(text if text.lower().endswith(".zip") else f"{text}.zip")
        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        plan = read_plan_file(self, parameters, context, progress=progress.part(0.0, 0.3))
        to_lonlat, certain = lon_lat(plan)
        venue = read_venue(self, parameters, context, plan.contents.job)
        scale = self._plot_scale(parameters, context, plan)
        spaces, doorways, left_out = read_spaces(self, parameters, context, plan, scale)
        spaces, doorways, across = clear_of_each_other(spaces, doorways)
        wall = self.parameterAsDouble(parameters, "OUTER_WALL", context)
        contents = indoor_map(venue, spaces, doorways, to_lonlat, wall, progress.part(0.3, 0.8))
        described = manifest(
            created(self.parameterAsString(parameters, "CREATED", context).strip(), plan),
            f"Roomtie {plugin_version()}",
            venue.language,
        )
        told = [
            certain,
            f"Rooms as drawn for 1:{scale}; outer walls {wall:.2f} m thick (given, not measured).",
        ]
        if left_out:
            told.append(
                f"Left out, since nothing ties them to the other rooms: {', '.join(left_out)}."
            )
        if across:
            told.append(
                "Left out, since nothing ties them to the other rooms and, placed by themselves, "
                f"they lie across those: {', '.join(across)}."
            )
        html = page(
            tr("Indoor map {name}").format(name=venue.name),
            indoor_section_html(contents, described, spaces, doorways, told),
        )
        with all_or_nothing() as draft:
            write_archive(draft(output), contents, described, progress.part(0.8, 1.0))
            if report:
                write_text(draft(Path(report)), html)
            progress.at(1.0)
        for sentence in (*told, *contents.remarks):
            progress.say(sentence)
        if contents.choices:
            progress.say(f"To be chosen by a person, {len(contents.choices)}:")
        for sentence in contents.choices:
            progress.say(f"- {sentence}")
        return {
            "OUTPUT": str(output),
            **({"OUTPUT_HTML": report} if report else {}),
            "UNITS": len(contents.features["unit"]),
            "OPENINGS": len(contents.features.get("opening", ())),
            "CHOICES": len(contents.choices),
        }

    def _plot_scale(
        self, parameters: dict[str, Any], context: QgsProcessingContext, plan: PlanFile
    ) -> int:
        word = self.parameterAsEnumString(parameters, "PLOT_SCALE", context)
        if word and word not in SCALE_NAMES:
            raise SurveyError(f"PLOT_SCALE: found {word}, expected {', '.join(SCALE_NAMES)}.")
        wanted = [int(word.split(":")[1])] if word else list(plan.contents.plot_scales[:1])
        plan.contents.check_plot_scales(wanted, "PLOT_SCALE")
        return wanted[0]
