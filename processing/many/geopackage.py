# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows of a plan's GeoPackage without the host (OGC 12-128r19, GeoPackage Encoding Standard)."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..databases import address_to_read
from ..errors import SurveyError
from ..layers.maintained.session import quoted
from ..layers.schema import BOOLEAN, LayerSchema

MAGIC = b"GP"
ENVELOPE_BYTES = (0, 32, 48, 48, 64)
"""Sizes of the envelope by its code (2.1.3, table 5)."""


@dataclass(frozen=True)
class Rows:
    """A layer: for each feature the values of the schema's fields and the geometry as WKB (None:
    none), and the EPSG code of its reference system."""

    epsg: int
    values: list[tuple[Any, ...]]
    wkb: list[bytes | None]


def read_rows(path: Path, schemas: Sequence[LayerSchema]) -> list[Rows]:
    """The layers of a plan. SurveyError when the file is none, or lies in no system that has an
    EPSG code: rows of several buildings go into one table, where each must lie right."""
    try:
        with closing(sqlite3.connect(address_to_read(path), uri=True)) as database:
            return [_layer(database, path, schema) for schema in schemas]
    except sqlite3.Error as error:
        raise SurveyError(f"{path}: could not be read ({error}); expected a plan.") from error


def _layer(database: sqlite3.Connection, path: Path, schema: LayerSchema) -> Rows:
    where = f"{path}, layer {schema.name}"
    described = database.execute(
        "SELECT g.column_name, s.organization, s.organization_coordsys_id FROM "
        "gpkg_geometry_columns g JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id "
        "WHERE g.table_name = ?",
        (schema.name,),
    ).fetchone()
    if described is None:
        raise SurveyError(f"{where}: it is not there; expected a plan with it.")
    column, organization, code = described
    if str(organization).upper() != "EPSG":
        raise SurveyError(
            f"{where}: it lies in no system with an EPSG code; expected a georeferenced plan, "
            "moved to a target CRS."
        )
    there = {row[1] for row in database.execute(f"PRAGMA table_info({quoted(schema.name)})")}
    names = [quoted(name) if name in there else "NULL" for name in schema.field_names]
    found = database.execute(
        f"SELECT {', '.join([quoted(column), *names])} FROM {quoted(schema.name)} ORDER BY fid"  # noqa: S608 - names of the schema, quoted
    ).fetchall()
    boolean = [kind == BOOLEAN for _, kind in schema.fields]
    return Rows(
        int(code),
        [
            tuple(
                bool(value) if is_boolean and value is not None else value
                for is_boolean, value in zip(boolean, row[1:])
            )
            for row in found
        ],
        [_wkb(row[0], where) for row in found],
    )


def _wkb(blob: bytes | None, where: str) -> bytes | None:
    """The WKB in a GeoPackage geometry (2.1.3); None for a missing or empty one."""
    if blob is None:
        return None
    if blob[:2] != MAGIC:
        raise SurveyError(f"{where}: a geometry is none of a GeoPackage.")
    flags = blob[3]
    if flags & 0b10000:
        return None
    envelope = (flags >> 1) & 0b111
    if envelope >= len(ENVELOPE_BYTES):
        raise SurveyError(f"{where}: a geometry has an envelope of no known kind.")
    return blob[8 + ENVELOPE_BYTES[envelope] :]
