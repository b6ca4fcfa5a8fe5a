#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""What two runs made of the same captures, compared: the reports' JSON and the plans' GeoPackages.

    same_results.py FOLDER OTHER      plan.json and plan.gpkg of two hosts; prints what differs

Two hosts bring different releases of the libraries that compute: coordinates in the plan agree to
1e-6 m and those in the target CRS to 1e-5 m, words and whole numbers agree, versions and times do
not count. On one host (`exact`) every number agrees to its last bit.
"""

from __future__ import annotations

import json
import re
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import shapely

PLAN_M, GRID_M = 1e-6, 1e-5
RELATIVE = 1e-6
"""Of what is no coordinate: sigmas, areas, statistics. Far below the digits that anyone reads."""
STYLES = frozenset({"styleQML", "styleSLD"})
"""XML for which the host draws keys of rules and the order of attributes anew each time, so that it
is never twice the same; nor are the digests of it among the notes of the survey."""
TIMES = frozenset({"last_change", "update_time"})
HOSTS_OWN = frozenset({"gpkg_spatial_ref_sys", "gpkg_extensions", "layer_styles"})
"""Tables whose words are the host's and its libraries': compared on one host only."""
LIBRARIES_WORDS = frozenset({"site_grid_crs", "datum"})
"""What PROJ says of a CRS, which each release words in its own way."""
COORDINATES = frozenset({"x", "y", "x_m", "y_m"})
GRID = re.compile(r"(^|_)(east|north)_m$|^(min|max)_[xy]$")


def report_differences(one: Path, other: Path, exact: bool = False) -> list[str]:
    """What differs between two reports, each as a path into the JSON with both values."""
    first, second = (json.loads(path.read_text(encoding="utf-8")) for path in (one, other))
    if not exact:
        del first["versions"], second["versions"]
    return list(_apart(first, second, "", exact))


def plan_differences(one: Path, other: Path, exact: bool = False) -> list[str]:
    """What differs between the rows of two plans, each with its table, row and column."""
    with closing(_read_only(one)) as first, closing(_read_only(other)) as second:
        names = _tables(first)
        if names != _tables(second):
            return [f"tables {names} and {_tables(second)}"]
        return [
            said
            for name in names
            if exact or name not in HOSTS_OWN
            for said in _rows_apart(first, second, name, exact)
        ]


def _read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)


def _tables(database: sqlite3.Connection) -> list[str]:
    # Indexes and the host's own book-keeping follow from the rows.
    rows = database.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'rtree_%' "
        "AND name NOT LIKE 'sqlite_%' ORDER BY name"
    )
    return [name for (name,) in rows]


def _rows_apart(
    first: sqlite3.Connection, second: sqlite3.Connection, table: str, exact: bool
) -> Iterator[str]:
    columns = [row[1] for row in first.execute(f'PRAGMA table_info("{table}")')]
    others = [row[1] for row in second.execute(f'PRAGMA table_info("{table}")')]
    if columns != others:
        yield f"{table}: columns {columns} and {others}"
        return
    kept = [name for name in columns if name not in TIMES | STYLES]
    listed = ", ".join(f'"{name}"' for name in kept)
    noted = "WHERE kind <> 'style'" if table == "survey_notes" else ""
    rows, other_rows = (
        database.execute(f'SELECT {listed} FROM "{table}" {noted} ORDER BY rowid').fetchall()
        for database in (first, second)
    )
    if len(rows) != len(other_rows):
        yield f"{table}: {len(rows)} and {len(other_rows)} rows"
        return
    for number, (row, other) in enumerate(zip(rows, other_rows), start=1):
        for name, a, b in zip(kept, row, other):
            if not _same(a, b, name, exact):
                yield f"{table} row {number}, {name}: {_short(a)} and {_short(b)}"


def _same(a: Any, b: Any, name: str, exact: bool) -> bool:
    if type(a) is not type(b):
        return False
    if exact or a == b:
        return bool(a == b)
    if isinstance(a, bytes):
        p, q = _coordinates(a), _coordinates(b)
        return p.shape == q.shape and bool(np.allclose(p, q, rtol=0.0, atol=GRID_M))
    if isinstance(a, float):
        return _near(a, b, name)
    if isinstance(a, str) and a[:1] in '[{"' and b[:1] in '[{"':
        return not list(_apart(json.loads(a), json.loads(b), name, exact))
    return False


def _coordinates(blob: bytes) -> np.ndarray:
    """Of a GeoPackage's geometry (OGC 12-128r18, 2.1.3): past its header stands WKB."""
    envelope = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}[(blob[3] >> 1) & 7]
    return shapely.get_coordinates(shapely.from_wkb(blob[8 + envelope :]))


def _near(a: float, b: float, name: str) -> bool:
    if name in COORDINATES:
        return abs(a - b) <= PLAN_M
    if GRID.search(name):
        return abs(a - b) <= GRID_M
    least = 1e3 * PLAN_M if name.endswith("_mm") else PLAN_M
    return abs(a - b) <= least + RELATIVE * abs(b)


def _apart(a: Any, b: Any, at: str, exact: bool) -> Iterator[str]:
    name = at.rsplit("/", 1)[-1]
    if not exact and name in LIBRARIES_WORDS:
        return
    if isinstance(a, dict) and isinstance(b, dict):
        for key in sorted({*a, *b}):
            if key in a and key in b:
                yield from _apart(a[key], b[key], f"{at}/{key}", exact)
            else:
                yield f"{at}/{key}: only in one"
    elif isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        for number, (x, y) in enumerate(zip(a, b)):
            # A list is named by what it holds.
            for said in _apart(x, y, at, exact):
                yield f"[{number}] {said}"
    elif not _same(a, b, name, exact):
        yield f"{at}: {_short(a)} and {_short(b)}"


def _short(value: Any) -> str:
    shown = value.hex() if isinstance(value, bytes) else repr(value)
    return shown if len(shown) <= 160 else f"{shown[:160]}…"


def main(one: str, other: str) -> int:
    """Compares two hosts' results, says what differs and returns the exit status."""
    first, second = Path(one), Path(other)
    found = report_differences(first / "plan.json", second / "plan.json")
    found += plan_differences(first / "plan.gpkg", second / "plan.gpkg")
    for said in found[:50]:
        print(said)
    print(f"{len(found)} differences" if found else "the same: report and plan")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
