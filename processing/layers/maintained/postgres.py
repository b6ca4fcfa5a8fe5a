# SPDX-License-Identifier: GPL-2.0-or-later
"""A PostGIS table, through the driver that the host's own database tools use."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import psycopg2
import shapely

from ...errors import SurveyError
from .session import CommitUnknown, Reference, Session, TableInfo, quoted

LITERAL = re.compile(r"NULL|'(?:[^'\\]|'')*'|E'(?:[^'\\]|''|\\\\)*'")
WAIT_MS = 5000


def text(value: str) -> str:
    plain = value.replace("'", "''")
    return f"E'{plain.replace(chr(92), chr(92) * 2)}'" if "\\" in plain else f"'{plain}'"


def _in_short(error: Exception) -> str:
    return " ".join(str(error).split()).rstrip(".?") or "no reason was given"


class PostgresSession(Session):
    """One table of a PostgreSQL database with PostGIS."""

    kind = "PostGIS"

    def __init__(self, connection: str, schema: str, table: str, geometry: str) -> None:
        self.where = f"PostGIS, layer {schema}.{table}"
        try:
            self.data = psycopg2.connect(connection)
        except psycopg2.Error as error:
            raise SurveyError(
                f"{self.where}: the database cannot be reached: {_in_short(error)}."
            ) from error
        # Closed by hand: a statement of our own begins the transaction.
        self.data.autocommit = True
        self.cursor = self.data.cursor()
        self.cursor.execute(f"SET lock_timeout = {WAIT_MS}; SET standard_conforming_strings = on")
        self.schema = schema
        self.info = self._described(table, geometry)

    def _refused(self, error: Exception) -> SurveyError:
        if isinstance(error, psycopg2.errors.LockNotAvailable):
            return SurveyError(
                f"{self.where}: someone else is changing rooms that this update changes; nothing "
                "was changed, try again when they have finished."
            )
        return SurveyError(f"{self.where}: the database refused a change: {_in_short(error)}.")

    def _execute(self, sql: str) -> Any:
        try:
            self.cursor.execute(sql)
        except psycopg2.Error as error:
            raise self._refused(error) from error
        return self.cursor

    def run(self, sql: str) -> int:
        return int(self._execute(sql).rowcount)

    def rows(self, sql: str) -> list[tuple[str | None, ...]]:
        return [*self._execute(sql).fetchall()]

    def _described(self, table: str, geometry: str) -> TableInfo:
        name = f"{quoted(self.schema)}.{quoted(table)}"
        oid = f"{text(name)}::regclass"
        keys = self.rows(
            "SELECT a.attname FROM pg_index i JOIN pg_attribute a ON a.attrelid = i.indrelid "
            f"AND a.attnum = ANY(i.indkey) WHERE i.indrelid = {oid} AND i.indisprimary"
        )
        if len(keys) != 1:
            raise SurveyError(
                f"{self.where}: it has {len(keys)} key columns; expected a table with a primary "
                "key of one column."
            )
        columns = self.rows(
            "SELECT attname FROM pg_attribute WHERE attnum > 0 AND NOT attisdropped "
            f"AND attgenerated = '' AND attrelid = {oid} ORDER BY attnum"
        )
        unique = self.rows(
            "SELECT a.attname FROM pg_index i JOIN pg_attribute a ON a.attrelid = i.indrelid "
            f"AND a.attnum = i.indkey[0] WHERE i.indrelid = {oid} AND i.indisunique "
            "AND i.indnkeyatts = 1"
        )
        ((srid,),) = self.rows(
            "SELECT srid::text FROM geometry_columns WHERE f_table_schema = "
            f"{text(self.schema)} AND f_table_name = {text(table)} "
            f"AND f_geometry_column = {text(geometry)}"
        ) or [("0",)]
        references = self.rows(
            "SELECT c.conrelid::regclass::text, a.attname, b.attname, c.confdeltype::text "
            "FROM pg_constraint c JOIN pg_attribute a ON a.attrelid = c.conrelid "
            "AND a.attnum = c.conkey[1] JOIN pg_attribute b ON b.attrelid = c.confrelid "
            f"AND b.attnum = c.confkey[1] WHERE c.contype = 'f' AND c.confrelid = {oid} "
            "AND c.confdeltype IN ('c', 'n', 'd')"
        )
        words = {"c": "CASCADE", "n": "SET NULL", "d": "SET DEFAULT"}
        return TableInfo(
            name,
            table,
            str(keys[0][0]),
            geometry,
            int(str(srid)),
            tuple(str(column) for (column,) in columns),
            tuple({str(column) for (column,) in (*keys, *unique)}),
            tuple(Reference(str(t), str(c), str(to), words[str(r)]) for t, c, to, r in references),
        )

    def begin(self, ids: Sequence[str], id_column: str) -> None:
        self.run("BEGIN ISOLATION LEVEL READ COMMITTED")
        if ids:
            listed = ", ".join(text(one) for one in ids)
            try:
                self.run(
                    f"SELECT 1 FROM {self.info.name} "
                    f"WHERE {self.text_of(id_column)} IN ({listed}) FOR UPDATE NOWAIT"
                )
            except SurveyError:
                self.rollback()
                raise

    def commit(self) -> None:
        try:
            self.cursor.execute("COMMIT")
        except (psycopg2.OperationalError, psycopg2.InterfaceError) as error:
            raise CommitUnknown(
                f"{self.where}: the connection was lost at the commit, so that the layer is either "
                "as before or updated as a whole; look which, and keep the undo file if it is."
            ) from error
        except psycopg2.Error as error:
            raise self._refused(error) from error

    def rollback(self) -> None:
        try:
            self.cursor.execute("ROLLBACK")
        except psycopg2.Error:
            # Without a server there is no transaction either: it ended with the connection.
            self.data.close()

    def close(self) -> None:
        self.data.close()

    def literal_of(self, column: str) -> str:
        return f"quote_nullable({quoted(column)}::text)"

    def is_literal(self, value: object) -> bool:
        return isinstance(value, str) and LITERAL.fullmatch(value) is not None

    def literal(self, value: str) -> str:
        return text(value)

    def same(self, column: str, literal: str) -> str:
        return f"{quoted(column)}::text IS NOT DISTINCT FROM {literal}"

    def key_condition(self, literal: str) -> str:
        return f"{quoted(self.info.key)} = {literal}"

    def geometry_literal(self, wkb: bytes) -> str:
        shape = shapely.set_srid(shapely.from_wkb(wkb), self.info.srid)
        return f"'{shapely.to_wkb(shape, hex=True, include_srid=True, output_dimension=3)}'"

    def insert(self, sql: str) -> str:
        ((key,),) = self.rows(f"{sql} RETURNING {self.literal_of(self.info.key)}")
        return str(key)

    @property
    def history(self) -> str:
        return f"{quoted(self.schema)}.{quoted(self.info.plain + '_history')}"

    def make_history(self, name: str) -> None:
        before = quoted(f"{self.info.key}_before")
        kind = self.rows(
            "SELECT format_type(atttypid, atttypmod) FROM pg_attribute WHERE attrelid = "
            f"{text(self.info.name)}::regclass AND attname = {text(self.info.key)}"
        )
        columns = ", ".join(quoted(c) for c in self.info.columns if c != self.info.key)
        there = self.rows(f"SELECT to_regclass({text(self.history)})::text")
        if there != [(None,)]:
            return
        self.run(
            f"CREATE TABLE {self.history} AS SELECT {columns} FROM {self.info.name} WHERE false"
        )
        self.run(
            f"ALTER TABLE {self.history} ADD COLUMN history_id bigserial PRIMARY KEY, "
            f"ADD COLUMN {before} {kind[0][0]}, ADD COLUMN superseded_on text, "
            "ADD COLUMN superseded_by text"
        )
