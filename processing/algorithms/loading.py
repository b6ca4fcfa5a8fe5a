# SPDX-License-Identifier: GPL-2.0-or-later
"""A finished plan's layers into the project: one group, a sub-group for each storey."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

from qgis.core import (
    QgsApplication,
    QgsLayerTree,
    QgsLayerTreeGroup,
    QgsLayerTreeNode,
    QgsMapLayer,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingLayerPostProcessorInterface,
    QgsProject,
)

from .base import tr
from .layer_files import layers_of

DRAWN_AT_FIRST = ("error_band", "rooms", "wall_faces", "openings", "targets", "stations")
RANK = "roomtie/rank"
NO_RANK = 1_000_000
RUN = "roomtie/run"

_waiting: set[QgsProcessingLayerPostProcessorInterface] = set()
"""The host does not keep post-processors alive, nor always the algorithm: these wait here for their
layer."""


@dataclass(frozen=True)
class Place:
    """Where a layer belongs: the group of a run (a title, told apart by the run's own key), the
    storey within it (empty: none), and its rank (low: drawn first, at the bottom)."""

    title: str
    run: str
    storey: str
    rank: int
    shown: bool
    first_storey: bool


class PutIntoGroup(QgsProcessingLayerPostProcessorInterface):
    """Moves a loaded layer into the plan's group; only the first storey is switched on.

    The host loads layers in an order of its own, so that each node remembers its rank and is put
    where it belongs.
    """

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place

    def postProcessLayer(
        self, layer: QgsMapLayer, context: QgsProcessingContext, feedback: QgsProcessingFeedback
    ) -> None:
        _waiting.discard(self)
        project: QgsProject = context.project()
        root = project.layerTreeRoot()
        node = root.findLayer(layer.id())
        if node is None:
            return
        group = _group_of_run(root, self.place)
        if self.place.storey:
            storey = group.findGroup(self.place.storey)
            if storey is None:
                storey = QgsLayerTreeGroup(self.place.storey, self.place.first_storey)
                _insert(group, storey, self.place.rank)
            group = storey
        copy = node.clone()
        copy.setItemVisibilityChecked(self.place.shown)
        copy.setExpanded(False)
        # The host may have put its node into the same group; it goes last, or the layer goes too.
        node.setCustomProperty(RANK, NO_RANK)
        _insert(group, copy, self.place.rank)
        node.parent().removeChildNode(node)
        # The host loads results without the style that the GeoPackage keeps for them.
        layer.loadDefaultStyle()
        layer.triggerRepaint()
        provider = QgsApplication.processingRegistry().providerById("roomtie")
        arrange = getattr(provider, "arrange_plan", None)
        if arrange is not None:
            arrange(project, _group_of_run(root, self.place))


class GiveStyle(QgsProcessingLayerPostProcessorInterface):
    """Gives a loaded result the look that the plan's layer of its kind has."""

    def __init__(self, style: Callable[[QgsMapLayer], None]) -> None:
        super().__init__()
        self.style = style

    def postProcessLayer(
        self, layer: QgsMapLayer, context: QgsProcessingContext, feedback: QgsProcessingFeedback
    ) -> None:
        _waiting.discard(self)
        self.style(layer)
        layer.triggerRepaint()


def style_results(
    context: QgsProcessingContext,
    destinations: Iterable[str],
    style: Callable[[QgsMapLayer], None] | None,
) -> None:
    """Ask the host to give the results that it will load their look."""
    for destination in destinations:
        if style is None or not context.willLoadLayerOnCompletion(destination):
            continue
        details = context.layerToLoadOnCompletionDetails(destination)
        if details.postProcessor() is None:
            processor = GiveStyle(style)
            _waiting.add(processor)
            details.setPostProcessor(processor)


def _group_of_run(root: QgsLayerTree, place: Place) -> QgsLayerTreeGroup:
    """The group of this run, wherever a person has put it; made on top at its first layer."""
    for group in root.findGroups(True):
        if group.customProperty(RUN) == place.run:
            return group
    group = root.insertGroup(0, place.title)
    group.setCustomProperty(RUN, place.run)
    return group


def _insert(parent: QgsLayerTreeGroup, node: QgsLayerTreeNode, rank: int) -> None:
    """Put a node above those of lower rank."""
    node.setCustomProperty(RANK, rank)
    ranks = [int(child.customProperty(RANK, -1)) for child in parent.children()]
    place = next((i for i, other in enumerate(ranks) if other < rank), len(ranks))
    parent.insertChildNode(place, node)


@dataclass(frozen=True)
class LoadedPlan:
    """What the project shows of a plan already: layers by name and condition, and the run whose
    group they are in (empty: none)."""

    path: Path
    layers: frozenset[tuple[str, str]] = frozenset()
    run: str = ""

    @staticmethod
    def of(context: QgsProcessingContext, path: Path) -> LoadedPlan:
        """To be asked on the main thread."""
        project = context.project()
        if project is None:
            return LoadedPlan(path)
        found, run = set(), ""
        for layer, source in layers_of(project, path):
            found.add((source.name, source.condition))
            node = project.layerTreeRoot().findLayer(layer.id())
            while node is not None and not run:
                run = str(node.customProperty(RUN) or "")
                node = node.parent()
        return LoadedPlan(path, frozenset(found), run)

    def shows(self, name: str, level: int | None, storeys: bool) -> bool:
        """Whether a layer of that storey is there already, or one of all storeys."""
        condition = f'"level" = {level}' if storeys and level is not None else ""
        return (name, condition) in self.layers or (name, "") in self.layers

    def reload(self, context: QgsProcessingContext) -> None:
        """Let the layers show what the file holds now; on the main thread."""
        for layer, _ in layers_of(context.project(), self.path) if self.layers else ():
            layer.reload()
            layer.triggerRepaint()


def load_plan(
    context: QgsProcessingContext,
    path: Path,
    tables: Sequence[Any],
    title: str,
    loaded: LoadedPlan | None = None,
) -> None:
    """Ask the host to load the layers when the algorithm is done, into a group of that title;
    `tables` come lowest drawn first. Those that are `loaded` from that file already are not loaded
    again. Does nothing where there is no project."""
    if context.project() is None:
        return
    loaded = loaded or LoadedPlan(path)
    run = loaded.run or uuid4().hex
    levels = sorted({level for table in tables for level in _levels(table)})
    storeys = len(levels) > 1
    for rank, table in enumerate(tables):
        schema = table.schema
        for level in _levels(table) or [None]:
            if loaded.shows(schema.name, level, storeys):
                continue
            uri = f"{path}|layername={schema.name}"
            storey = ""
            if storeys and level is not None:
                uri += f'|subset="level" = {level}'
                storey = tr("Level {level}").format(level=level)
            place = Place(
                title,
                run,
                storey,
                rank + (100 * (levels.index(level) + 1) if level is not None else 0),
                schema.name in DRAWN_AT_FIRST,
                bool(levels) and level == levels[0],
            )
            details = QgsProcessingContext.LayerDetails(
                tr(schema.title), context.project(), schema.name
            )
            processor = PutIntoGroup(place)
            details.setPostProcessor(processor)
            _waiting.add(processor)
            context.addLayerToLoadOnCompletion(uri, details)


def _levels(table: Any) -> list[int]:
    if "level" not in table.schema.field_names:
        return []
    return sorted({int(level) for level in table.column("level") if level is not None})
