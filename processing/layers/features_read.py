# SPDX-License-Identifier: GPL-2.0-or-later
"""The host's features back into columns and tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from qgis.core import (
    QgsFeatureRequest,
    QgsFeatureSource,
    QgsFields,
    QgsVectorLayer,
    QgsVectorLayerFeatureSource,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QDate, QDateTime, Qt, QTime, QVariant

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .features import BATCH, FIELD_TYPES, WKB_TYPES
from .schema import REAL, TEXT, LayerSchema
from .shapes import shapes_of
from .table import Table


def read_columns(
    source: QgsFeatureSource,
    layer_name: str,
    wanted: Sequence[str],
    optional: Sequence[str] = (),
    progress: Progress = SILENT,
) -> tuple[dict[str, list[Any]], np.ndarray]:
    """Columns of a layer by field name (None for NULL) and its geometries ``(n,)``.

    Optional fields that the layer does not have are columns of None. SurveyError when a wanted
    field is missing.
    """
    fields = source.fields()
    missing = [name for name in wanted if fields.lookupField(name) < 0]
    if missing:
        raise SurveyError(
            f"Layer {layer_name}: there is no field {', '.join(missing)}; expected a layer made by "
            f"this plugin, with {', '.join(wanted)}."
        )
    return _read(source, layer_name, fields, (*wanted, *optional), progress)


def _read(
    source: QgsFeatureSource | LayerCopy,
    layer_name: str,
    fields: QgsFields,
    names: Sequence[str],
    progress: Progress = SILENT,
) -> tuple[dict[str, list[Any]], np.ndarray]:
    places = {name: fields.lookupField(name) for name in names}
    columns: dict[str, list[Any]] = {name: [] for name in places}
    wkb: list[bytes | None] = []
    for number, feature in enumerate(source.getFeatures(QgsFeatureRequest())):
        if number % BATCH == 0:
            progress.at(0.0)
        attributes = feature.attributes()
        for name, place in places.items():
            value = attributes[place] if place >= 0 else None
            # Only a missing value comes as the host's variant; comparing with it would take longer.
            columns[name].append(None if isinstance(value, QVariant) else value)
        wkb.append(bytes(feature.geometry().asWkb()) if feature.hasGeometry() else None)
    geometry = np.empty(len(wkb), dtype=object)
    for start in range(0, len(wkb), BATCH):
        # In parts: nothing else of the process's Python goes on meanwhile, the window's neither.
        part = slice(start, start + BATCH)
        geometry[part] = shapes_of(
            wkb[part], lambda row, first=start: f"Layer {layer_name}, feature {first + row + 1}"
        )
    # The host's writer turns a missing geometry into an empty one.
    geometry[shapely.is_empty(geometry)] = None
    return columns, geometry


@dataclass(frozen=True)
class LayerCopy:
    """A vector layer as another thread may read it: made on the layer's own thread."""

    name: str
    fields: QgsFields
    wkb_type: Any
    source: QgsVectorLayerFeatureSource

    @staticmethod
    def of(layer: QgsVectorLayer) -> LayerCopy:
        return LayerCopy(
            layer.name(), layer.fields(), layer.wkbType(), QgsVectorLayerFeatureSource(layer)
        )

    def getFeatures(self, request: QgsFeatureRequest) -> Any:  # noqa: N802 - the host's name
        return self.source.getFeatures(request)


def read_table(
    layer: LayerCopy,
    name: str,
    network_of: Callable[[dict], int],
    progress: Progress = SILENT,
) -> Table:
    """Any vector layer as a table of that name; `network_of` tells a feature's connected group from
    its attributes by field name.

    Dates and times become ISO 8601 texts; Z, M and curves are not kept. SurveyError names a
    geometry type that is not of points, lines or polygons.
    """
    kinds = {code: kind for kind, code in FIELD_TYPES.items()}
    described = tuple(
        (field.name(), kinds.get(field.type(), REAL if field.isNumeric() else TEXT))
        for field in layer.fields
        if field.name() != "fid"
    )
    flat = QgsWkbTypes.displayString(QgsWkbTypes.flatType(layer.wkb_type))
    if flat not in WKB_TYPES:
        raise SurveyError(
            f"Layer {layer.name}: geometries of type {flat} cannot be moved; expected points, "
            "lines or polygons."
        )
    columns, geometry = _read(
        layer, layer.name, layer.fields, [field for field, _ in described], progress
    )
    table = Table(
        LayerSchema(name, name, flat, described),
        tuple(columns.values()),
        shapely.force_2d(geometry),
        np.zeros(len(geometry), dtype=np.int64),
    )
    texts = tuple(
        [_as_text(value) for value in values] if kind == TEXT else values
        for (_, kind), values in zip(described, table.columns)
    )
    networks = []
    for number, row in enumerate(table.rows()):
        if number % BATCH == 0:
            progress.at(0.0)
        networks.append(network_of(dict(zip(columns, row))))
    return replace(table, columns=texts, network=np.array(networks, dtype=np.int64))


def _as_text(value: Any) -> str | None:
    if isinstance(value, (QDate, QDateTime, QTime)):
        return value.toString(Qt.DateFormat.ISODate)
    return None if value is None else str(value)
