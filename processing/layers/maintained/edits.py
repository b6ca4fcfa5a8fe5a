# SPDX-License-Identifier: GPL-2.0-or-later
"""Edits of a maintained table, their inverse, and the file that keeps it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...errors import SurveyError
from ...progress import SILENT, Progress
from .session import Session, as_id, quoted

SCHEMA, VERSION = "roomtie-undo", 1
SET, DELETE, INSERT, FORGET = "set", "delete", "insert", "forget"
LARGEST = 500_000_000


@dataclass(frozen=True)
class Edit:
    """One change of a room: `do` is ``replace`` (a new outline), ``insert`` or ``supersede``. `id`
    is the identifier (empty: the database gives one), `wkb` the new outline, `like` the room whose
    attributes an inserted one takes, `values` columns to write with them."""

    do: str
    id: str
    wkb: bytes | None
    values: Mapping[str, str | None]
    like: str = ""


@dataclass(frozen=True)
class Rules:
    """How a room ends: with a date in the column `valid_to`, else by a copy in a history table.
    `on` is the date, `id_column` holds the identifiers, `update` names the update."""

    id_column: str
    on: str
    update: str
    valid_to: str = ""


class Editor:
    """Makes edits within a session's transaction, and notes the steps back."""

    def __init__(self, session: Session, rules: Rules) -> None:
        self.session, self.rules = session, rules
        self.steps: list[dict[str, Any]] = []
        for column in (rules.id_column, *([rules.valid_to] if rules.valid_to else [])):
            self._column(column)
        self.keys: dict[str, list[str]] = {}
        info = session.info
        for key, own in session.rows(
            f"SELECT {session.literal_of(info.key)}, {session.text_of(rules.id_column)} "
            f"FROM {info.name}"
        ):
            self.keys.setdefault(as_id(own), []).append(str(key))

    def make(self, edits: Sequence[Edit], progress: Progress = SILENT) -> None:
        """All edits: first rooms that end, which may free what new ones take."""
        order = sorted(edits, key=lambda e: ("supersede", "replace", "insert").index(e.do))
        for edit in progress.over(order):
            {"supersede": self._end, "replace": self._replace, "insert": self._insert}[edit.do](
                edit
            )
        self.session.written()
        for step in self.steps:  # as triggers left them
            if step["do"] in (SET, DELETE):
                names = step["after"]
                step["after"] = self.session.read_row(step["key"], names)

    def _column(self, name: str) -> str:
        if name not in self.session.info.columns:
            raise SurveyError(
                f"{self.session.where}: there is no column {name!r} that can be written; found "
                f"{', '.join(self.session.info.columns)}."
            )
        return name

    def _key(self, own: str) -> str:
        keys = self.keys.get(own, [])
        if len(keys) != 1:
            raise SurveyError(
                f"{self.session.where}: the identifier {own!r} stands there {len(keys)} times; "
                "expected once."
            )
        return keys[0]

    def _set(self, own: str, new: dict[str, str]) -> None:
        """Write literals into a row, if the columns still hold what they held."""
        session, key = self.session, self._key(own)
        before = session.read_row(key, new)
        changed = session.run(
            f"UPDATE {session.info.name} SET "
            + ", ".join(f"{quoted(column)} = {value}" for column, value in new.items())
            + f" WHERE {session.key_condition(key)} AND "
            + " AND ".join(session.same(column, value) for column, value in before.items())
        )
        self._one(changed, own)
        self.steps.append({"do": SET, "id": own, "key": key, "before": before, "after": new})

    def _one(self, changed: int, own: str) -> None:
        if changed != 1:
            raise SurveyError(
                f"{self.session.where}, room {own}: the row changed meanwhile, or a trigger "
                "refused; nothing was changed."
            )

    def _values(self, edit: Edit) -> dict[str, str]:
        return {
            self._column(name): "NULL" if value is None else self.session.literal(value)
            for name, value in edit.values.items()
        }

    def _replace(self, edit: Edit) -> None:
        shape = self.session.geometry_literal(edit.wkb or b"")
        self._set(edit.id, {self.session.info.geometry: shape, **self._values(edit)})

    def _insert(self, edit: Edit) -> None:
        session, info = self.session, self.session.info
        if edit.id and self.keys.get(edit.id):
            raise SurveyError(
                f"{session.where}: the new identifier {edit.id!r} is taken; expected one that no "
                "room has."
            )
        given = {info.geometry: session.geometry_literal(edit.wkb or b""), **self._values(edit)}
        if edit.id:
            given[self.rules.id_column] = session.literal(edit.id)
        copied = [
            column
            for column in info.columns
            if edit.like
            and column not in given
            and column not in info.own
            and column != self.rules.id_column
            and column != self.rules.valid_to
        ]
        names = ", ".join(quoted(column) for column in (*given, *copied))
        values = ", ".join((*given.values(), *(quoted(column) for column in copied)))
        source = (
            f"SELECT {values} FROM {info.name} WHERE {session.key_condition(self._key(edit.like))}"
            if edit.like
            else f"VALUES ({values})"
        )
        key = session.insert(f"INSERT INTO {info.name} ({names}) {source}")
        self.keys.setdefault(edit.id, []).append(key)
        after = dict.fromkeys(info.columns, "")
        self.steps.append({"do": DELETE, "id": edit.id, "key": key, "after": after})

    def _end(self, edit: Edit) -> None:
        session, info, rules = self.session, self.session.info, self.rules
        if rules.valid_to:
            self._set(edit.id, {rules.valid_to: session.literal(rules.on), **self._values(edit)})
            return
        key = self._key(edit.id)
        self._keep_references(edit.id, key)
        session.make_history(f"{info.plain}_history")
        whole = session.read_row(key, info.columns)
        rest = ", ".join(quoted(column) for column in info.columns if column != info.key)
        session.run(
            f"INSERT INTO {session.history} ({rest}, {quoted(info.key + '_before')}, "
            f"superseded_on, superseded_by) SELECT {rest}, {quoted(info.key)}, "
            f"{session.literal(rules.on)}, {session.literal(rules.update)} "
            f"FROM {info.name} WHERE {session.key_condition(key)}"
        )
        self.steps.append({"do": FORGET, "id": edit.id, "key": key})
        changed = session.run(
            f"DELETE FROM {info.name} WHERE {session.key_condition(key)} AND "
            + session.same(info.geometry, whole[info.geometry])
        )
        self._one(changed, edit.id)
        self.keys.pop(edit.id)
        self.steps.append({"do": INSERT, "id": edit.id, "before": whole})

    def _keep_references(self, own: str, key: str) -> None:
        """Rows of other tables that would go, or let go, with a room."""
        session, info = self.session, self.session.info
        for reference in info.references:
            table = reference.table if session.kind == "PostGIS" else quoted(reference.table)
            ((count,),) = session.rows(
                f"SELECT CAST(count(*) AS TEXT) FROM {table} WHERE {quoted(reference.column)} IN "
                f"(SELECT {quoted(reference.to)} FROM {info.name} "
                f"WHERE {session.key_condition(key)})"
            )
            if int(str(count)):
                raise SurveyError(
                    f"{session.where}, room {own}: {count} row(s) of {reference.table} hang on it "
                    f"(ON DELETE {reference.reaction}); expected them to hang on another room "
                    "first, or a field of validity dates, which keeps the room."
                )


def undo_text(session: Session, rules: Rules, steps: Sequence[dict[str, Any]]) -> str:
    """The inverse as JSON, last step first."""
    return json.dumps(
        {
            "schema": SCHEMA,
            "version": VERSION,
            "database": session.kind,
            "layer": session.info.plain,
            "id_column": rules.id_column,
            "update": rules.update,
            "steps": [*reversed(steps)],
        },
        ensure_ascii=False,
        indent=1,
    )


def take_back(session: Session, undo: dict[str, Any], progress: Progress = SILENT) -> int:
    """Make the steps of an inverse in the session's transaction; how many. Raises `SurveyError`
    where a row is not as the update left it: then nothing may be taken back."""
    info = session.info
    for step in progress.over(undo["steps"]):
        do, own = step["do"], step["id"]
        if do in (SET, DELETE):
            held = " AND ".join(session.same(c, v) for c, v in step["after"].items())
            where = f"WHERE {session.key_condition(step['key'])} AND {held}"
            if do == DELETE:
                changed = session.run(f"DELETE FROM {info.name} {where}")
            else:
                pairs = ", ".join(f"{quoted(c)} = {v}" for c, v in step["before"].items())
                changed = session.run(f"UPDATE {info.name} SET {pairs} {where}")
        elif do == INSERT:
            names = ", ".join(quoted(c) for c in step["before"])
            changed = session.run(
                f"INSERT INTO {info.name} ({names}) VALUES ({', '.join(step['before'].values())})"
            )
        else:
            changed = session.run(
                f"DELETE FROM {session.history} WHERE superseded_by = "
                f"{session.literal(undo['update'])} "
                f"AND {quoted(info.key + '_before')} = {step['key']}"
            )
        if changed != 1:
            raise SurveyError(
                f"{session.where}, room {own}: it is not as the update left it; nothing was taken "
                "back."
            )
    session.written()
    return len(undo["steps"])


def read_undo(path: Path, session: Session) -> dict[str, Any]:
    """The inverse in a file, checked: every value one literal, every column one of the table's.
    Raises `SurveyError` in one sentence otherwise."""
    try:
        if path.stat().st_size > LARGEST:
            raise SurveyError(f"{path}: larger than {LARGEST} bytes; expected an undo file.")
        undo = json.loads(path.read_text("utf-8"))
    except OSError as error:
        raise SurveyError(f"{path}: the file cannot be read ({error.strerror}).") from error
    except (ValueError, RecursionError) as error:
        raise SurveyError(f"{path}: this is no JSON; expected an undo file.") from error
    if not isinstance(undo, dict) or (undo.get("schema"), undo.get("version")) != (SCHEMA, VERSION):
        raise SurveyError(f"{path}: this is no undo file of version {VERSION}.")
    found = undo.get("database"), undo.get("layer")
    if found != (session.kind, session.info.plain):
        raise SurveyError(
            f"{path}: it undoes an update of {found[0]} layer {found[1]!r}; expected one of "
            f"{session.kind} layer {session.info.plain!r}."
        )
    steps = undo.get("steps")
    if not isinstance(undo.get("update"), str) or not isinstance(steps, list):
        raise SurveyError(f"{path}: it has no steps; expected an undo file.")
    wanted = {
        SET: {"do", "id", "key", "before", "after"},
        DELETE: {"do", "id", "key", "after"},
        INSERT: {"do", "id", "before"},
        FORGET: {"do", "id", "key"},
    }
    for number, step in enumerate(steps, start=1):
        good = isinstance(step, dict) and wanted.get(str(step.get("do"))) == set(step)
        if good:
            values = [step[k] for k in ("key",) if k in step]
            for part in (step[k] for k in ("before", "after") if k in step):
                good = good and isinstance(part, dict) and set(part) <= set(session.info.columns)
                values += [*part.values()] if isinstance(part, dict) else []
            good = good and all(session.is_literal(value) for value in values)
        if not good:
            raise SurveyError(f"{path}, step {number}: it was not written by an update.")
    return undo
