# SPDX-License-Identifier: GPL-2.0-or-later
"""Layers that are written whole, or not at all: until then what stood there stays."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
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
from ..files import SQLITE_COMPANIONS, put_in_place

SHAPEFILE_COMPANIONS = (".dbf", ".shx", ".prj", ".cpg", ".qmd", ".qix", ".sbn", ".sbx")


@dataclass(frozen=True)
class _Place:
    """Where a layer goes: a file of its own, or a table of a database file that may be there."""

    path: Path
    table: str = ""


class Drafts:
    """Where sinks write for the time being: `parameters` name drafts instead of the files that
    outputs have for themselves. What the host chose for a temporary output is told by `add`."""

    def __init__(
        self, names: Sequence[str], parameters: dict[str, Any], context: QgsProcessingContext
    ) -> None:
        places = {name: _place_of(parameters.get(name), context) for name in names}
        self._places = {name: place for name, place in places.items() if place is not None}
        every = [*self._places.values()]
        for place in every:
            if every.count(place) > 1:
                raise SurveyError(
                    f"{place.path}: several outputs name this file; expected one each."
                )
        self.parameters = dict(parameters)
        self.moved: dict[Path, Path] = {}
        """Where each draft belongs."""
        self._temporary: list[Path] = []
        self._tables: dict[_Place, set[str]] = {}
        for place in every:
            if place.table and place.path.exists():
                self._tables[place] = _tables(place.path)

    def begin(self) -> None:
        """Make the folders of the drafts; OSError where it cannot be done."""
        for name, place in self._places.items():
            if place.table:
                continue
            place.path.parent.mkdir(parents=True, exist_ok=True)
            folder = tempfile.mkdtemp(prefix=f".{place.path.stem}.", dir=place.path.parent)
            # A layer is called after its file, so that the draft has the file's name.
            draft = Path(folder) / place.path.name
            self.moved[draft] = place.path
            self.parameters[name] = _redirected(self.parameters[name], str(draft))

    def add(self, destination: str) -> bool:
        """Whether the destination that the host chose is a new file that is the output's own."""
        path = Path(destination)
        if Path(QgsProcessingUtils.tempFolder()) in path.parents and path not in self.moved:
            self._temporary.append(path)
        return path in self.moved or path in self._temporary

    def file_of(self, name: str, destination: str) -> tuple[Path, str] | None:
        """The file that is being written and the table in it (empty: the only one); None for a
        layer in memory or in a database elsewhere."""
        path = Path(destination)
        if path in self.moved or path in self._temporary:
            return path, ""
        place = self._places.get(name)
        return None if place is None else (place.path, place.table)

    def final(self, destination: str) -> str:
        """What a destination is called when all is in place."""
        path = self.moved.get(Path(destination))
        return destination if path is None else str(path)

    def put_in_place(self) -> None:
        """Move the drafts to where they belong; OSError or SurveyError where it cannot be done, and
        the files of that output are as they were."""
        for draft, path in self.moved.items():
            _put(draft, path)

    def take_away(self) -> None:
        """Undo what was written to files that are not drafts."""
        for path in self._temporary:
            _taken_away(path)
        for place in self._places.values():
            if not place.table:
                continue
            if place not in self._tables:
                _taken_away(place.path)
            elif place.table not in self._tables[place]:
                _dropped(place)

    def end(self) -> None:
        """Take the folders of the drafts away."""
        for draft in self.moved:
            shutil.rmtree(draft.parent, ignore_errors=True)


@contextmanager
def outputs_kept(
    names: Sequence[str], parameters: dict[str, Any], context: QgsProcessingContext
) -> Iterator[Drafts]:
    """Lets outputs be written as drafts beside their places, where they appear when the block ends;
    when it fails, or the process is killed, what stood there is as it was. Sinks must be closed
    before the block ends.

    A table of a database that is there is written in its place, and dropped when the block fails.
    Raises `SurveyError` when two outputs name one file, or a file cannot be written.
    """
    drafts = Drafts(names, parameters, context)
    try:
        drafts.begin()
        yield drafts
        drafts.put_in_place()
    except BaseException as error:
        drafts.take_away()
        _load(context, {str(draft): "" for draft in drafts.moved})
        if isinstance(error, OSError):
            where = error.filename or ", ".join(map(str, drafts.moved.values()))
            raise SurveyError(
                f"{where}: could not be written: {error.strerror or error}."
            ) from error
        raise
    finally:
        drafts.end()
    _load(context, {str(draft): str(path) for draft, path in drafts.moved.items()})


def _load(context: QgsProcessingContext, moved: dict[str, str]) -> None:
    """Let the host load what it was to load from elsewhere, or not at all (empty)."""
    wanted = context.layersToLoadOnCompletion()
    if any(name in moved for name in wanted):
        context.setLayersToLoadOnCompletion(
            {
                moved.get(name, name): details
                for name, details in wanted.items()
                if moved.get(name, name)
            }
        )


def _redirected(value: Any, draft: str) -> Any:
    """An output's value with another file."""
    if not isinstance(value, QgsProcessingOutputLayerDefinition):
        return draft
    other = QgsProcessingOutputLayerDefinition(value)
    other.sink = QgsProperty.fromValue(draft)
    return other


def _put(draft: Path, path: Path) -> None:
    """Move all files of a draft to their place, its main file last. One that is a single file is
    at any instant the old or the new one."""
    new = [draft.with_name(part.name) for part in _parts(path)]
    new = [part for part in reversed(new) if part.exists()]
    aside: dict[Path, Path] = {}
    if new == [draft] and path.suffix.lower() != ".shp":
        put_in_place(draft, path)
        return
    try:
        for old in _parts(path):
            if old.is_file():
                saved = draft.with_name(f"before.{old.name}")
                os.replace(old, saved)
                aside[old] = saved
        for part in new:
            os.replace(part, path.with_name(part.name))
    except OSError:
        for old, saved in aside.items():
            with suppress(OSError):
                os.replace(saved, old)
        raise


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
