# SPDX-License-Identifier: GPL-2.0-or-later
"""Import polar captures: files into stations and readings, laid out for inspection."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from qgis.core import QgsProcessingContext

from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm
from .capture_input import add_capture_input, add_reading_parameters, read_survey
from .crs import plan_crs


class ImportCaptures(RoomtieAlgorithm):
    ID = "importcaptures"
    TITLE = "Import polar captures"
    HELP = (
        "Reads polar captures (capture text or laser scan JSON, told apart by content) from a file "
        "or a folder, checks every reading and lays the stations out for inspection: by geotag and "
        "compass where the files give them, else side by side.\n\n"
        "Nothing is left out silently: a reading that is not used carries a flag that says why. "
        "The report shows each station's ring and what should be measured again.\n\n"
        "Laser safety: observe the class on the instrument's own label."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_capture_input(self)
        add_reading_parameters(self)
        self.add_sink("STATIONS", "Stations", schema.STATIONS)
        self.add_sink("READINGS", "Readings", schema.READINGS)
        self.add_report()

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..angles import turn
        from ..captures.layout import lay_out
        from ..captures.noise import with_noise
        from ..layers import rows
        from ..reports.capture_summary import capture_summary_html

        survey = read_survey(self, parameters, context, progress.part(0.0, 0.7))
        xy, orientation = lay_out(survey)
        positions = [
            turn(capture.xy_m, orientation[i]) + xy[i] for i, capture in enumerate(survey.captures)
        ]
        progress.at(0.8)
        # The layers keep what the files say of the noise; the report tells what the readings show.
        told = replace(survey, warnings=with_noise(survey).warnings)
        for sentence in (*told.skipped, *told.warnings):
            progress.say(sentence)
        html = capture_summary_html(told)
        tables = {
            "STATIONS": rows.recorded_stations(survey, xy, orientation),
            "READINGS": rows.readings(survey, positions, [0] * len(survey)),
        }
        progress.at(0.9)
        crs = plan_crs("stations as recorded")
        return self.store_with_report(tables, html, parameters, context, crs)
