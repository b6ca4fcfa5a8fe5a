# SPDX-License-Identifier: GPL-2.0-or-later
"""A changed copy of a layer whose format has no transactions; the layer itself stays as it is."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from qgis.core import (
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsVectorFileWriter,
    QgsVectorLayer,
)

from ..errors import SurveyError
from ..layers.complaints import closed_whole, complaints, reason
from ..progress import SILENT, Progress
from .building_edits import outline
from .values import identifier

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile
    from ..layers.maintained.edits import Edit

DRIVERS = {".shp": "ESRI Shapefile", ".gpkg": "GPKG", ".geojson": "GeoJSON", ".fgb": "FlatGeobuf"}


def write_copy(
    layer: QgsVectorLayer,
    edits: Sequence[Edit],
    profile: FieldProfile,
    on: str,
    path: Path,
    progress: Progress = SILENT,
) -> None:
    """The layer with the edits as new files. Rooms that end get their last day, or go into a file
    of history beside. SurveyError where a file is there already, or cannot be written."""
    driver = DRIVERS.get(path.suffix.lower())
    history = path.with_name(f"{path.stem}_history{path.suffix}")
    if driver is None:
        raise SurveyError(f"COPY: {path.name} ends in none of {', '.join(DRIVERS)}.")
    kept, ended = _edited(layer, edits, profile, on, progress.part(0.0, 0.5))
    for there in (path, *([history] if ended else [])):
        if there.exists():
            raise SurveyError(f"{there}: it is there already; expected the name of a new file.")
    folder = Path(tempfile.mkdtemp(prefix=f".{path.stem}.", dir=path.parent))
    try:
        _written(layer, kept, folder / path.name, driver, progress.part(0.5, 0.9))
        if ended:
            _written(layer, ended, folder / history.name, driver, progress.part(0.9, 1.0))
        # The file that names the others comes last, the history before the copy.
        for own in sorted(
            folder.iterdir(), key=lambda p: (p.name == path.name, p.suffix == ".shp")
        ):
            os.replace(own, path.with_name(own.name))
    except OSError as error:
        raise SurveyError(f"{path}: could not be written: {error.strerror or error}.") from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _edited(
    layer: QgsVectorLayer,
    edits: Sequence[Edit],
    profile: FieldProfile,
    on: str,
    progress: Progress,
) -> tuple[list[QgsFeature], list[QgsFeature]]:
    place = layer.fields().lookupField(profile.id)
    by_id = {edit.id: edit for edit in edits if edit.do != "insert"}
    rooms: dict[str, QgsFeature] = {}
    kept, ended = [], []
    for feature in progress.over(layer.getFeatures(), layer.featureCount()):
        own = identifier(feature.attributes()[place])
        edit = by_id.get(own)
        rooms[own] = QgsFeature(feature)
        if edit is None:
            kept.append(feature)
        elif edit.do == "replace":
            kept.append(_changed(layer, feature, edit))
        elif profile.valid_to:
            _set(layer, feature, profile.valid_to, on)
            kept.append(feature)
        else:
            ended.append(feature)
    for edit in edits:
        if edit.do == "insert":
            if edit.id in rooms:
                raise SurveyError(f"The new identifier {edit.id!r} is taken; expected a free one.")
            fresh = QgsFeature(layer.fields())
            if edit.like:
                fresh.setAttributes(rooms[edit.like].attributes())
            key = layer.fields().lookupField("fid")
            if key >= 0:
                fresh.setAttribute(key, None)
            if edit.id:
                _set(layer, fresh, profile.id, edit.id)
            kept.append(_changed(layer, fresh, edit))
    return kept, ended


def _changed(layer: QgsVectorLayer, feature: QgsFeature, edit: Edit) -> QgsFeature:
    feature.setGeometry(outline(edit.wkb or b""))
    for name, value in edit.values.items():
        _set(layer, feature, name, value)
    return feature


def _set(layer: QgsVectorLayer, feature: QgsFeature, name: str, value: str | None) -> None:
    place = layer.fields().lookupField(name)
    known = layer.fields()[place].convertCompatible(value)
    # Some releases give the value, others a pair of whether it fits and the value.
    good, known = known if isinstance(known, tuple) else (True, known)
    if not good:
        raise SurveyError(f"Field {name}: {value!r} is no value of it.")
    feature.setAttribute(place, known)


def _written(
    layer: QgsVectorLayer,
    features: Sequence[QgsFeature],
    path: Path,
    driver: str,
    progress: Progress,
) -> None:
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = driver
    options.layerName = path.stem
    options.fileEncoding = "UTF-8"
    where = path.name
    with complaints() as heard:
        writers = [
            QgsVectorFileWriter.create(
                str(path),
                layer.fields(),
                layer.wkbType(),
                layer.crs(),
                QgsCoordinateTransformContext(),
                options,
            )
        ]
        try:
            writer = writers[0]
            if writer.hasError() != QgsVectorFileWriter.WriterError.NoError:
                why = reason(heard, writer.errorMessage())
                raise SurveyError(f"{where}: could not be created: {why}.")
            for feature in progress.over(features):
                if not writer.addFeature(feature):
                    why = reason(heard, writer.errorMessage())
                    raise SurveyError(f"{where}: a row could not be written: {why}.")
            del writer
            # What writes goes out of use, which closes the file.
            closed_whole(writers.clear, path, path.stem, len(features), where)
        finally:
            writers.clear()
