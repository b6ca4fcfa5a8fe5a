# SPDX-License-Identifier: GPL-2.0-or-later
"""How a text file looks when it is split as a profile says, and whether that is the look of the
files the profile was made for.

Cautious on purpose: what is not recognised is asked about, what is wrongly recognised is a wrong
plan. A ring in degrees under a profile in gon differs by a tenth of a turn, one in millimetres
under a profile in metres by a factor of 1000: both are told apart by the numbers themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from math import isfinite
from statistics import median

from ..progress import SILENT, Progress
from .cells import split
from .decoding import lines_of
from .findings import shown
from .profile import (
    BLANK,
    DECIMAL,
    ENCODINGS,
    INTEGER,
    NOT_USED,
    SEPARATORS,
    STATION,
    TEXT,
    Look,
    Profile,
    Span,
)
from .rows import means_no_return
from .sources import HEAD_BYTES
from .units import FULL_TURN

# A bad line or two must not hide what a file is: they are for the reader to name.
_ENOUGH = 0.9
# How far the ends of the angles may lie from those described, as a share of a full turn.
_ANGLE_SHARE = 0.05
# How many times nearer or farther the middle distance may be than in the file described. Measured
# on 34 captures of three buildings: 98 of 100 files in the unit described are taken, and 5 of 100
# in millimetres for centimetres; a factor of 3 takes 95 and 3, one of 5 all and 10.
_DISTANCE_FACTOR = 4.0
STRIDE = 20_000
"""Lines between two of which a cancel is heard."""

_INTEGER_SIGNS = frozenset("0123456789+-\n")


@dataclass
class Laid:
    """The lines of a text file told apart: the column names' line number (0: none) and cells, then
    the rows and their line numbers, and whether the last one has no line end."""

    names_line: int = 0
    names: list[str] = field(default_factory=list)
    rows: list[str] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    cut_off: bool = False


def head_lines(head: bytes, profile: Profile) -> list[str]:
    """The whole lines in the first part of a file, whatever cannot be decoded replaced."""
    part = head[:HEAD_BYTES]
    lines = lines_of(part.decode(ENCODINGS[profile.encoding], errors="replace"))
    return lines[:-1] if len(part) == HEAD_BYTES else lines


def laid_out(lines: Sequence[str], profile: Profile, progress: Progress = SILENT) -> Laid:
    """Which lines are rows, and which one holds the column names."""
    laid = Laid()
    wants_names = profile.has_names
    sign = profile.comment_sign
    for number, line in enumerate(lines, start=1):
        if number % STRIDE == 0:
            progress.at(number / len(lines))
        bare = line.strip()
        if number <= profile.skip_lines or not bare or (sign and bare.startswith(sign)):
            continue
        if wants_names:
            cells = split([line], SEPARATORS[profile.separator])[0]
            laid.names, laid.names_line = [cell.strip() for cell in cells], number
            wants_names = False
        else:
            laid.rows.append(line)
            laid.lines.append(number)
    laid.cut_off = bool(laid.lines) and laid.lines[-1] == len(lines)
    return laid


def cells_of(rows: Sequence[str], profile: Profile) -> list[list[str]]:
    """The rows that have a cell a column, those with blank cells too many or too few included."""
    count = len(profile.columns)
    even = []
    for cells in split(rows, SEPARATORS[profile.separator]):
        if len(cells) > count and not any(cell.strip() for cell in cells[count:]):
            cells = cells[:count]
        elif len(cells) < count and len(cells) > _last_needed(profile):
            cells = [*cells, *[""] * (count - len(cells))]
        if len(cells) == count:
            even.append(cells)
    return even


def _last_needed(profile: Profile) -> int:
    return max(profile.column("angle"), profile.column("distance"))


def look_of(head: bytes, profile: Profile) -> Look | None:
    """How the first part of a file looks, split as the profile says; None when it does not split
    into the profile's columns, or is no text."""
    if b"\0" in head and profile.encoding != "UTF-16":
        return None
    laid = laid_out(head_lines(head, profile), profile)
    names = tuple(name.casefold() for name in laid.names)
    if profile.has_names and len(names) != len(profile.columns):
        return None
    rows = cells_of(laid.rows, profile)
    if not rows or len(rows) < _ENOUGH * len(laid.rows):
        return None
    contents: list[str] = []
    spans: list[Span | None] = []
    middle = None
    for meaning, column in zip(profile.columns, zip(*rows)):
        cells = [cell.strip() for cell in column if cell.strip()]
        if meaning == "distance" and profile.no_return:
            gone = set(filter(means_no_return(profile.no_return), set(cells)))
            cells = [cell for cell in cells if cell not in gone]
        content, values = _content(cells, profile.decimal_comma)
        contents.append(content)
        spans.append(_span(values))
        came_back = [value for value in values if value > 0]
        if meaning == "distance" and came_back:
            middle = float(median(came_back))
    return Look(names, tuple(contents), tuple(spans), middle)


def _content(cells: Sequence[str], decimal_comma: bool) -> tuple[str, list[float]]:
    """What cells without blanks look like, and the numbers among them."""
    if not cells:
        return BLANK, []
    joined = "\n".join(cells)
    if decimal_comma:
        # A point is no decimal sign then.
        joined = joined.replace(".", "?").replace(",", ".")
    values = _all_numbers(joined.split("\n"))
    if len(values) < _ENOUGH * len(cells):
        return TEXT, []
    if not _INTEGER_SIGNS.issuperset(joined):
        integers = sum(map(_INTEGER_SIGNS.issuperset, cells))
        return (INTEGER if integers == len(values) else DECIMAL), values
    return INTEGER, values


def _all_numbers(cells: Sequence[str]) -> list[float]:
    try:
        values = list(map(float, cells))
    except ValueError:
        values = []
        for cell in cells:
            with suppress(ValueError):
                values.append(float(cell))
    return values if all(map(isfinite, values)) else [v for v in values if isfinite(v)]


def _span(values: list[float]) -> Span | None:
    """The range of numbers without the outermost hundredth at either end: a bad line or two."""
    if not values:
        return None
    ordered = sorted(values)
    cut = len(ordered) // 100
    return ordered[cut], ordered[len(ordered) - 1 - cut]


def difference(head: bytes, profile: Profile) -> str:
    """What sets a file apart from those that the profile was made for, as a clause for a message;
    empty when it looks the same."""
    return _apart(head, profile)[1]


def nearest(head: bytes, profiles: Sequence[Profile]) -> tuple[str, str]:
    """The name of the profile whose files look most like this one, and what sets it apart; the
    profiles are one or more."""
    apart = [(_apart(head, profile), profile.name) for profile in profiles]
    (_, clause), name = min(apart, key=lambda found: (-found[0][0], found[1]))
    return name, clause


def _apart(head: bytes, profile: Profile) -> tuple[int, str]:
    """How far a file goes along with a profile, and the clause where it leaves it."""
    kept = profile.look
    if kept is None:
        return 0, "it does not say how its files look"
    look = look_of(head, profile)
    if look is None:
        return 0, f"it has {len(profile.columns)} columns and the file has not"
    if look.names != kept.names:
        own, name = next(pair for pair in zip(look.names, kept.names) if pair[0] != pair[1])
        return 1, f"a column is called {shown(own)} in the file, {shown(name)} in the profile"
    for index, meaning in enumerate(profile.columns):
        if not _alike(meaning, look.contents[index], kept.contents[index]):
            return 2, (
                f"column {index + 1} is {look.contents[index]} in the file, "
                f"{kept.contents[index]} in the profile"
            )
    return 3, _numbers_apart(look, kept, profile)


def _alike(meaning: str, content: str, kept: str) -> bool:
    if BLANK in (content, kept):
        # A file in which nothing came back, or all angles are missing, looks like none.
        return meaning not in ("angle", "distance")
    if meaning in ("angle", "distance"):
        return content == kept
    if meaning in (STATION, "target", "kind"):
        return True
    return (content == TEXT) == (kept == TEXT) or (meaning == NOT_USED and kept == TEXT)


def _numbers_apart(look: Look, kept: Look, profile: Profile) -> str:
    column = profile.column("angle")
    own, described = look.spans[column], kept.spans[column]
    if own is None or described is None:
        return "the angles are no numbers"
    reach = _ANGLE_SHARE * FULL_TURN[profile.angle_unit]
    if any(abs(a - b) > reach for a, b in zip(own, described)):
        return (
            f"the angles run from {own[0]:g} to {own[1]:g} in the file, from {described[0]:g} to "
            f"{described[1]:g} in the profile"
        )
    if look.distance is None or kept.distance is None:
        return "no distance came back"
    ratio = look.distance / kept.distance
    if not 1.0 / _DISTANCE_FACTOR <= ratio <= _DISTANCE_FACTOR:
        return (
            f"the middle distance is {look.distance:g} in the file, {kept.distance:g} in the "
            "profile"
        )
    return ""


def can_read(head: bytes, profile: Profile) -> bool:
    """Whether a row in the first part of a file has numbers where the profile has angle and
    distance: what else lies in a folder of captures is no capture."""
    if b"\0" in head and profile.encoding != "UTF-16":
        return False
    laid = laid_out(head_lines(head, profile), profile)
    places = profile.column("angle"), profile.column("distance")
    for cells in cells_of(laid.rows, profile):
        if all(_content([cells[place].strip()], profile.decimal_comma)[1] for place in places):
            return True
    return False


def fitting(head: bytes, profiles: Sequence[Profile]) -> list[Profile]:
    """The profiles whose files look like this one, by name; of several that read any file alike
    only the first."""
    fits: list[Profile] = []
    for profile in sorted(profiles, key=lambda profile: profile.name):
        if not difference(head, profile) and not any(profile.reads_like(other) for other in fits):
            fits.append(profile)
    return fits
