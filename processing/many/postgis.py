# SPDX-License-Identifier: GPL-2.0-or-later
"""Plans of many buildings in one PostGIS schema: a table a layer, with a field `building`.

A building goes in with one transaction, all or nothing. What it has again keeps its row (and the
row's number), told by the identifiers of the plan; what it has no more goes; columns that others
added stay. Loading the same again changes nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from ..errors import SurveyError
from ..layers import schema
from ..layers.maintained.session import quoted
from ..layers.schema import BOOLEAN, INTEGER, LONG, REAL, TEXT, LayerSchema
from .geopackage import Rows, read_rows

IDENTIFIERS = {
    schema.ROOMS: ("room", "plot_scale"),
    schema.WALL_FACES: ("wall", "plot_scale"),
    schema.OPENINGS: ("opening", "plot_scale"),
    schema.STATIONS: ("station",),
}
TYPES = {
    TEXT: "text",
    INTEGER: "integer",
    LONG: "bigint",
    REAL: "double precision",
    BOOLEAN: "boolean",
}
BUILDINGS = "buildings"
LOCK_SPACE = 20_094
"""The first of two numbers of PostgreSQL's advisory locks, so that others' are not met."""


class Database:
    """A schema of a database, by a connection string of libpq. SurveyError where it cannot be had.

    Each `load` has a connection of its own: several threads and processes may load at once.
    """

    def __init__(self, connection: str, schema_name: str) -> None:
        self.connection = connection
        self.name = schema_name
        self.where = f"PostGIS, schema {schema_name}"
        self._made = False
        self._known: dict[str, str] | None = None
        self._asking = threading.Lock()

    def keys(self) -> dict[str, str]:
        """What each building in the tables was made of."""
        with self._transaction() as cursor:
            if not self._there(cursor, "SELECT to_regclass(%s)", self._table(BUILDINGS)):
                return {}
            cursor.execute(f"SELECT building, key FROM {self._table(BUILDINGS)}")  # noqa: S608
            return dict(cursor.fetchall())

    def load(self, building: str, key: str, plan: Path) -> bool:
        """Put a building's plan into the tables; whether there was anything to do. `key` tells what
        the plan was made of: the same one is not loaded twice.

        SurveyError when the plan does not fit (another reference system than the tables have), the
        database refuses a row or cannot be reached; the tables are then as before.
        """
        with self._asking:
            if self._known is None:  # one question for a whole tree, most of which is there
                self._known = self.keys()
        if self._known.get(building) == key:
            return False
        layers = dict(zip(IDENTIFIERS, read_rows(plan, [*IDENTIFIERS])))
        epsg = next(iter(layers.values())).epsg
        # Apart, so that nobody waits for the rows of another building to get to the tables.
        with self._transaction() as cursor:
            self._alone(cursor, "")
            if not self._made:
                self._make_tables(cursor, epsg)
            self._check_system(cursor, epsg)
        self._made = True
        with self._transaction() as cursor:
            self._alone(cursor, building)
            cursor.execute(
                f"SELECT key FROM {self._table(BUILDINGS)} WHERE building = %s",  # noqa: S608
                (building,),
            )
            if cursor.fetchone() == (key,):
                return False
            cursor.execute(
                f"INSERT INTO {self._table(BUILDINGS)} (building, key, loaded_at) "  # noqa: S608
                "VALUES (%s, %s, now()) ON CONFLICT (building) DO UPDATE SET "
                "key = EXCLUDED.key, loaded_at = now()",
                (building, key),
            )
            for layer, rows in layers.items():
                self._load(cursor, building, layer, rows)
        self._known[building] = key
        return True

    @contextmanager
    def _transaction(self) -> Iterator[Any]:
        try:
            import psycopg2
        except ImportError as error:
            raise SurveyError(
                "This Python lacks psycopg2, by which PostGIS is written; expected it (Debian: apt "
                "install python3-psycopg2, and /usr/bin/python3)."
            ) from error
        try:
            with closing(psycopg2.connect(self.connection)) as link, link, link.cursor() as cursor:
                yield cursor
        except psycopg2.Error as error:
            said = " ".join(str(error).split()) or "no reason was given"
            raise SurveyError(f"{self.where}: the database refused: {said}.") from error

    def _alone(self, cursor: Any, what: str) -> None:
        """Wait until nobody else loads this building, or (empty) makes tables; the end of the
        transaction lets the next one in."""
        cursor.execute(
            "SELECT pg_advisory_xact_lock(%s, hashtext(%s))", (LOCK_SPACE, f"{self.name}\t{what}")
        )

    def _there(self, cursor: Any, sql: str, *values: Any) -> bool:
        cursor.execute(sql, values)
        return bool(cursor.fetchone()[0])

    def _table(self, name: str) -> str:
        return f"{quoted(self.name)}.{quoted(name)}"

    def _make_tables(self, cursor: Any, epsg: int) -> None:
        """Make what is missing; columns too, which a later version of the plugin may have."""
        if not self._there(cursor, "SELECT to_regnamespace(%s)", quoted(self.name)):
            cursor.execute(f"CREATE SCHEMA {quoted(self.name)}")
        cursor.execute(
            f"CREATE TABLE IF NOT EXISTS {self._table(BUILDINGS)} "
            "(building text PRIMARY KEY, key text NOT NULL, loaded_at timestamptz NOT NULL)"
        )
        for layer, identifiers in IDENTIFIERS.items():
            if not self._there(cursor, "SELECT to_regclass(%s)", self._table(layer.name)):
                columns = ", ".join(f"{quoted(n)} {TYPES[kind]}" for n, kind in layer.fields)
                unique = ", ".join(map(quoted, ("building", *identifiers)))
                cursor.execute(
                    f"CREATE TABLE {self._table(layer.name)} "
                    "(gid bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, "
                    f"building text NOT NULL REFERENCES {self._table(BUILDINGS)} ON DELETE CASCADE,"
                    f" {columns}, geom geometry({layer.geometry}, {int(epsg)}), UNIQUE ({unique}))"
                )
                cursor.execute(f"CREATE INDEX ON {self._table(layer.name)} USING gist (geom)")
                continue
            cursor.execute(
                "SELECT column_name FROM information_schema.columns "
                "WHERE table_schema = %s AND table_name = %s",
                (self.name, layer.name),
            )
            there = {name for (name,) in cursor.fetchall()}
            for name, kind in layer.fields:
                if name not in there:
                    cursor.execute(
                        f"ALTER TABLE {self._table(layer.name)} "
                        f"ADD COLUMN {quoted(name)} {TYPES[kind]}"
                    )

    def _check_system(self, cursor: Any, epsg: int) -> None:
        """SurveyError when the tables lie in another system than a plan."""
        cursor.execute("SELECT Find_SRID(%s, %s, 'geom')", (self.name, schema.ROOMS.name))
        (found,) = cursor.fetchone()
        if found != epsg:
            raise SurveyError(
                f"{self.where}: its tables lie in EPSG:{found}, the plan in EPSG:{epsg}; expected "
                f"one system for all, such as TARGET_CRS=EPSG:{found}."
            )

    def _load(self, cursor: Any, building: str, layer: LayerSchema, rows: Rows) -> None:
        from psycopg2.extras import execute_values

        identifiers = IDENTIFIERS[layer]
        names = ["building", *layer.field_names, "geom"]
        target = ", ".join(map(quoted, ("building", *identifiers)))
        kept = ", ".join(
            f"{quoted(n)} = EXCLUDED.{quoted(n)}"
            for n in names
            if n != "building" and n not in identifiers
        )
        values = ", ".join(["%s"] * (len(names) - 1))
        written: list[tuple[Any, ...]] = execute_values(
            cursor,
            f"INSERT INTO {self._table(layer.name)} ({', '.join(map(quoted, names))}) "  # noqa: S608
            f"VALUES %s ON CONFLICT ({target}) DO UPDATE SET {kept} RETURNING gid",
            [
                (building, *row, None if wkb is None else memoryview(wkb))
                for row, wkb in zip(rows.values, rows.wkb)
            ],
            template=f"({values}, ST_SetSRID(ST_GeomFromWKB(%s), {int(rows.epsg)}))",
            page_size=1000,
            fetch=True,
        )
        cursor.execute(
            f"DELETE FROM {self._table(layer.name)} "  # noqa: S608
            "WHERE building = %s AND NOT gid = ANY(%s)",
            (building, [gid for (gid,) in written]),
        )
