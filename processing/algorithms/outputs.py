# SPDX-License-Identifier: GPL-2.0-or-later
"""Layers that are written whole, or not at all: until then what stood there stays."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
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
from ..layers.put_table import put_table, refuse_other_files
from ..progress import SILENT, Progress

SHAPEFILE_COMPANIONS = (".dbf", ".shx", ".prj", ".cpg", ".qmd", ".qix", ".sbn", ".sbx")


@dataclass(frozen=True)
class _Place:
    """Where a layer goes: a file of its own, or a table of a database file that may be there."""

    path: Path
    table: str = ""
    geometry: str = ""
    """The name of the table's geometry column, where one was chosen."""

    def is_with(self, other: _Place) -> bool:
        """Whether one of the two writes over the other."""
        return self.path == other.path and (
            self.table == other.table or not (self.table and other.table)
        )

    def address(self, draft: Path) -> str:
        """The output's value for a draft."""
        if not self.table:
            return str(draft)
        uri = QgsDataSourceUri()
        uri.setDatabase(str(draft))
        uri.setDataSource("", self.table, self.geometry)
        return f"ogr:{uri.uri(False)}"


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
            if sum(place.is_with(other) for other in every) > 1:
                raise SurveyError(
                    f"{place.path}: several outputs name this file; expected one each."
                )
        self.parameters = dict(parameters)
        self._temporary: list[Path] = []
        self._drafts: dict[str, Path] = {}

    @property
    def moved(self) -> dict[Path, Path]:
        """Where each draft belongs."""
        return {draft: self._places[name].path for name, draft in self._drafts.items()}

    def begin(self) -> None:
        """Make the folders of the drafts; OSError or SurveyError where it cannot be done."""
        for name, place in self._places.items():
            if place.table and place.path.exists():
                refuse_other_files(place.path)
            place.path.parent.mkdir(parents=True, exist_ok=True)
            folder = tempfile.mkdtemp(prefix=f".{place.path.stem}.", dir=place.path.parent)
            # A layer is called after its file, so that the draft has the file's name.
            draft = Path(folder) / place.path.name
            self._drafts[name] = draft
            self.parameters[name] = _redirected(self.parameters[name], place.address(draft))

    def add(self, destination: str) -> bool:
        """Whether the destination that the host chose is a new file that is the output's own."""
        path = Path(destination)
        if Path(QgsProcessingUtils.tempFolder()) in path.parents and path not in self.moved:
            self._temporary.append(path)
        return path in self.moved or path in self._temporary

    def file_of(self, name: str, destination: str) -> tuple[Path, str] | None:
        """The file that is being written and the table in it (empty: the only one); None for a
        layer in memory or in a database elsewhere."""
        if name in self._drafts:
            return self._drafts[name], self._places[name].table
        path = Path(destination)
        return (path, "") if path in self._temporary else None

    def final(self, destination: str) -> str:
        """What a destination is called when all is in place."""
        return _elsewhere(destination, self.moved)

    def put_in_place(self, progress: Progress) -> None:
        """Bring the drafts to where they belong; OSError, SurveyError or Cancelled where it is not
        done, and the files of that output are as they were.

        A cancel is heard until the first is in place, as it is all of them or none then; that is
        the largest table, which takes longest.
        """
        drafts = [(self._places[name], draft) for name, draft in self._drafts.items()]
        for place, draft in sorted(drafts, key=lambda of: (not of[0].table, -of[1].stat().st_size)):
            if place.table and place.path.exists():
                put_table(draft, place.path, place.table, progress.part(1.0, 1.0))
            else:
                _put(draft, place.path)
            progress = SILENT

    def take_away(self) -> None:
        """Undo what was written to files that are not drafts."""
        for path in self._temporary:
            _taken_away(path)

    def end(self) -> None:
        """Take the folders of the drafts away."""
        for draft in self.moved:
            shutil.rmtree(draft.parent, ignore_errors=True)


@contextmanager
def outputs_kept(
    names: Sequence[str],
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress = SILENT,
) -> Iterator[Drafts]:
    """Lets outputs be written as drafts beside their places, where they appear when the block ends;
    when it fails, is cancelled or the process is killed, what stood there is as it was: other
    tables of a database too. Sinks must be closed before the block ends.

    Raises `SurveyError` when two outputs name one file, or a file cannot be written.
    """
    drafts = Drafts(names, parameters, context)
    try:
        drafts.begin()
        yield drafts
        drafts.put_in_place(progress)
    except BaseException as error:
        drafts.take_away()
        _load(context, dict.fromkeys(drafts.moved))
        if isinstance(error, OSError):
            where = error.filename or ", ".join(map(str, drafts.moved.values()))
            raise SurveyError(
                f"{where}: could not be written: {error.strerror or error}."
            ) from error
        raise
    finally:
        drafts.end()
    _load(context, drafts.moved)


def _load(context: QgsProcessingContext, moved: Mapping[Path, Path | None]) -> None:
    """Let the host load what it was to load from elsewhere, or not at all (None)."""
    wanted = {
        _elsewhere(name, moved): details
        for name, details in context.layersToLoadOnCompletion().items()
    }
    wanted.pop("", None)
    context.setLayersToLoadOnCompletion(wanted)


def _elsewhere(name: str, moved: Mapping[Path, Path | None]) -> str:
    """What a layer's address is called when drafts have moved; empty where they are gone (None)."""
    for draft, path in moved.items():
        if str(draft) in name:
            return "" if path is None else name.replace(str(draft), str(path))
    return name


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
    new = sorted(draft.parent.iterdir(), key=lambda part: part == draft)
    if new == [draft] and path.suffix.lower() != ".shp":
        put_in_place(draft, path)
        return
    aside: dict[Path, Path] = {}
    try:
        for old in {*_parts(path), *(path.with_name(part.name) for part in new)}:
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
        if not uri.database():
            return None
        return _Place(Path(uri.database()), uri.table(), uri.geometryColumn())
    if value.startswith(("memory:", "postgis:", "postgres:", "spatialite:")):
        return None
    # The host makes a GeoPackage of what it knows no format of.
    known = QgsVectorFileWriter.driverForExtension(Path(value).suffix[1:])
    return _Place(Path(value if known else f"{value}.gpkg"))


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
