# SPDX-License-Identifier: GPL-2.0-or-later
"""The cells of lines, between separators and in quotes."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from contextlib import suppress

SEPARATORS = ("\t", ";", ",")
WHITE_SPACE = " "


def split(lines: Sequence[str], separator: str) -> list[list[str]]:
    """The cells of lines; quotes as in RFC 4180, within one line. A blank as separator stands for
    any white space, where quotes have no meaning."""
    if separator == WHITE_SPACE:
        return [line.split() for line in lines]
    if any('"' in line for line in lines):
        return quoted(lines, separator)[0]
    return [line.split(separator) for line in lines]


def quoted(lines: Sequence[str], separator: str) -> tuple[list[list[str]], list[int]]:
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
