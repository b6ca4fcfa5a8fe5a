# SPDX-License-Identifier: GPL-2.0-or-later
"""Tables into the host's features, sinks and GeoPackages."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import islice
from pathlib import Path

import shapely
from qgis.core import (
    Qgis,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsFeatureSink,
    QgsField,
    QgsFields,
    QgsGeometry,
    QgsPoint,
    QgsVectorFileWriter,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QMetaType, QVariant

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .complaints import closed_whole, complaints, reason
from .geopackage_rows import OtherFields, fill_points
from .schema import BOOLEAN, INTEGER, LONG, REAL, TEXT, LayerSchema
from .table import Table, TableParts

if Qgis.QGIS_VERSION_INT >= 33800:
    FIELD_TYPES = {
        TEXT: QMetaType.Type.QString,
        INTEGER: QMetaType.Type.Int,
        LONG: QMetaType.Type.LongLong,
        REAL: QMetaType.Type.Double,
        BOOLEAN: QMetaType.Type.Bool,
    }
else:
    FIELD_TYPES = {
        TEXT: QVariant.Type.String,  # type: ignore[attr-defined]
        INTEGER: QVariant.Type.Int,  # type: ignore[attr-defined]
        LONG: QVariant.Type.LongLong,  # type: ignore[attr-defined]
        REAL: QVariant.Type.Double,  # type: ignore[attr-defined]
        BOOLEAN: QVariant.Type.Bool,  # type: ignore[attr-defined]
    }

WKB_TYPES = {
    "Point": QgsWkbTypes.Type.Point,
    "LineString": QgsWkbTypes.Type.LineString,
    "Polygon": QgsWkbTypes.Type.Polygon,
    "MultiPoint": QgsWkbTypes.Type.MultiPoint,
    "MultiLineString": QgsWkbTypes.Type.MultiLineString,
    "MultiPolygon": QgsWkbTypes.Type.MultiPolygon,
    "NoGeometry": QgsWkbTypes.Type.NoGeometry,
}
BATCH = 2000
NO_REASON = "the host gave no reason"


def host_fields(schema: LayerSchema) -> QgsFields:
    """The schema's fields for a sink."""
    fields = QgsFields()
    for name, kind in schema.fields:
        fields.append(QgsField(name, FIELD_TYPES[kind]))
    return fields


def write(
    table: Table | TableParts,
    sink: QgsFeatureSink,
    where: str,
    fields: QgsFields,
    progress: Progress = SILENT,
    before: Sequence[str] = (),
) -> None:
    """Add all features to a sink; SurveyError when it refuses any, since the host drops the rest
    without a word. It says why; the cause may stand in the complaints from `before`."""
    with complaints() as heard:
        _put(table, sink, where, fields, progress, before or heard)


def _put(
    table: Table | TableParts,
    sink: QgsFeatureSink,
    where: str,
    fields: QgsFields,
    progress: Progress,
    heard: Sequence[str],
) -> None:
    total = len(table)
    done = 0
    for part in table.parts if isinstance(table, TableParts) else [table]:
        features = _features(part, fields)
        while batch := list(islice(features, BATCH)):
            progress.at(done / total)
            if not sink.addFeatures(batch, QgsFeatureSink.Flag.FastInsert):
                raise SurveyError(
                    f"{where}: features {done + 1} to {done + len(batch)} of {total} could "
                    f"not be written: {reason(heard, sink.lastError()) or NO_REASON}."
                )
            done += len(batch)


def _features(table: Table, fields: QgsFields) -> Iterator[QgsFeature]:
    """The features of a table. Points are made from their coordinates, which is faster."""
    if table.schema.geometry == "Point":
        xs, ys = shapely.get_x(table.geometry).tolist(), shapely.get_y(table.geometry).tolist()
        for x, y, attributes in zip(xs, ys, table.rows()):
            feature = QgsFeature(fields)
            feature.setAttributes(list(attributes))
            if x == x:
                feature.setGeometry(QgsPoint(x, y))
            yield feature
        return
    for wkb, attributes in zip(shapely.to_wkb(table.geometry), table.rows()):
        feature = QgsFeature(fields)
        feature.setAttributes(list(attributes))
        if wkb is not None:
            geometry = QgsGeometry()
            geometry.fromWkb(wkb)
            feature.setGeometry(geometry)
        yield feature


def write_geopackage(
    path: Path,
    tables: Sequence[Table],
    crs: QgsCoordinateReferenceSystem,
    style: Callable[[QgsVectorLayer], None] | None = None,
    progress: Progress = SILENT,
    into: bool = False,
    styled: Collection[str] = (),
) -> None:
    """Write the tables as layers of a new GeoPackage, with their styles as defaults. With `into`
    it is one that is there: layers of other names stay, and so do the default styles of layers
    that are `styled`.

    On failure or cancel a part of the file is left: give it a draft's name (`files`). SurveyError
    when two layers have one name, which a GeoPackage cannot tell apart by case.
    """
    names = [table.schema.name.casefold() for table in tables]
    for name in names:
        if names.count(name) > 1:
            raise SurveyError(f"{path.parent}: two layers are called {name}; expected one each.")
    for number, (part, table) in enumerate(progress.each(tables)):
        _write_layer(path, table, crs, first=number == 0 and not into, progress=part)
    if style is not None:
        for table in tables:
            progress.at(1.0)
            if table.schema.name not in styled:
                _store_style(path, table.schema, style)


def _write_layer(
    path: Path, table: Table, crs: QgsCoordinateReferenceSystem, first: bool, progress: Progress
) -> None:
    """Write a table as a layer. The host builds the index of many points in one piece, which no
    cancel reaches: their rows are put into the layer that it made for none."""
    where = f"{path.parent}, layer {table.schema.name}"
    if table.schema.geometry == "Point" and len(table) > BATCH:
        _write_features(path, table.chosen(slice(0)), crs, first, where, SILENT)
        try:
            fill_points(path, table.in_parts(BATCH), where, progress, table.schema.name)
            return
        except OtherFields:  # of a person's own layer: as the host writes it
            first = False
    _write_features(path, table, crs, first, where, progress)


def _write_features(
    path: Path,
    table: Table,
    crs: QgsCoordinateReferenceSystem,
    first: bool,
    where: str,
    progress: Progress,
) -> None:
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = "GPKG"
    options.layerName = table.schema.name
    options.actionOnExistingFile = (
        QgsVectorFileWriter.ActionOnExistingFile.CreateOrOverwriteFile
        if first
        else QgsVectorFileWriter.ActionOnExistingFile.CreateOrOverwriteLayer
    )
    options.layerOptions = ["DESCRIPTION=" + table.schema.title]
    fields = host_fields(table.schema)
    has_geometry = table.schema.geometry != "NoGeometry"
    with complaints() as heard:
        writers = [
            QgsVectorFileWriter.create(
                str(path),
                fields,
                WKB_TYPES[table.schema.geometry],
                crs if has_geometry else QgsCoordinateReferenceSystem(),
                QgsCoordinateTransformContext(),
                options,
            )
        ]
    try:
        if writers[0].hasError() != QgsVectorFileWriter.WriterError.NoError:
            why = reason(heard, writers[0].errorMessage())
            raise SurveyError(f"{where}: could not be created: {why}.")
        write(table, writers[0], where, fields, progress, heard)
        # What writes goes out of use, which closes the file.
        closed_whole(writers.clear, path, table.schema.name, len(table), where)
    finally:
        writers.clear()


def add_layer(
    path: Path, table: Table, crs: QgsCoordinateReferenceSystem, progress: Progress = SILENT
) -> None:
    """Add a table as a layer to a GeoPackage, in the place of one of that name; SurveyError where
    it cannot be written."""
    _write_layer(path, table, crs, first=False, progress=progress)


def _store_style(path: Path, schema: LayerSchema, style: Callable[[QgsVectorLayer], None]) -> None:
    with complaints() as heard:
        layer = QgsVectorLayer(f"{path}|layername={schema.name}", schema.title, "ogr")
        style(layer)
        message = layer.saveStyleToDatabase(schema.name, schema.title, True, "")
    if message:
        why = reason(heard, message)
        raise SurveyError(f"{path.parent}, layer {schema.name}: the style was not kept: {why}.")
