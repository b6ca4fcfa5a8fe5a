# SPDX-License-Identifier: GPL-2.0-or-later
"""The row of column names over a capture's readings, and the units that it may state.

A unit stands behind the name as ``angle [gon]``, ``angle (gon)`` or ``angle/gon`` (the quantity
divided by its unit, SI Brochure, 5.4.1), or as the ending of a field name, ``angle_gon``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType

from .cells import SEPARATORS, split
from .findings import Findings, Rules, shown
from .header import KEYS, Header
from .table import REQUIRED
from .units import FULL_TURN, METRES

_NAME = "angle|distance|zenith|intensity"
_IN_BRACKETS = re.compile(rf"({_NAME})\s*(?:\[([^][]*)\]|\(([^()]*)\)|/([^/]*))")
_ENDING = re.compile(rf"({_NAME})_({'|'.join([*FULL_TURN, *METRES])})")
_LONGEST = 60
_SIGNS = MappingProxyType({"°": "deg", "degrees": "deg", "degree": "deg", "radians": "rad"})

ANGLE_UNIT = "angle_unit"
DISTANCE_UNIT = "distance_unit"
_KEY_OF = MappingProxyType({"angle": ANGLE_UNIT, "zenith": ANGLE_UNIT, "distance": DISTANCE_UNIT})
_ALLOWED = MappingProxyType({ANGLE_UNIT: FULL_TURN, DISTANCE_UNIT: METRES})


@dataclass(frozen=True)
class Column:
    """A column's lower-case name without its unit, the unit (empty where it states none), and the
    cell as it is written."""

    name: str
    unit: str
    written: str


@dataclass(frozen=True)
class Columns:
    """A row of column names and what separates them."""

    separator: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> list[str]:
        return [column.name for column in self.columns]

    def stated(self, name: str) -> Column | None:
        """The column of a name, if it states a unit."""
        return next((c for c in self.columns if c.name == name and c.unit), None)


def column_of(cell: str) -> Column:
    """A column from its cell.

    >>> column_of("Angle [gon]")
    Column(name='angle', unit='gon', written='Angle [gon]')
    """
    written = " ".join(cell.split())
    name = written.lower()
    match = None
    if len(name) <= _LONGEST:
        match = _IN_BRACKETS.fullmatch(name) or _ENDING.fullmatch(name)
    if match is None:
        return Column(name, "", written)
    unit = next((part.strip() for part in match.groups()[1:] if part is not None), "")
    return Column(match[1], _SIGNS.get(unit, unit), written)


def column_names(line: str) -> Columns | None:
    """The columns, when a line is a row of column names (it names the angle and the distance);
    None otherwise."""
    lower = line.lower()
    if not all(name in lower for name in REQUIRED):
        return None
    for separator in SEPARATORS:
        columns = Columns(separator, tuple(map(column_of, split([line], separator)[0])))
        if all(name in columns.names for name in REQUIRED):
            return columns
    return None


def unit_of(
    name: str,
    columns: Columns,
    header: Header,
    rules: Rules,
    findings: Findings,
    *,
    header_line: int,
    column_line: int,
) -> str | None:
    """The unit of the column ``angle``, ``distance`` or ``zenith``: the user's word first, then the
    column's, then the header's.

    None, and a finding at its line, when nobody says it or when column and header differ.
    """
    key = _KEY_OF[name]
    column, given, stated = columns.stated(name), getattr(rules, key), header.values.get(key)
    if column is None:
        return header.choice(key, rules, findings, header_line)
    if given is not None:
        if column.unit != given:
            findings.warn(
                f"the column {shown(column.written)} states a unit; {given} was asked for and "
                "used.",
                column_line,
            )
        return header.choice(key, rules, findings, header_line)
    if column.unit not in _ALLOWED[key]:
        findings.bad(
            f"the column {shown(column.written)} states a unit that is not known; expected "
            f"{KEYS[key].expected}.",
            column_line,
        )
        return None
    if stated not in (None, column.unit):
        findings.bad(
            f"the column {shown(column.written)} is in {column.unit}, but the key {key} says "
            f"{stated}; expected one unit.",
            column_line,
        )
        return None
    return column.unit
