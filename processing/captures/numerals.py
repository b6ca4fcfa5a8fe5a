# SPDX-License-Identifier: GPL-2.0-or-later
"""Numbers as capture files write them: a column is converted as a whole; only when that fails is it
gone through cell by cell."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from .model import Bools

# Python reads "nan", "inf" and "1_000" as numbers too; a capture's numbers have these signs only.
_SIGNS = b"0123456789+-.eE"
_MINUS = "\N{MINUS SIGN}"
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[.,]\d{3})+", re.ASCII)
# Thousands apart by comma, point, apostrophe or a space, with or without decimals.
_GROUPED = re.compile(
    r"[+-]?\d{1,3}(?:(?:,\d{3})+(?:\.\d*)?|(?:\.\d{3})+,\d*"
    r"|(?:['\u2019 \xa0\u202f]\d{3})+(?:[.,]\d*)?)",
    re.ASCII,
)
COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_WITH_UNIT = re.compile(
    r"[+-]?[\d.,]+\s*(?:mm|cm|m|ft|in|inch|deg|gon|grad|rad|°|'|\"|\u2032|\u2033)", re.ASCII
)
_SEXAGESIMAL = re.compile(
    r"[+-]?\d+\s*[°:dh-]\s*\d+\s*['\u2032:m-]\s*[\d.]*\s*[\"\u2033s]?", re.ASCII
)
_LONGEST = 40


def as_numbers(
    cells: Sequence[str], decimal_comma: bool, both_signs: bool = False
) -> tuple[Floats, Bools]:
    """Values ``(n,)``, NaN for blank cells, and which cells hold no number.

    With `both_signs`, when point and comma both stand within the numbers of a capture, one of them
    may separate thousands: a cell that can be read so is no number.
    """
    given, joined = cells, "".join(cells)
    if decimal_comma and "," in joined:
        cells = [cell.replace(",", ".") for cell in cells]
        joined = "".join(cells)
    if _other_signs(joined):
        cells = [cell.strip().replace(_MINUS, "-") for cell in cells]
        joined = "".join(cells)
    bad = np.zeros(len(cells), dtype=bool)
    values = None if _other_signs(joined) else _converted(cells)
    if values is None:
        values = np.full(len(cells), np.nan)
        for row, cell in enumerate(cells):
            value = None if _other_signs(cell) else _converted([cell])
            bad[row] = value is None
            values[row] = np.nan if value is None else value[0]
    if both_signs:
        bad |= np.array([bool(_THOUSANDS.fullmatch(cell.strip())) for cell in given])
        values[bad] = np.nan
    return values, bad


def _other_signs(text: str) -> bytes:
    """What a text holds beside the signs of numbers."""
    return text.encode("utf-8", errors="replace").translate(None, _SIGNS)


def _converted(cells: Sequence[str]) -> Floats | None:
    try:
        try:
            return np.fromiter(map(float, cells), dtype=float, count=len(cells))
        except ValueError:
            return np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        return None


def why_no_number(cell: str, decimal_comma: bool, separator: str = ",") -> str:
    """What a person may have meant by a cell that holds no number, in brackets; else empty."""
    text = cell.strip()
    if len(text) > _LONGEST:
        return ""
    if COMMA_NUMBER.fullmatch(text) and not decimal_comma:
        if separator != ",":
            return " (with a decimal comma?)"
        return " (a decimal comma needs semicolons or tabs between the values)"
    if _GROUPED.fullmatch(text) or _THOUSANDS.fullmatch(text):
        return " (with a sign between thousands?)"
    if _WITH_UNIT.fullmatch(text):
        return " (its unit belongs in the header)"
    if _SEXAGESIMAL.fullmatch(text):
        return " (minutes and seconds are not read)"
    return ""
