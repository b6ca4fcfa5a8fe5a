# SPDX-License-Identifier: GPL-2.0-or-later
"""What every database offers here: one transaction, and values as literals of its own SQL.

A value read as a literal goes back exactly as it was, whatever its type: nothing of a row passes
through types of the host, which know fewer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from ...errors import SurveyError


class CommitUnknown(SurveyError):
    """The connection was lost while the commit was under way: it may have come through."""


@dataclass(frozen=True)
class Reference:
    """A foreign key of another table that reacts when a row goes: it takes its own rows along, or
    lets go of them (`reaction`)."""

    table: str
    column: str
    to: str
    reaction: str


@dataclass(frozen=True)
class TableInfo:
    """A table as the database describes it. `own` are columns that the database fills or wants
    unique, `name` is quoted."""

    name: str
    plain: str
    key: str
    geometry: str
    srid: int
    columns: tuple[str, ...]
    own: tuple[str, ...]
    references: tuple[Reference, ...]


class Session:
    """A connection of its own to the layer's database."""

    kind = ""
    where = ""
    info: TableInfo

    def begin(self, ids: Sequence[str], id_column: str) -> None:
        """Start the transaction and keep others from writing rows of these identifiers."""
        raise NotImplementedError

    def run(self, sql: str) -> int:
        """Execute one statement; the number of rows it changed."""
        raise NotImplementedError

    def rows(self, sql: str) -> list[tuple[str | None, ...]]:
        """The rows of a query whose columns are texts."""
        raise NotImplementedError

    def commit(self) -> None:
        raise NotImplementedError

    def rollback(self) -> None:
        raise NotImplementedError

    def close(self) -> None:
        raise NotImplementedError

    def literal_of(self, column: str) -> str:
        """The expression that gives a column's value as a literal."""
        raise NotImplementedError

    def is_literal(self, value: object) -> bool:
        """Whether a text from a file is one literal and nothing else."""
        raise NotImplementedError

    def same(self, column: str, literal: str) -> str:
        """The condition that a column holds this value, NULL included."""
        raise NotImplementedError

    def geometry_literal(self, wkb: bytes) -> str:
        raise NotImplementedError

    def literal(self, value: str) -> str:
        """A text as a literal."""
        raise NotImplementedError

    def text_of(self, column: str) -> str:
        """The expression that gives a column's value as text."""
        return f"CAST({quoted(column)} AS TEXT)"

    def insert(self, sql: str) -> str:
        """Execute an INSERT of one row; the literal of its key."""
        raise NotImplementedError

    def make_history(self, name: str) -> None:
        """Make the history table unless it is there."""
        raise NotImplementedError

    def written(self) -> None:
        """What the format wants to be noted after a change."""

    @property
    def history(self) -> str:
        """The quoted name of the history table."""
        raise NotImplementedError

    def key_condition(self, literal: str) -> str:
        return f"{quoted(self.info.key)} = {literal}"

    def read_row(self, key: str, columns: Iterable[str]) -> dict[str, str]:
        """A row's values as literals; SurveyError when it is gone."""
        names = [*columns]
        found = self.rows(
            f"SELECT {', '.join(self.literal_of(name) for name in names)} "
            f"FROM {self.info.name} WHERE {self.key_condition(key)}"
        )
        if len(found) != 1:
            raise SurveyError(f"{self.where}: the row {key} is there no more; expected it.")
        return {name: str(value) for name, value in zip(names, found[0])}

    @contextmanager
    def transaction(self, ids: Sequence[str], id_column: str) -> Iterator[None]:
        """All that the block does, or nothing of it."""
        self.begin(ids, id_column)
        try:
            yield
        except BaseException:
            self.rollback()
            raise
        self.commit()


def quoted(name: str) -> str:
    """A name in SQL."""
    return '"' + name.replace('"', '""') + '"'


def as_id(text: str | None) -> str:
    """An identifier as text; 12.0 is 12, however the database writes it."""
    if text is None:
        return ""
    whole, _, rest = text.partition(".")
    return whole if rest and not rest.strip("0") and whole.lstrip("-").isdigit() else text
