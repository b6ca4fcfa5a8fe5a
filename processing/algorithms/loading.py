# SPDX-License-Identifier: GPL-2.0-or-later
"""A finished plan's layers into the project: one group, a sub-group for each storey."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsLayerTreeGroup,
    QgsLayerTreeNode,
    QgsMapLayer,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingLayerPostProcessorInterface,
    QgsProject,
)

from .base import tr

DRAWN_AT_FIRST = ("rooms", "wall_faces", "openings", "targets", "stations")
RANK = "roomtie/rank"
NO_RANK = 1_000_000


class PutIntoGroup(QgsProcessingLayerPostProcessorInterface):
    """Moves a loaded layer into the plan's group; only the first storey is switched on.

    The host loads layers in an order of its own, so that each node remembers its rank (low: drawn
    first, at the bottom) and is put where it belongs.
    """

    def __init__(self, group: str, storey: str, rank: int, shown: bool, first_storey: bool) -> None:
        super().__init__()
        self.group, self.storey, self.rank = group, storey, rank
        self.shown, self.first_storey = shown, first_storey

    def postProcessLayer(
        self, layer: QgsMapLayer, context: QgsProcessingContext, feedback: QgsProcessingFeedback
    ) -> None:
        project: QgsProject = context.project()
        root = project.layerTreeRoot()
        node = root.findLayer(layer.id())
        if node is None:
            return
        place = root.findGroup(self.group) or root.insertGroup(0, self.group)
        if self.storey:
            storey = place.findGroup(self.storey)
            if storey is None:
                storey = QgsLayerTreeGroup(self.storey, self.first_storey)
                _insert(place, storey, self.rank)
            place = storey
        copy = node.clone()
        copy.setItemVisibilityChecked(self.shown)
        copy.setExpanded(False)
        # The host may have put its node into the same group; it goes last, or the layer goes too.
        node.setCustomProperty(RANK, NO_RANK)
        _insert(place, copy, self.rank)
        node.parent().removeChildNode(node)
        # The host loads results without the style that the GeoPackage keeps for them.
        layer.loadDefaultStyle()
        layer.triggerRepaint()


def _insert(parent: QgsLayerTreeGroup, node: QgsLayerTreeNode, rank: int) -> None:
    """Put a node above those of lower rank."""
    node.setCustomProperty(RANK, rank)
    ranks = [int(child.customProperty(RANK, -1)) for child in parent.children()]
    place = next((i for i, other in enumerate(ranks) if other < rank), len(ranks))
    parent.insertChildNode(place, node)


def load_plan(
    context: QgsProcessingContext, path: Path, tables: Sequence[Any], title: str
) -> list[Any]:
    """Ask the host to load the layers when the algorithm is done, into a group of that title;
    `tables` come lowest drawn first.

    Returns the post-processors, which the caller has to keep until then. Does nothing where there
    is no project.
    """
    if context.project() is None:
        return []
    kept = []
    levels = sorted({level for table in tables for level in _levels(table)})
    storeys = len(levels) > 1
    for rank, table in enumerate(tables):
        schema = table.schema
        for level in _levels(table) or [None]:
            uri = f"{path}|layername={schema.name}"
            storey = ""
            if storeys and level is not None:
                uri += f'|subset="level" = {level}'
                storey = tr("Level {level}").format(level=level)
            processor = PutIntoGroup(
                title,
                storey,
                rank + (100 * (levels.index(level) + 1) if level is not None else 0),
                schema.name in DRAWN_AT_FIRST,
                level == levels[0],
            )
            details = QgsProcessingContext.LayerDetails(
                schema.title, context.project(), schema.name
            )
            details.setPostProcessor(processor)
            kept.append(processor)
            context.addLayerToLoadOnCompletion(uri, details)
    return kept


def _levels(table: Any) -> list[int]:
    if "level" not in table.schema.field_names:
        return []
    return sorted({int(level) for level in table.column("level") if level is not None})
