# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows as columns, with the first fault of each row."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from .cells import SEPARATORS, WHITE_SPACE, quoted, split
from .findings import Findings
from .model import Bools

REQUIRED = ("angle", "distance")
_NAME_OF = {"\t": "tabs", ";": "semicolons", ",": "commas"}


class Faults:
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


def columns_of(
    lines: Sequence[str], names: Sequence[str], separator: str, faults: Faults, cut_off: bool
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
        rows, unclosed = quoted(lines, separator)
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
    faults: Faults,
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
