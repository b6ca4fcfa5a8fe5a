# SPDX-License-Identifier: GPL-2.0-or-later
"""Map themes of a plan that has come into the project: review, plan, site."""

from __future__ import annotations

from qgis.core import QgsLayerTreeGroup, QgsMapLayer, QgsMapThemeCollection, QgsProject

from ..processing.algorithms.loading import RUN
from ..processing.layers.schema import schema_with
from .translation import tr

DRAWN = frozenset({"rooms", "wall_faces", "openings"})
THEMES = {
    "review": frozenset({"stations", "ties", "targets", "readings", "wall_faces"}),
    "plan": DRAWN,
    "site": DRAWN | {"error_band"},
}
"""The plan's layers that each theme shows; the site's also shows what else is switched on."""


def themes_of(project: QgsProject, group: QgsLayerTreeGroup) -> None:
    """Make, or make again, the themes of the plan in this group of the layer tree."""
    titles = {"review": tr("review"), "plan": tr("plan"), "site": tr("site")}
    storeys = [node for node in group.children() if isinstance(node, QgsLayerTreeGroup)]
    around = _others_on(project)
    for storey in storeys or [None]:
        own = [node for node in group.children() if not isinstance(node, QgsLayerTreeGroup)]
        if storey is not None:
            own = [*storey.children(), *own]
        layers = {_kind(node.layer()): node.layer() for node in own if node.layer() is not None}
        if "stations" not in layers:
            continue  # the host loads in an order of its own: the storeys are still to come
        for theme, kinds in THEMES.items():
            shown = [layer for kind, layer in layers.items() if kind in kinds]
            checked = {*_paths(group if storey is None else storey)}
            name = f"{group.name()}: {titles[theme]}"
            if storey is not None:
                name = f"{group.name()}, {storey.name()}: {titles[theme]}"
            if theme == "site":
                shown += [layer for layer, _ in around]
                checked |= {parent for _, parents in around for parent in parents}
            if shown:
                _keep(project, name, shown, checked)


def _kind(layer: QgsMapLayer) -> str:
    fields = layer.fields().names() if hasattr(layer, "fields") else []
    schema = schema_with(set(fields))
    return schema.name if schema is not None else ""


def _others_on(project: QgsProject) -> list[tuple[QgsMapLayer, list[str]]]:
    """Layers of no plan that are switched on, each with the groups it stands in."""
    found = []
    for node in project.layerTreeRoot().findLayers():
        of_a_plan = any(group.customProperty(RUN) for group in _groups(node.parent()))
        if node.isVisible() and node.layer() is not None and not of_a_plan:
            found.append((node.layer(), _paths(node.parent())))
    return found


def _groups(group: QgsLayerTreeGroup) -> list[QgsLayerTreeGroup]:
    """A group with those that it stands in, the outermost first; the tree itself is none."""
    return [] if group.parent() is None else [*_groups(group.parent()), group]


def _paths(group: QgsLayerTreeGroup) -> list[str]:
    """What themes call a group and those that it stands in."""
    names = [one.name() for one in _groups(group)]
    return ["/".join(names[: k + 1]) for k in range(len(names))]


def _keep(project: QgsProject, name: str, layers: list[QgsMapLayer], groups: set[str]) -> None:
    """Put a theme into the project under this name, over an earlier one."""
    rows = []
    for layer in layers:
        row = QgsMapThemeCollection.MapThemeLayerRecord(layer)
        row.usingCurrentStyle = True
        row.currentStyle = layer.styleManager().currentStyle()
        rows.append(row)
    record = QgsMapThemeCollection.MapThemeRecord()
    record.setLayerRecords(rows)
    record.setCheckedGroupNodes(groups)
    if hasattr(record, "setHasCheckedStateInfo"):
        record.setHasCheckedStateInfo(True)
    else:  # older hosts take both states of groups, or none
        record.setHasExpandedStateInfo(True)
        record.setExpandedGroupNodes(groups)
    themes = project.mapThemeCollection()
    if themes.hasMapTheme(name):
        themes.update(name, record)
    else:
        themes.insert(name, record)
