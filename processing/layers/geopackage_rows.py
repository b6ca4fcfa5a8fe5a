# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows of points put straight into a GeoPackage layer that the host has made and closed.

For hundreds of thousands of readings the host's features take longer to make in Python than all
the rest of an import, and its spatial index is built in one piece that no cancel reaches. The
layer, its fields, its reference system and its index are the host's; only rows come from here, as
the standard lays them down (OGC 12-128r18, GeoPackage 1.3: binary geometry 2.1.3, extent 1.1.3).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from ..angles import Floats
from ..errors import SurveyError
from ..progress import Progress
from .maintained.session import quoted
from .rtree import PackedIndex
from .table import Table, TableParts

BATCH = 20_000
"""So many rows at a time, and the user is heard: a tenth of a second."""

# A little-endian point without envelope: "GP", version, flags, reference system, then WKB.
_POINT = np.dtype(
    [
        ("magic", "S2"),
        ("version", "u1"),
        ("flags", "u1"),
        ("srs", "<i4"),
        ("order", "u1"),
        ("type", "<u4"),
        ("xy", "<f8", (2,)),
    ]
)


class OtherFields(SurveyError):
    """The host made a layer of other fields than were asked for."""


def fill_points(
    path: Path, table: TableParts, where: str, progress: Progress, name: str | None = None
) -> None:
    """Put all rows into an empty layer of a GeoPackage: that of a name, else the one it has.

    Raises `OtherFields` when the layer is not as the table's schema says, `SurveyError` when the
    file cannot be written.
    """
    try:
        with closing(sqlite3.connect(path, isolation_level=None)) as database:
            layer = _Layer.of(database, table, name)
            if layer is None:
                raise OtherFields(
                    f"{where}: the host made a layer of other fields; expected points with "
                    f"{', '.join(table.schema.field_names)}."
                )
            # A file that is not finished is taken away, so that nothing need outlast a power cut.
            database.execute("PRAGMA synchronous = OFF")
            database.execute("BEGIN IMMEDIATE")
            layer.fill(table.parts, len(table), progress)
            database.execute("COMMIT")
    except sqlite3.Error as error:
        raise SurveyError(f"{where}: the rows could not be written: {error}.") from error


class _Layer:
    def __init__(
        self,
        database: sqlite3.Connection,
        name: str,
        geometry: str,
        srs: int,
        columns: list[str],
        indexed: bool,
    ) -> None:
        self.database = database
        self.name = name
        self.srs = srs
        fields = ", ".join(map(quoted, [geometry, *columns]))
        self.insert = f"INSERT INTO {quoted(name)} ({fields}) VALUES"
        self.index = PackedIndex(database, f"rtree_{name}_{geometry}") if indexed else None
        self.low, self.high = np.full(2, np.inf), np.full(2, -np.inf)

    @classmethod
    def of(cls, database: sqlite3.Connection, table: TableParts, name: str | None) -> _Layer | None:
        found = database.execute(
            "SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns "
            "WHERE geometry_type_name = 'POINT' AND z = 0 AND m = 0 "
            "AND table_name = coalesce(?, table_name)",
            [name],
        ).fetchall()
        if len(found) != 1:
            return None
        name, geometry, srs = found[0]
        columns = database.execute(f"PRAGMA table_info({quoted(name)})").fetchall()
        kept = [column for _, column, _, _, _, key in columns if column != geometry and not key]
        (index,) = database.execute(
            "SELECT count(*) FROM sqlite_master WHERE name IN (?, ?, ?)",
            [f"rtree_{name}_{geometry}{end}" for end in ("_node", "_rowid", "_parent")],
        ).fetchone()
        (rows,) = database.execute(f"SELECT count(*) FROM {quoted(name)}").fetchone()  # noqa: S608
        if tuple(kept) != table.schema.field_names or rows:
            return None
        return cls(database, name, geometry, srs, kept, index == 3)

    def fill(self, parts: Iterable[Table], total: int, progress: Progress) -> None:
        # The triggers keep index, extent and count row by row; here that is done for all at once.
        triggers = self.database.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?",
            [self.name],
        ).fetchall()
        for name, _ in triggers:
            self.database.execute(f"DROP TRIGGER {quoted(name)}")
        done = 0
        for part in parts:
            progress.at(done / max(total, 1))
            xy = np.stack([shapely.get_x(part.geometry), shapely.get_y(part.geometry)], axis=-1)
            blobs = self._blobs(xy)
            for first in range(0, len(part), BATCH):
                progress.at((done + first) / max(total, 1))
                rows = slice(first, first + BATCH)
                self._insert(blobs[rows], [column[rows] for column in part.columns])
            if self.index is not None:
                self.index.add(done + 1, xy)
            self.low = np.fmin(self.low, np.fmin.reduce(xy, axis=0, initial=np.inf))
            self.high = np.fmax(self.high, np.fmax.reduce(xy, axis=0, initial=-np.inf))
            done += len(part)
        progress.at(1.0)
        if self.index is not None:
            self.index.finish()
        for _, sql in triggers:
            self.database.execute(sql)
        self._contents(done)

    def _insert(self, blobs: list[bytes | None], columns: Sequence[Sequence[Any]]) -> None:
        """Insert rows. What all of them have in common stands in the statement, as SQLite itself
        quotes it: binding a value takes longer than storing it."""
        bound: list[Sequence[Any]] = [blobs]
        values = ["?"]
        for column in columns:
            # SQLite's quoting ends a text at a NUL.
            if len(set(column)) == 1 and "\0" not in str(column[0]):
                values += self.database.execute("SELECT quote(?)", column[:1]).fetchone()
            else:
                values.append("?")
                bound.append(column)
        self.database.executemany(f"{self.insert} ({', '.join(values)})", zip(*bound))

    def _blobs(self, xy: Floats) -> list[bytes | None]:
        """Binary geometries of coordinates ``(n, 2)``; None where one is NaN."""
        points = np.zeros(len(xy), dtype=_POINT)
        points["magic"], points["flags"], points["srs"] = b"GP", 1, self.srs
        points["order"], points["type"], points["xy"] = 1, 1, xy
        data, size = points.tobytes(), _POINT.itemsize
        there = np.isfinite(xy).all(axis=1).tolist()
        return [data[at * size : (at + 1) * size] if is_ else None for at, is_ in enumerate(there)]

    def _contents(self, count: int) -> None:
        if np.isfinite(self.low).all():
            self.database.execute(
                "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ?, "
                "last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now') WHERE table_name = ?",
                (*self.low.tolist(), *self.high.tolist(), self.name),
            )
        (counted,) = self.database.execute(
            "SELECT count(*) FROM sqlite_master WHERE name = 'gpkg_ogr_contents'"
        ).fetchone()
        if counted:
            self.database.execute(
                "UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?",
                (count, self.name),
            )
