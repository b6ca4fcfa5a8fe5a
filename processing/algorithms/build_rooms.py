# SPDX-License-Identifier: GPL-2.0-or-later
"""Build rooms and openings: rooms where free space is, bounded by wall faces."""

from __future__ import annotations

from typing import Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingParameterFeatureSource,
)

from ..errors import SurveyError
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .crs import plan_crs
from .drawing_input import add_niches, niches
from .survey_input import (
    add_covariance,
    add_readings,
    add_stations,
    read_columns_of,
    read_survey_layers,
)
from .translation import mark


class BuildRooms(RoomtieAlgorithm):
    ID = "buildrooms"
    TITLE = "Build rooms and openings"
    PAGE = "walls-and-rooms"
    HELP = (
        "Finds rooms where the captures saw free space between wall faces, and the openings "
        "between them: doorways with their widths, and stretches that nobody saw, which are not "
        "drawn as walls. Areas lie inside the faces at the instrument's height, with their "
        "standard errors; reveals of doorways and of windows that showed glass are not counted, "
        "other recesses of walls as you choose; the report says what was counted. National "
        "measuring standards differ: defer to the local one.\n\n"
        "Take the readings that Extract walls returns: they say which wall each lies on."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        self.addParameter(
            QgsProcessingParameterFeatureSource(
                "WALL_FACES", tr("Wall faces"), [QgsProcessing.SourceType.TypeVectorLine]
            )
        )
        add_stations(self, mark("Adjusted stations"))
        add_readings(self)
        add_covariance(self)
        add_niches(self)
        self.add_sink("ROOMS", mark("Rooms"), schema.ROOMS)
        self.add_sink("OPENINGS", mark("Openings"), schema.OPENINGS)
        self.add_report()

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..captures.noise import with_noise
        from ..layers import rows_plan
        from ..layers.read import numbers
        from ..layers.read_walls import OPTIONAL_WALL_FIELDS, WALL_FIELDS, read_walls
        from ..layers.table import concatenate, moved_by_group
        from ..reports.html import page
        from ..reports.rooms_section import openings_section_html, rooms_section_html
        from ..walls.rooms import build_rooms

        layers = read_survey_layers(self, parameters, context, progress, adjusted=True)
        survey, network = with_noise(layers.survey), layers.network
        columns, geometry = read_columns_of(
            self,
            "WALL_FACES",
            parameters,
            context,
            WALL_FIELDS,
            OPTIONAL_WALL_FIELDS,
        )
        if not len(geometry):
            raise SurveyError("Layer WALL_FACES has no features; expected the faces of a plan.")
        # Rooms lie where the walls lie, whether those were georeferenced or not.
        frame = layers.frame
        group = numbers(columns["network"], 1.0)
        geometry = moved_by_group(geometry, group, frame.to_plan)
        drawn = read_walls(columns, geometry, layers.readings, survey, network)
        found = []
        for part, scale in progress.part(0.1, 0.9).each(sorted(drawn)):
            found.append(
                build_rooms(
                    survey,
                    network,
                    drawn[scale],
                    niches=niches(self, parameters, context),
                    progress=part,
                )
            )
        tables = {
            "ROOMS": concatenate([rows_plan.rooms(rooms) for rooms, _ in found]),
            "OPENINGS": concatenate([rows_plan.openings(openings) for _, openings in found]),
        }
        crs = plan_crs("plan coordinates")
        if frame.moved:
            crs = self.source(parameters, "WALL_FACES", context).sourceCrs()
            tables = {name: table.placed(frame.place) for name, table in tables.items()}
        finest = found[0]
        html = page(tr("Rooms"), rooms_section_html(finest[0]) + openings_section_html(*finest))
        return self.store_with_report(tables, html, parameters, context, crs)
