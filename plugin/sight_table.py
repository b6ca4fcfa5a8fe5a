# SPDX-License-Identifier: GPL-2.0-or-later
"""The table of taped distances in a plan's GeoPackage, as Compare with taped distances reads it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import QgsFeature, QgsGeometry, QgsProject, QgsVectorLayer

from ..processing.algorithms.layer_files import layers_of
from ..processing.errors import SurveyError
from ..processing.layers import schema
from ..processing.progress import Progress
from .review_plans import ReviewPlan, plain
from .review_versions import fingerprint
from .sight_plan import SightPlan
from .styles import style_layer
from .translation import tr

TAPED = schema.TAPED_DISTANCES
_FROM_PLAN = ("plan_m", "sigma_plan_mm", "difference_mm", "tolerance_mm", "verdict", "level")


def has_table(path: Path) -> bool:
    """Whether the plan has a table of taped distances."""
    return any(table == TAPED.name for table, _ in fingerprint(path))


def make_table(path: Path, crs, progress: Progress) -> None:
    """Add an empty table to the plan. For another thread; SurveyError where it cannot be."""
    from ..processing.layers.features import add_layer
    from ..processing.layers.table import make_table as table_of

    empty = table_of(TAPED, {name: [] for name in TAPED.field_names}, [], [])
    add_layer(path, empty, crs, progress)


def table_in_project(plan: ReviewPlan) -> QgsVectorLayer:
    """The plan's table as a layer of the project, put beside the plan's stations where it is new;
    SurveyError where the file has none."""
    for layer, _ in layers_of(QgsProject.instance(), plan.path):
        if "taped_m" in layer.fields().names():
            return layer
    layer = QgsVectorLayer(f"{plan.path}|layername={TAPED.name}", tr(TAPED.title), "ogr")
    if not layer.isValid():
        raise SurveyError(
            tr("{path}: there is no layer {layer}.").format(path=plan.path, layer=TAPED.name)
        )
    style_layer(layer)
    project = QgsProject.instance()
    node = project.layerTreeRoot().findLayer(plan.of(schema.STATIONS)[0].id())
    project.addMapLayer(layer, False)
    group = node.parent() if node is not None else project.layerTreeRoot()
    group.insertLayer(0, layer)
    return layer


def rows(layer: QgsVectorLayer) -> list[dict[str, Any]]:
    """The distances of the table, with their numbers in it as `row`."""
    names = layer.fields().names()
    return [
        {
            **dict.fromkeys(TAPED.field_names),
            **dict(zip(names, map(plain, f.attributes()))),
            "row": f.id(),
        }
        for f in layer.getFeatures()
    ]


def add(
    layer: QgsVectorLayer, plan: SightPlan, first: str, second: str, taped_m: float, sigma_mm: float
) -> None:
    """Put a taped distance into the table; SurveyError where the plan or the layer refuses it."""
    values, line = _values(plan, first, second, taped_m, sigma_mm)
    feature = QgsFeature(layer.fields())
    for name, value in values.items():
        if layer.fields().lookupField(name) >= 0:
            feature[name] = value
    feature.setGeometry(line)
    if layer.isEditable():
        good = layer.addFeature(feature)
    else:
        good, _ = layer.dataProvider().addFeatures([feature])
    _check(good, layer)


def remove(layer: QgsVectorLayer, numbers: list[int]) -> None:
    """Take distances out of the table."""
    if layer.isEditable():
        good = layer.deleteFeatures(numbers)
    else:
        good = layer.dataProvider().deleteFeatures(numbers)
    _check(good, layer)


def refresh(layer: QgsVectorLayer, plan: SightPlan) -> None:
    """Hold all distances of the table against the plan as it is now. One whose walls are not on it
    any more keeps what was taped and loses the rest."""
    if layer.isEditable():
        return
    changed: dict[int, dict[int, Any]] = {}
    lines: dict[int, QgsGeometry] = {}
    place = {name: layer.fields().lookupField(name) for name in TAPED.field_names}
    for row in rows(layer):
        try:
            values, line = _values(
                plan, row["from_ref"], row["to_ref"], row["taped_m"], row["sigma_taped_mm"]
            )
        except (SurveyError, TypeError):
            values, line = dict.fromkeys(_FROM_PLAN), QgsGeometry()
        new = {place[name]: values[name] for name in _FROM_PLAN if place[name] >= 0}
        if any(row[name] != values[name] for name in _FROM_PLAN):
            changed[row["row"]] = new
            lines[row["row"]] = line
    if changed:
        good = layer.dataProvider().changeAttributeValues(changed)
        good = layer.dataProvider().changeGeometryValues(lines) and good
        _check(good, layer)


def _values(
    plan: SightPlan, first: str, second: str, taped_m: float, sigma_mm: float
) -> tuple[dict[str, Any], QgsGeometry]:
    from ..processing.layers.rows_plan import taped_distances

    table = taped_distances(plan.compare(first, second, taped_m, sigma_mm))
    _, line = plan.between(first, second)
    return {name: table.column(name)[0] for name in TAPED.field_names}, line


def _check(good: bool, layer: QgsVectorLayer) -> None:
    if not good:
        raise SurveyError(
            tr("Layer {layer}: the change could not be written: {reason}.").format(
                layer=layer.name(),
                reason=layer.dataProvider().lastError() or tr("the host gave no reason"),
            )
        )
    layer.updateExtents()
    layer.triggerRepaint()
