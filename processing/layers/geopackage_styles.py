# SPDX-License-Identifier: GPL-2.0-or-later
"""The default styles that a GeoPackage keeps for its layers: which of them a person has edited."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping
from contextlib import closing
from hashlib import sha256
from pathlib import Path

from ..errors import SurveyError


def style_digests(path: Path) -> dict[str, str]:
    """The SHA-256 of the default style of each layer that has one."""
    rows = _run(path, "SELECT f_table_name, styleQML FROM layer_styles WHERE useAsDefault")
    return {str(name): sha256(str(qml).encode()).hexdigest() for name, qml in rows}


def edited_styles(path: Path, noted: Mapping[str, str]) -> set[str]:
    """The layers whose default style is another than was noted when it was made."""
    return {name for name, digest in style_digests(path).items() if noted.get(name) != digest}


def drop_styles(path: Path, layers: Collection[str]) -> None:
    """Take away all default styles but those of these layers."""
    for name in sorted(set(style_digests(path)) - set(layers)):
        _run(path, "DELETE FROM layer_styles WHERE useAsDefault AND f_table_name = ?", name)


def _run(path: Path, statement: str, *values: str) -> list[tuple]:
    try:
        with closing(sqlite3.connect(path)) as database:
            there = "SELECT 1 FROM sqlite_master WHERE name = 'layer_styles'"
            if not database.execute(there).fetchall():
                return []
            rows = database.execute(statement, values).fetchall()
            database.commit()
            return rows
    except sqlite3.Error as error:
        raise SurveyError(f"{path.name}, table layer_styles: {error}.") from error
