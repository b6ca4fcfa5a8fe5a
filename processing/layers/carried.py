# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person added to the layers of a plan, carried on to those of the plan that grew from it:
fields of their own, and roles of targets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..stations.model import Status
from . import schema
from .table import Table

KEYS: Mapping[str, tuple[str, ...]] = {
    schema.ROOMS.name: ("room", "plot_scale"),
    schema.WALL_FACES.name: ("wall", "plot_scale"),
    schema.OPENINGS.name: ("opening", "plot_scale"),
    schema.STATIONS.name: ("station",),
    schema.READINGS.name: ("station", "seq"),
    schema.TARGETS.name: ("target",),
    schema.TIES.name: ("tie",),
}
"""What a feature is known by. At a plot scale that the earlier plan has not, the first field tells,
as the finest scale has it."""

SAME_DEG = 1e-9
OWN_ROLES = ("tie", "control", None, "")


def carried(
    tables: Sequence[Table], earlier: Mapping[str, Table], was: Mapping[str, str]
) -> list[Table]:
    """The tables with a person's fields and roles from the earlier plan's, feature by feature;
    empty for new features. ``was`` tells what a station that has another name now was called; the
    station of that name now is a new one."""
    made = []
    for table in tables:
        before = earlier.get(table.schema.name)
        if before is not None and table.schema.name in KEYS:
            table = _held(_roles(_with_fields(table, before, was), before), before)
        made.append(table)
    return made


def added_fields(table: Table) -> tuple[tuple[str, str], ...]:
    """The fields (name, type) of an earlier layer that no version of the schema has."""
    known = next((one for one in schema.PLAN_LAYERS if one.name == table.schema.name), None)
    own = {name.casefold() for name in known.field_names} if known else set()
    return tuple(field for field in table.schema.fields if field[0].casefold() not in own)


def _with_fields(table: Table, earlier: Table, was: Mapping[str, str]) -> Table:
    fields = added_fields(earlier)
    if not fields:
        return table
    key = KEYS[table.schema.name]
    rows = _rows_by_key(earlier, key)
    names = [table.column(name) for name in key]
    taken = set(was.values())

    def row_of(values: tuple[Any, ...]) -> int | None:
        if key[0] == "station":
            if values[0] in taken:
                return None
            values = (was.get(values[0], values[0]), *values[1:])
        found = rows.get(values)
        return found if found is not None or len(key) == 1 else rows.get(values[:1])

    at = [row_of(values) for values in zip(*names)]
    columns = []
    for name, _ in fields:
        values = earlier.column(name)
        columns.append([None if row is None else values[row] for row in at])
    own = replace(table.schema, fields=(*table.schema.fields, *fields))
    return replace(table, schema=own, columns=(*table.columns, *columns))


def _rows_by_key(table: Table, key: tuple[str, ...]) -> dict[tuple[Any, ...], int]:
    """Rows by their whole key, and by its first field the row of the finest plot scale."""
    rows: dict[tuple[Any, ...], int] = {}
    columns = [table.column(name) for name in key]
    order = range(len(table))
    if "plot_scale" in key:
        scale = table.column("plot_scale")
        order = sorted(order, key=lambda row: scale[row] or 0)  # type: ignore[assignment]
    for row in order:
        values = tuple(column[row] for column in columns)
        rows.setdefault(values, row)
        if "plot_scale" in key:
            rows.setdefault(values[:1], row)
    return rows


def _roles(table: Table, earlier: Table) -> Table:
    """Targets keep a role that a person gave."""
    if table.schema.name != schema.TARGETS.name:
        return table
    given = {
        name: role
        for name, role in zip(earlier.column("target"), earlier.column("role"))
        if role not in OWN_ROLES
    }
    at = table.schema.field_names.index("role")
    role = [given.get(name, own) for name, own in zip(table.column("target"), table.columns[at])]
    return replace(table, columns=(*table.columns[:at], role, *table.columns[at + 1 :]))


def _held(table: Table, earlier: Table) -> Table:
    """Held stations keep their orientation as it was written: on its way through radians its last
    digit may change."""
    if table.schema.name != schema.STATIONS.name:
        return table
    before = dict(zip(earlier.column("station"), earlier.column("orientation_deg")))
    at = table.schema.field_names.index("orientation_deg")
    rows = zip(table.column("station"), table.column("status"), table.columns[at])
    kept = [
        before[name]
        if status == Status.HELD.value
        and before.get(name) is not None
        and abs(before[name] - own) < SAME_DEG
        else own
        for name, status, own in rows
    ]
    return replace(table, columns=(*table.columns[:at], kept, *table.columns[at + 1 :]))
