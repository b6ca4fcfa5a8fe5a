# SPDX-License-Identifier: GPL-2.0-or-later
"""The list of algorithms."""

from __future__ import annotations

from collections.abc import Callable

from qgis.core import QgsLayerTreeGroup, QgsProcessingProvider, QgsProject, QgsVectorLayer
from qgis.PyQt.QtGui import QIcon

from .algorithms.adjust_stations import AdjustStations
from .algorithms.build_rooms import BuildRooms
from .algorithms.captures_from_points import CapturesFromPoints
from .algorithms.compare_building_layer import CompareBuildingLayer
from .algorithms.compare_distances import CompareDistances
from .algorithms.export_drawing import ExportDrawing
from .algorithms.export_indoor import ExportIndoor
from .algorithms.extract_walls import ExtractWalls
from .algorithms.georeference_plan import GeoreferencePlan
from .algorithms.import_captures import ImportCaptures
from .algorithms.plan_from_captures import PlanFromCaptures
from .algorithms.plan_sheet import PlanSheet
from .algorithms.update_building_layer import UpdateBuildingLayer

ALGORITHMS = (
    ImportCaptures,
    CapturesFromPoints,
    AdjustStations,
    ExtractWalls,
    BuildRooms,
    CompareDistances,
    GeoreferencePlan,
    PlanFromCaptures,
    CompareBuildingLayer,
    UpdateBuildingLayer,
    PlanSheet,
    ExportDrawing,
    ExportIndoor,
)


class RoomtieProvider(QgsProcessingProvider):
    """Roomtie's algorithms in the host's toolbox.

    `style_layer(layer, rotations)` gives a layer its look; it comes from the plugin, since what a
    person sees is not the algorithms' business. So does `arrange_plan(project, group)`, called
    when a layer of a plan has come into its group of the layer tree, and `icon_of(algorithm)`, the
    picture of an algorithm by its name, of all of them by an empty one.
    """

    def __init__(
        self,
        style_layer: Callable[[QgsVectorLayer, dict[int, float]], None] | None = None,
        icon_of: Callable[[str], QIcon] | None = None,
        arrange_plan: Callable[[QgsProject, QgsLayerTreeGroup], None] | None = None,
    ) -> None:
        super().__init__()
        self.style_layer = style_layer
        self.arrange_plan = arrange_plan
        self.icon_of = icon_of

    def id(self) -> str:
        return "roomtie"

    def name(self) -> str:
        return "Roomtie"

    def icon(self) -> QIcon:
        return super().icon() if self.icon_of is None else self.icon_of("")

    def loadAlgorithms(self) -> None:
        for algorithm in ALGORITHMS:
            self.addAlgorithm(algorithm())
