# SPDX-License-Identifier: GPL-2.0-or-later
"""The rows under a capture's column names, read column by column."""

from __future__ import annotations

import csv
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .findings import Findings, shown
from .model import Kind
from .numerals import as_numbers, why_no_number
from .readings import RawReadings
from .units import FULL_TURN, ROUNDING, unit_that_holds, within_full_turn

COLUMNS = ("angle", "distance", "zenith", "kind", "target", "intensity")
REQUIRED = ("angle", "distance")
SEPARATORS = ("\t", ";", ",")
WHITE_SPACE = " "

NUMBERS = ("angle", "distance", "zenith", "intensity")
_NAME_OF = {"\t": "tabs", ";": "semicolons", ",": "commas"}
_KINDS = {"": Kind.RING, **{kind.text: kind for kind in Kind}}

Bools = NDArray[np.bool_]


def split(lines: Sequence[str], separator: str) -> list[list[str]]:
    """The cells of lines; quotes as in RFC 4180, within one line. A blank as separator stands for
    any white space, where quotes have no meaning."""
    if separator == WHITE_SPACE:
        return [line.split() for line in lines]
    if any('"' in line for line in lines):
        return _quoted(lines, separator)[0]
    return [line.split(separator) for line in lines]


def _quoted(lines: Sequence[str], separator: str) -> tuple[list[list[str]], list[int]]:
    """The cells of lines with quotes, and the places of lines in which a quote is not closed."""

    def rows(some: Sequence[str], strict: bool = False) -> list[list[str]]:
        return list(csv.reader(some, delimiter=separator, skipinitialspace=True, strict=strict))

    def closed(line: str) -> bool:
        try:
            rows([line], strict=True)
        except csv.Error as error:
            return "unexpected end" not in str(error)
        return True

    with suppress(csv.Error):
        cells = rows(lines)
        # Only an unclosed quote joins lines: as many rows as lines are one each.
        if len(cells) == len(lines):
            return cells, [] if closed(lines[-1]) else [len(lines) - 1]
    cells = []
    for line in lines:
        try:
            cells.append(next(iter(rows([line])), []))
        except csv.Error:  # a cell that is longer than any reading's
            cells.append([line])
    return cells, [place for place, line in enumerate(lines) if not closed(line)]


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


def _columns(
    lines: Sequence[str], names: Sequence[str], separator: str, faults: _Faults, cut_off: bool
) -> list[Sequence[str]]:
    """The cells of each column; rows that have too few or too many go to the faults."""
    width = len(names)
    text = "\n".join(lines)
    if separator != WHITE_SPACE and '"' not in text:
        # One split for all rows: line ends may stand before a first cell only.
        cells = text.replace("\n", f"{separator}\n").split(separator)
        first = "".join(cells[::width]).split("\n")
        if len(cells) == width * len(lines) and len(first) == len(lines):
            return [first, *(cells[column::width] for column in range(1, width))]
    unclosed: list[int] = []
    if separator != WHITE_SPACE and '"' in text:
        rows, unclosed = _quoted(lines, separator)
    else:
        rows = split(lines, separator)
    for row in unclosed:
        faults.sentence[row] = "a quote is opened and not closed; expected both in the row."
    if any(len(cells) != width for cells in rows):
        _even(rows, lines, names, separator, faults, cut_off)
    return list(zip(*rows))


def _even(
    rows: list[list[str]],
    lines: Sequence[str],
    names: Sequence[str],
    separator: str,
    faults: _Faults,
    cut_off: bool,
) -> None:
    """Bring every row to one cell a column name; blank cells at the end may be missing."""
    width = len(names)
    needed = 1 + max(names.index(name) for name in REQUIRED)
    whole = cut_off and len(rows) > 1 and all(len(cells) >= width for cells in rows[:-1])
    for row, cells in enumerate(rows):
        if len(cells) == width:
            continue
        many = "1 value" if len(cells) == 1 else f"{len(cells)} values"
        if whole and row == len(rows) - 1 and len(cells) < width:
            faults.sentence.setdefault(
                row,
                f"the file ends within this row, which has {many} and no line end; expected "
                f"{width} as in the rows before. Is the file cut off?",
            )
        elif len(cells) < needed or any(cell.strip() for cell in cells[width:]):
            hint = _separator_hint(lines[row], width, separator, len(cells))
            faults.sentence.setdefault(
                row, f"the row has {many}; expected {width}, as there are column names{hint}."
            )
        rows[row] = [*cells[:width], *[""] * (width - len(cells))]


def _separator_hint(line: str, width: int, separator: str, found: int) -> str:
    if separator == "," and found > width:
        return " (a decimal comma needs semicolons or tabs between the values)"
    for other in SEPARATORS:
        if separator in SEPARATORS and other != separator and line.count(other) == width - 1:
            return f", separated by {_NAME_OF[separator]} as they are, not by {_NAME_OF[other]}"
    return ""


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
    zenith_unit: str | None = None,
    cut_off: bool = False,
) -> RawReadings:
    """The readings of the rows under a row of column names.

    A decimal comma is taken with any separator but the comma, and a point too, unless
    `decimal_comma` says that it is one of them. `no_return` are the words or numbers that stand in
    the distance's place where nothing came back, beside a blank and 0. Zeniths are in the angle's
    unit unless `zenith_unit` says otherwise. `cut_off` says that the last row has no line end, so
    that it may not be whole.
    Raises `SurveyError` for the first bad line, unless the findings allow skipping.
    """
    count = len(lines)
    line = np.asarray(line_numbers, dtype=np.int64)
    faults = _Faults(count)
    cells = _columns(lines, names, separator, faults, cut_off)
    columns: dict[str, Sequence[str]] = dict(zip(names, cells))
    comma_only = decimal_comma is True
    if decimal_comma is None:
        decimal_comma = separator != ","
    if no_return:
        columns["distance"] = _blanked(columns["distance"], no_return)

    both_signs = decimal_comma and not comma_only and _both_signs(columns)

    def number(name: str, expected: str) -> tuple[Floats, Sequence[str]]:
        cells = columns[name]
        values, bad = as_numbers(cells, decimal_comma, both_signs)
        if comma_only and "." in "".join(cells):
            bad |= np.array(["." in cell for cell in cells])
        faults.add(
            bad,
            lambda row: (
                f"{name} is {shown(cells[row])}{why_no_number(cells[row], decimal_comma)}; "
                f"expected {expected}."
            ),
        )
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
        zenith_unit = zenith_unit or angle_unit
        nadir = FULL_TURN[zenith_unit] / 2
        above = (zenith < 0) | (zenith > nadir * (1 + ROUNDING))
        faults.add(
            above,
            lambda row: (
                f"zenith is {shown(cells_z[row])} {zenith_unit}; "
                f"expected 0 to {nadir:g}, from the vertical."
            ),
        )

    intensity = np.full(count, np.nan)
    if "intensity" in columns:
        intensity, _ = number("intensity", "a number or nothing")

    names_of_targets = columns.get("target", ())
    target = np.full(count, "", dtype="<U1")
    if any(names_of_targets):
        target = np.array([cell.strip() for cell in names_of_targets], dtype=str)
    kind = _kinds(columns.get("kind", [""] * count), faults)
    nameless = (kind != Kind.RING) & (target == "")
    faults.add(
        nameless,
        lambda row: f"a {Kind(kind[row]).text} reading names no target; expected its name.",
    )
    named = (kind == Kind.RING) & (target != "")
    if named.any():
        first = int(np.argmax(named))
        findings.warn(
            f"{named.sum()} ring readings name a target (here {shown(str(target[first]))}); the "
            "name is not used. Is kind target or surface meant?",
            int(line[first]),
        )
        target[named] = ""

    if cut_off and names[-1] in NUMBERS and _fewer_digits(cells[-1]):
        findings.warn(
            "the last row has no line end and fewer digits than the others; is the file cut off?",
            int(line[-1]),
        )
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


def _both_signs(columns: Mapping[str, Sequence[str]]) -> bool:
    """Whether the numbers of a capture hold decimal commas and points."""
    text = ["".join(columns[name]) for name in NUMBERS if name in columns]
    return any("," in part for part in text) and any("." in part for part in text)


def _fewer_digits(cells: Sequence[str]) -> bool:
    """Whether the last number has fewer decimals than each of the others."""

    def decimals(cell: str) -> int:
        return len(cell.strip().replace(",", ".").partition(".")[2])

    return len(cells) > 2 and decimals(cells[-1]) < min(map(decimals, cells[:-1]))


def _kinds(cells: Sequence[str], faults: _Faults) -> NDArray[np.int64]:
    value = {word: _KINDS.get(word.strip().lower()) for word in set(cells)}
    only = next(iter(value.values()), None)
    if len(value) == 1 and only is not None:
        return np.full(len(cells), int(only), dtype=np.int64)
    bad = np.zeros(len(cells), dtype=bool)
    if None in value.values():
        bad = np.array([value[cell] is None for cell in cells])
        faults.add(
            bad, lambda row: f"kind is {shown(cells[row])}; expected ring, target or surface."
        )
    return np.array([value[cell] or Kind.RING for cell in cells], dtype=np.int64)
