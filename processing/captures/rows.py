# SPDX-License-Identifier: GPL-2.0-or-later
"""The rows under a capture's column names, read column by column.

A column is converted as a whole; only when that fails is it gone through cell by cell, to find
and name what is wrong.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .findings import Findings, shown
from .model import Kind
from .readings import RawReadings
from .units import FULL_TURN, ROUNDING, unit_that_holds, within_full_turn

COLUMNS = ("angle", "distance", "zenith", "kind", "target", "intensity")
REQUIRED = ("angle", "distance")
SEPARATORS = ("\t", ";", ",")
WHITE_SPACE = " "

# Python reads "nan", "inf" and "1_000" as numbers too; a capture's numbers have these signs only.
_NUMBER_SIGNS = frozenset("0123456789+-.eE")
_KINDS = {"": Kind.RING, **{kind.text: kind for kind in Kind}}

Bools = NDArray[np.bool_]


def split(lines: Sequence[str], separator: str) -> list[list[str]]:
    """The cells of lines; quotes as in RFC 4180, within one line. A blank as separator stands for
    any white space, where quotes have no meaning."""
    if separator == WHITE_SPACE:
        return [line.split() for line in lines]
    if any('"' in line for line in lines):
        # One reader a line: an unclosed quote must not swallow the lines that follow.
        return [next(csv.reader([line], delimiter=separator), []) for line in lines]
    return [line.split(separator) for line in lines]


def column_names(line: str) -> tuple[str, list[str]] | None:
    """Separator and lower-case names, when a line is a row of column names (it names the angle
    and the distance); None otherwise."""
    lower = line.lower()
    if not all(name in lower for name in REQUIRED):
        return None
    for separator in SEPARATORS:
        names = [name.strip() for name in split([lower], separator)[0]]
        if all(name in names for name in REQUIRED):
            return separator, names
    return None


class _Faults:
    """The first fault of each row, so that a message comes for the first bad line of the file."""

    def __init__(self, count: int) -> None:
        self.sentence: dict[int, str] = {}
        self.count = count

    def add(self, bad: Bools, sentence: Callable[[int], str]) -> None:
        for row in np.flatnonzero(bad):
            self.sentence.setdefault(int(row), sentence(int(row)))

    def report(self, findings: Findings, line: NDArray[np.int64]) -> Bools:
        """Hand all faults to the findings; which rows ``(n,)`` are good."""
        good = np.ones(self.count, dtype=bool)
        for row in sorted(self.sentence):
            findings.bad(self.sentence[row], int(line[row]))
            good[row] = False
        return good


def _even(rows: list[list[str]], names: Sequence[str], separator: str, faults: _Faults) -> None:
    """Bring every row to one cell a column name; blank cells at the end may be missing."""
    width = len(names)
    needed = 1 + max(names.index(name) for name in REQUIRED)
    hint = ""
    if separator == ",":
        hint = " (a decimal comma needs semicolons or tabs between the values)"
    for row, cells in enumerate(rows):
        if len(cells) == width:
            continue
        if len(cells) < needed or any(cell.strip() for cell in cells[width:]):
            many = "1 value" if len(cells) == 1 else f"{len(cells)} values"
            more = hint if len(cells) > width else ""
            faults.sentence.setdefault(
                row, f"the row has {many}; expected {width}, as there are column names{more}."
            )
        rows[row] = [*cells[:width], *[""] * (width - len(cells))]


def _numbers(cells: Sequence[str], decimal_comma: bool) -> tuple[Floats, Bools]:
    """Values ``(n,)``, NaN for blank cells, and which cells hold no number."""

    def convert(texts: Sequence[str]) -> Floats:
        return np.array([float(cell) if cell else np.nan for cell in texts])

    joined = "".join(cells)
    if decimal_comma and "," in joined:
        cells = [cell.replace(",", ".") for cell in cells]
        joined = "".join(cells)
    if not _NUMBER_SIGNS.issuperset(joined):
        cells = [cell.strip() for cell in cells]
        joined = "".join(cells)
    if _NUMBER_SIGNS.issuperset(joined):
        try:
            return convert(cells), np.zeros(len(cells), dtype=bool)
        except ValueError:
            pass
    values, bad = np.full(len(cells), np.nan), np.zeros(len(cells), dtype=bool)
    for row, cell in enumerate(cells):
        try:
            if not _NUMBER_SIGNS.issuperset(cell):
                raise ValueError(cell)
            values[row : row + 1] = convert([cell])
        except ValueError:
            bad[row] = True
    return values, bad


def means_no_return(words: Collection[str]) -> Callable[[str], bool]:
    """What tells whether a cell holds one of the words, or a number equal to one of them."""
    meant = {word.strip().lower() for word in words}
    values = {value for word in meant if (value := _value(word)) is not None}
    return lambda cell: cell.strip().lower() in meant or _value(cell) in values


def _blanked(cells: Sequence[str], words: Collection[str]) -> list[str]:
    gone = set(filter(means_no_return(words), set(cells)))
    return ["" if cell in gone else cell for cell in cells]


def _value(word: str) -> float | None:
    try:
        return float(word.replace(",", "."))
    except ValueError:
        return None


def read_rows(
    lines: Sequence[str],
    line_numbers: Sequence[int],
    names: Sequence[str],
    separator: str,
    angle_unit: str,
    findings: Findings,
    *,
    decimal_comma: bool | None = None,
    no_return: Collection[str] = (),
) -> RawReadings:
    """The readings of the rows under a row of column names.

    A decimal comma is taken with any separator but the comma, unless `decimal_comma` says
    otherwise. `no_return` are the words or numbers that stand in the distance's place where nothing
    came back, beside a blank and 0.
    Raises `SurveyError` for the first bad line, unless the findings allow skipping.
    """
    count = len(lines)
    line = np.asarray(line_numbers, dtype=np.int64)
    rows = split(lines, separator)
    faults = _Faults(count)
    if any(len(cells) != len(names) for cells in rows):
        _even(rows, names, separator, faults)
    columns: dict[str, Sequence[str]] = dict(zip(names, zip(*rows)))
    if decimal_comma is None:
        decimal_comma = separator != ","
    if no_return:
        columns["distance"] = _blanked(columns["distance"], no_return)

    def number(name: str, expected: str) -> tuple[Floats, Sequence[str]]:
        cells = columns[name]
        values, bad = _numbers(cells, decimal_comma)
        faults.add(bad, lambda row: f"{name} is {shown(cells[row])}; expected {expected}.")
        return values, cells

    angle, cells_a = number("angle", "a number")
    known = np.array([bool(cell.strip()) for cell in cells_a]) if np.isnan(angle).any() else None
    if known is not None:
        faults.add(~known, lambda row: "the angle is blank; expected a number.")
    turn = FULL_TURN[angle_unit]
    beyond = ~within_full_turn(np.nan_to_num(angle), angle_unit)
    if beyond.any():
        other = unit_that_holds(float(np.nanmax(np.abs(angle))), angle_unit)
        hint = f" (it looks like {other}: check angle_unit)" if other else ""
        faults.add(
            beyond,
            lambda row: (
                f"angle is {shown(cells_a[row])} {angle_unit}; "
                f"expected -{turn:g} to {turn:g}, one full turn either way{hint}."
            ),
        )

    reach = "a number of 0 or more (blank or 0 where nothing came back)"
    distance, cells_d = number("distance", reach)
    wrong = (distance < 0) | np.isinf(distance)
    faults.add(wrong, lambda row: f"distance is {shown(cells_d[row])}; expected {reach}.")
    distance[distance == 0] = np.nan

    zenith = None
    if "zenith" in columns:
        zenith, cells_z = number("zenith", "a number or nothing (horizontal)")
        above = (zenith < 0) | (zenith > turn / 2 * (1 + ROUNDING))
        faults.add(
            above,
            lambda row: (
                f"zenith is {shown(cells_z[row])} {angle_unit}; "
                f"expected 0 to {turn / 2:g}, from the vertical."
            ),
        )

    intensity = np.full(count, np.nan)
    if "intensity" in columns:
        intensity, _ = number("intensity", "a number or nothing")

    target = np.array([cell.strip() for cell in columns.get("target", [""] * count)], dtype=str)
    kind = _kinds(columns.get("kind", [""] * count), faults)
    nameless = (kind != Kind.RING) & (target == "")
    faults.add(nameless, lambda row: f"a {Kind(kind[row]).text} reading names no target.")
    named = (kind == Kind.RING) & (target != "")
    if named.any():
        first = int(np.argmax(named))
        findings.warn(
            f"{named.sum()} ring readings name a target (here {shown(str(target[first]))}); the "
            "name is not used. Is kind target or surface meant?",
            int(line[first]),
        )
        target[named] = ""

    good = faults.report(findings, line)
    return RawReadings(
        angle=angle[good],
        distance=distance[good],
        zenith=None if zenith is None else zenith[good],
        kind=kind[good],
        target=target[good],
        intensity=intensity[good],
        line=line[good],
    )


def _kinds(cells: Sequence[str], faults: _Faults) -> NDArray[np.int64]:
    value = {word: _KINDS.get(word.strip().lower()) for word in set(cells)}
    bad = np.zeros(len(cells), dtype=bool)
    if None in value.values():
        bad = np.array([value[cell] is None for cell in cells])
        faults.add(
            bad, lambda row: f"kind is {shown(cells[row])}; expected ring, target or surface."
        )
    return np.array([value[cell] or Kind.RING for cell in cells], dtype=np.int64)
