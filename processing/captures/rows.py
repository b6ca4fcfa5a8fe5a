# SPDX-License-Identifier: GPL-2.0-or-later
"""The rows under a capture's column names, read column by column."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..progress import Progress
from .findings import Findings, shown
from .model import Kind
from .numerals import as_numbers, why_no_number
from .readings import RawReadings, joined
from .table import Faults, columns_of
from .units import FULL_TURN, ROUNDING, unit_that_holds, within_full_turn

COLUMNS = ("angle", "distance", "zenith", "kind", "target", "intensity")
NUMBERS = ("angle", "distance", "zenith", "intensity")
PART = 100_000
"""Rows that are read at a time, between two of which a cancel is heard."""

_KINDS = {"": Kind.RING, **{kind.text: kind for kind in Kind}}


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
    from_horizontal: bool = False,
    named_are_sighted: bool = False,
    cut_off: bool = False,
) -> RawReadings:
    """The readings of the rows under a row of column names.

    A decimal comma is taken with any separator but the comma, and a point too, unless
    `decimal_comma` says that it is one of them. `no_return` are the words or numbers that stand in
    the distance's place where nothing came back, beside a blank and 0. Zeniths are in the angle's
    unit unless `zenith_unit` says otherwise, and angles above the horizontal with
    `from_horizontal`. With `named_are_sighted` a reading that names a target is a sighting of it
    where no column says the kind. `cut_off` says that the last row has no line end, so that it may
    not be whole.
    Raises `SurveyError` for the first bad line, unless the findings allow skipping.
    """
    count = len(lines)
    line = np.fromiter(line_numbers, dtype=np.int64, count=count)
    faults = Faults(count)
    cells = columns_of(lines, names, separator, faults, cut_off)
    columns: dict[str, Sequence[str]] = dict(zip(names, cells))
    comma_only = decimal_comma is True
    if decimal_comma is None:
        decimal_comma = separator != ","
    if no_return:
        columns["distance"] = _blanked(columns["distance"], no_return)

    both_signs = decimal_comma and not comma_only and _both_signs(columns)

    def number(name: str, expected: str, title: str = "") -> tuple[Floats, Sequence[str]]:
        cells = columns[name]
        values, bad = as_numbers(cells, decimal_comma, both_signs)
        if comma_only and "." in "".join(cells):
            bad |= np.array(["." in cell for cell in cells])
        faults.add(
            bad,
            lambda row: (
                f"{title or name} is {shown(cells[row])}"
                f"{why_no_number(cells[row], decimal_comma, separator)}; expected {expected}."
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
        title = "elevation" if from_horizontal else "zenith"
        zenith, cells_z = number("zenith", "a number or nothing (horizontal)", title)
        zenith_unit = zenith_unit or angle_unit
        nadir = FULL_TURN[zenith_unit] / 2
        span = f"0 to {nadir:g}, from the vertical"
        if from_horizontal:
            span = f"-{nadir / 2:g} to {nadir / 2:g}, from the horizontal"
            zenith = nadir / 2 - zenith
            zenith[np.abs(zenith) < nadir * ROUNDING] = 0.0
        above = (zenith < 0) | (zenith > nadir * (1 + ROUNDING))
        faults.add(
            above,
            lambda row: f"{title} is {shown(cells_z[row])} {zenith_unit}; expected {span}.",
        )

    intensity = np.full(count, np.nan)
    if "intensity" in columns:
        intensity, _ = number("intensity", "a number or nothing")

    names_of_targets = columns.get("target", ())
    target = np.full(count, "", dtype="<U1")
    if any(names_of_targets):
        target = np.array([cell.strip() for cell in names_of_targets], dtype=str)
    kind = _kinds(columns.get("kind", [""] * count), faults)
    if named_are_sighted and "kind" not in columns:
        kind[target != ""] = Kind.TARGET
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


def read_in_parts(
    lines: Sequence[str],
    line_numbers: Sequence[int],
    names: Sequence[str],
    separator: str,
    angle_unit: str,
    findings: Findings,
    progress: Progress,
    *,
    cut_off: bool = False,
    **rules: Any,
) -> RawReadings:
    """The same for any number of rows, one or more; a capture is one part, unless it is so large
    that a cancel would have to wait for it."""
    return joined(
        [
            read_rows(
                lines[start : start + PART],
                line_numbers[start : start + PART],
                names,
                separator,
                angle_unit,
                findings,
                cut_off=cut_off and start + PART >= len(lines),
                **rules,
            )
            for start in progress.over(range(0, len(lines), PART))
        ]
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


def _kinds(cells: Sequence[str], faults: Faults) -> NDArray[np.int64]:
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
