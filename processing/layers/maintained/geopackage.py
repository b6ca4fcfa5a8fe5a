# SPDX-License-Identifier: GPL-2.0-or-later
"""A GeoPackage (OGC 12-128r18) through GDAL, which brings the functions that its triggers call.

The transaction takes SQLite's write lock before it reads, so that no other program can write from
there on. Its journal brings the old state back when the program ends in the middle.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from osgeo import gdal, ogr

from ...errors import SurveyError
from .session import Reference, Session, TableInfo, quoted

LITERAL = re.compile(r"NULL|-?[0-9.]+(?:e[+-]?[0-9]+)?|-?9\.0e\+999|'(?:[^']|'')*'|X'[0-9A-F]*'")


def text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


class GeoPackageSession(Session):
    """One table of a GeoPackage."""

    kind = "GeoPackage"

    def __init__(self, path: Path, table: str) -> None:
        self.where = f"{path.name}, layer {table}"
        self.path = path
        gdal.PushErrorHandler("CPLQuietErrorHandler")
        try:
            self.data = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE, ["GPKG"])
        except RuntimeError:  # where somebody made GDAL raise its errors
            self.data = None
        finally:
            gdal.PopErrorHandler()
        if self.data is None:
            raise SurveyError(
                f"{path}: it cannot be opened for writing; expected a GeoPackage that may be "
                "written to."
            )
        self.run("PRAGMA foreign_keys = ON")
        self.info = self._described(table)

    def _described(self, table: str) -> TableInfo:
        layer: ogr.Layer | None = self.data.GetLayerByName(table)
        if layer is None:
            raise SurveyError(f"{self.where}: there is no such layer in the file.")
        key, geometry = layer.GetFIDColumn(), layer.GetGeometryColumn()
        kind = self.rows(f"SELECT type FROM sqlite_master WHERE name = {text(table)}")
        if not key or kind != [("table",)]:
            raise SurveyError(
                f"{self.where}: it is a view or has no primary key; expected a table of rooms."
            )
        layer = None
        columns = self.rows(f"SELECT name, hidden FROM pragma_table_xinfo({text(table)})")
        unique = self.rows(
            "SELECT max(c.name) FROM pragma_index_list("
            f'{text(table)}) i, pragma_index_info(i.name) c WHERE i."unique" = 1 '
            "GROUP BY i.name HAVING count(*) = 1"
        )
        srid = self.rows(
            "SELECT CAST(srs_id AS TEXT) FROM gpkg_geometry_columns "
            f"WHERE table_name = {text(table)}"
        )
        references = self.rows(
            'SELECT m.name, f."from", coalesce(f."to", \'\'), f.on_delete '
            "FROM sqlite_master m, pragma_foreign_key_list(m.name) f "
            f"WHERE m.type = 'table' AND lower(f.\"table\") = lower({text(table)}) "
            "AND f.on_delete IN ('CASCADE', 'SET NULL', 'SET DEFAULT')"
        )
        return TableInfo(
            quoted(table),
            table,
            key,
            geometry,
            int(str(srid[0][0])),
            tuple(str(name) for name, hidden in columns if str(hidden) == "0"),
            (key, *(str(name) for (name,) in unique)),
            tuple(Reference(str(t), str(c), str(to) or key, str(r)) for t, c, to, r in references),
        )

    def _refused(self, message: str) -> SurveyError:
        # GDAL puts the whole statement before the reason.
        message = message.strip().rpartition("\n")[2].strip().rstrip(".") or "no reason was given"
        if "locked" in message or "busy" in message:
            return SurveyError(
                f"{self.where}: another program is writing to it; nothing was changed, try again."
            )
        return SurveyError(f"{self.where}: the database refused a change: {message}.")

    def _execute(self, sql: str) -> Any:
        gdal.ErrorReset()
        gdal.PushErrorHandler("CPLQuietErrorHandler")
        try:
            result = self.data.ExecuteSQL(sql)
            failed = gdal.GetLastErrorType() >= gdal.CE_Failure
            message = gdal.GetLastErrorMsg()
        except RuntimeError as error:
            raise self._refused(str(error)) from error
        finally:
            gdal.PopErrorHandler()
        if failed:
            raise self._refused(message)
        return result

    def run(self, sql: str) -> int:
        result = self._execute(sql)
        if result is not None:
            self.data.ReleaseResultSet(result)
        if sql.startswith("PRAGMA"):
            return 0
        ((count,),) = self.rows("SELECT CAST(changes() AS TEXT)")
        return int(str(count))

    def rows(self, sql: str) -> list[tuple[str | None, ...]]:
        result = self._execute(sql)
        if result is None:
            return []
        try:
            width = result.GetLayerDefn().GetFieldCount()
            return [
                tuple(
                    feature.GetFieldAsString(i) if feature.IsFieldSetAndNotNull(i) else None
                    for i in range(width)
                )
                for feature in result
            ]
        finally:
            self.data.ReleaseResultSet(result)

    def begin(self, ids: Sequence[str], id_column: str) -> None:
        self._told(self.data.StartTransaction)
        # A statement that changes no row takes the write lock all the same.
        table, key = self.info.name, quoted(self.info.key)
        try:
            self.run(f"UPDATE {table} SET {key} = {key} WHERE 0")
        except SurveyError:
            self.rollback()
            raise

    def commit(self) -> None:
        self._told(self.data.CommitTransaction)

    def rollback(self) -> None:
        gdal.PushErrorHandler("CPLQuietErrorHandler")
        try:
            # On a full disk SQLite has taken everything back by itself, and has no transaction.
            with suppress(RuntimeError):
                self.data.RollbackTransaction()
        finally:
            gdal.PopErrorHandler()

    def _told(self, step: Any) -> None:
        gdal.ErrorReset()
        gdal.PushErrorHandler("CPLQuietErrorHandler")
        try:
            status, message = step(), gdal.GetLastErrorMsg()
        except RuntimeError as error:
            raise self._refused(str(error)) from error
        finally:
            gdal.PopErrorHandler()
        if status != ogr.OGRERR_NONE:
            self.rollback()
            raise self._refused(message)

    def close(self) -> None:
        self.data = None

    def literal_of(self, column: str) -> str:
        return f"quote({quoted(column)})"

    def is_literal(self, value: object) -> bool:
        return isinstance(value, str) and LITERAL.fullmatch(value) is not None

    def literal(self, value: str) -> str:
        return text(value)

    def same(self, column: str, literal: str) -> str:
        return f"{quoted(column)} IS {literal}"

    def geometry_literal(self, wkb: bytes) -> str:
        # "GP", version 0, flags: little endian, no envelope (clause 2.1.3).
        blob = struct.pack("<2sBBi", b"GP", 0, 1, self.info.srid) + wkb
        return f"X'{blob.hex().upper()}'"

    def insert(self, sql: str) -> str:
        self._execute(sql)
        ((key,),) = self.rows("SELECT CAST(last_insert_rowid() AS TEXT)")
        return str(key)

    @property
    def history(self) -> str:
        return quoted(f"{self.info.plain}_history")

    def make_history(self, name: str) -> None:
        if self.rows(f"SELECT name FROM sqlite_master WHERE name = {text(name)}"):
            return
        kinds = dict(
            self.rows(f"SELECT name, type FROM pragma_table_xinfo({text(self.info.plain)})")  # type: ignore[arg-type]
        )
        columns = ", ".join(
            f"{quoted(c)} {kinds[c]}" for c in self.info.columns if c != self.info.key
        )
        self.run(
            f"CREATE TABLE {quoted(name)} (history_id INTEGER PRIMARY KEY AUTOINCREMENT, "
            f"{columns}, {quoted(self.info.key + '_before')} INTEGER, superseded_on TEXT, "
            "superseded_by TEXT)"
        )
        own = text(self.info.plain)
        for table, key in (
            ("gpkg_contents", "table_name, identifier"),
            ("gpkg_geometry_columns", "table_name"),
        ):
            names = [
                str(column)
                for (column,) in self.rows(f"SELECT name FROM pragma_table_info('{table}')")
                if str(column) not in ("table_name", "identifier")
            ]
            new = ", ".join([text(name)] * (2 if "identifier" in key else 1))
            self.run(
                f"INSERT INTO {table} ({key}, {', '.join(names)}) "
                f"SELECT {new}, {', '.join(names)} FROM {table} WHERE table_name = {own}"
            )

    def written(self) -> None:
        shape, own = quoted(self.info.geometry), text(self.info.plain)
        sides = (("min_x", "min"), ("min_y", "min"), ("max_x", "max"), ("max_y", "max"))
        bounds = ", ".join(
            f"{name} = {least}({name}, "
            f"(SELECT {least}(ST_{name.replace('_', '')}({shape})) FROM {self.info.name}))"
            for name, least in sides
        )
        self.run(
            "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), "
            f"{bounds} WHERE table_name = {own}"
        )
