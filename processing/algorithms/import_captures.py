# SPDX-License-Identifier: GPL-2.0-or-later
"""Import polar captures: files into stations and readings, laid out for inspection."""

from __future__ import annotations

from typing import Any

from qgis.core import QgsProcessingContext

from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm
from .capture_input import add_capture_input, add_reading_parameters, read_survey
from .crs import plan_crs
from .survey_output import recorded
from .translation import mark


class ImportCaptures(RoomtieAlgorithm):
    ID = "importcaptures"
    TITLE = "Import polar captures"
    PAGE = "import-captures"
    HELP = (
        "Reads polar captures (capture text, laser scan JSON or LandXML, told apart by content) "
        "from a file or a folder, checks every reading and lays the stations out for inspection: "
        "by geotag and compass where the files give them, else side by side.\n\n"
        "Text files that do not say what their columns are need a profile: describe them once in "
        "the menu Roomtie, Describe a text file.\n\n"
        "Nothing is left out silently: a reading that is not used carries a flag that says why. "
        "The report shows each station's ring and what should be measured again.\n\n"
        "Laser safety: observe the class on the instrument's own label."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_capture_input(self)
        add_reading_parameters(self)
        self.add_sink("STATIONS", mark("Stations"), schema.STATIONS)
        self.add_sink("READINGS", mark("Readings"), schema.READINGS)
        self.add_report()

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..captures.layout import lay_out
        from ..captures.spool import Spool

        with Spool() as spool:
            survey = read_survey(self, parameters, context, progress.part(0.0, 0.5), spool)
            xy, orientation = lay_out(survey)
            tables, page = recorded(
                survey, xy, orientation, progress.part(0.5, 0.6), "Import of polar captures"
            )
            crs = plan_crs("stations as recorded")
            return self.store_with_report(
                tables, page, parameters, context, crs, progress.part(0.6, 1.0)
            )
