# SPDX-License-Identifier: GPL-2.0-or-later
"""Layers that are written whole, or not at all: what stood there before comes back."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsDataSourceUri,
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingOutputLayerDefinition,
    QgsProcessingUtils,
    QgsProperty,
    QgsVectorFileWriter,
)

from ..errors import SurveyError
from ..files import SQLITE_COMPANIONS

SHAPEFILE_COMPANIONS = (".dbf", ".shx", ".prj", ".cpg", ".qmd", ".qix", ".sbn", ".sbx")


@dataclass(frozen=True)
class _Place:
    """Where a layer goes: a file of its own, or a table of a database file that may be there."""

    path: Path
    table: str = ""


@contextmanager
def outputs_kept(
    names: Sequence[str], parameters: dict[str, Any], context: QgsProcessingContext
) -> Iterator[Callable[[str], bool]]:
    """Takes away what was written to these outputs when the block fails, and puts the files back
    that were to be written over. Sinks must be closed before the block ends.

    Gives a function to tell the destination that the host chose for each, which says whether that
    is a new file of its own. Raises `SurveyError` when two outputs name one file, or a file cannot
    be written over.
    """
    places = [
        place for name in names if (place := _place_of(parameters.get(name), context)) is not None
    ]
    for place in places:
        if places.count(place) > 1:
            raise SurveyError(f"{place.path}: several outputs name this file; expected one each.")
    new = [place for place in places if not place.path.exists()]
    aside: dict[Path, Path] = {}
    """Where the files that are to be written over are kept meanwhile, by their own names."""
    kept_tables = {
        place: _tables(place.path) for place in places if place.table and place not in new
    }

    def own(destination: str) -> bool:
        path = Path(destination)
        # A temporary layer has a file of the host's choice.
        temporary = Path(QgsProcessingUtils.tempFolder()) in path.parents
        if temporary:
            new.append(_Place(path))
        return temporary or _Place(path) in places

    try:
        for place in places:
            if place.table or not place.path.is_file():
                continue
            for part in _parts(place.path):
                saved = part.with_name(f".{part.name}.{os.getpid()}.before")
                if part.exists():
                    _moved(part, saved)
                    aside[part] = saved
        yield own
    except BaseException:
        for place in new:
            _taken_away(place.path)
        for place, before in kept_tables.items():
            if place.table not in before:
                _dropped(place)
        for place in places:
            if place.path in aside:
                _taken_away(place.path)
        for path, saved in aside.items():
            os.replace(saved, path)
        raise
    for saved in aside.values():
        with suppress(OSError):
            saved.unlink()


def _place_of(value: Any, context: QgsProcessingContext) -> _Place | None:
    """The file that an output's value means; None for a layer in memory, a temporary one, one in a
    database elsewhere, or none."""
    if isinstance(value, QgsProcessingOutputLayerDefinition):
        value = value.sink
    if isinstance(value, QgsProperty):
        value, _ = value.valueAsString(context.expressionContext(), "")
    if not isinstance(value, str) or value in ("", QgsProcessing.TEMPORARY_OUTPUT):
        return None
    if value.startswith("ogr:"):
        uri = QgsDataSourceUri(value[4:])
        return _Place(Path(uri.database()), uri.table()) if uri.database() else None
    if value.startswith(("memory:", "postgis:", "postgres:", "spatialite:")):
        return None
    # The host makes a GeoPackage of what it knows no format of.
    known = QgsVectorFileWriter.driverForExtension(Path(value).suffix[1:])
    return _Place(Path(value if known else f"{value}.gpkg"))


def file_of(value: Any, destination: str, context: QgsProcessingContext) -> tuple[Path, str] | None:
    """The file of an output by its value and the destination that the host chose, and the table
    in it (empty: the only one); None for a layer in memory or in a database elsewhere."""
    place = _place_of(value, context)
    if place is not None:
        return place.path, place.table
    path = Path(destination)
    return (path, "") if Path(QgsProcessingUtils.tempFolder()) in path.parents else None


def _tables(path: Path) -> set[str]:
    from osgeo import ogr

    source = ogr.Open(str(path))
    if source is None:
        return set()
    return {source.GetLayer(index).GetName() for index in range(source.GetLayerCount())}


def _dropped(place: _Place) -> None:
    from osgeo import ogr

    source = ogr.Open(str(place.path), update=1)
    if source is None:
        return
    for index in range(source.GetLayerCount()):
        if source.GetLayer(index).GetName() == place.table:
            source.DeleteLayer(index)
            break


def _moved(path: Path, to: Path) -> None:
    try:
        os.replace(path, to)
    except OSError as error:
        raise SurveyError(
            f"{path}: the file cannot be written over ({error.strerror or error})."
        ) from error


def _parts(path: Path) -> list[Path]:
    """A data set's file with those that belong to it by their names, whether they are there or not:
    a database with journals that were left has part of its rows in them."""
    if path.suffix.lower() == ".shp":
        return [path, *(path.with_suffix(end) for end in SHAPEFILE_COMPANIONS)]
    return [path, *(Path(f"{path}{end}") for end in SQLITE_COMPANIONS)]


def _taken_away(path: Path) -> None:
    for left in _parts(path):
        with suppress(OSError):
            left.unlink()
