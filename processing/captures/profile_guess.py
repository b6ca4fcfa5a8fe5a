# SPDX-License-Identifier: GPL-2.0-or-later
"""A first guess at an unmarked text file, to fill in the window in which a person describes it.

Nothing is ever read by a guess alone: the sense of rotation, above all, is in no file's numbers.
"""

from __future__ import annotations

import codecs
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from statistics import median

from .cells import split
from .decoding import UTF_16_MARKS, lines_of
from .profile import (
    ELEVATION,
    ENCODINGS,
    LONGEST_NAME,
    MOST_COLUMNS,
    MOST_SKIPPED_LINES,
    NOT_USED,
    SEPARATORS,
    STATION,
    Profile,
)
from .sources import HEAD_BYTES
from .units import FULL_TURN

_COMMENT = re.compile(r"\s*(#|//|%|!|\*|')")
_NUMBER = re.compile(r"\s*[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)
# Words of surveying in column names, the plainest first.
_WORDS = {
    "angle": ("angle", "hz", "horizontal", "azimuth", "bearing", "direction", "theta"),
    "distance": ("distance", "dist", "range", "slope", "sd", "length", "radius", "rho"),
    "zenith": ("zenith", "vertical", "v", "vz", "za"),
    "intensity": ("intensity", "amplitude", "reflectance", "signal", "quality"),
    STATION: (STATION, "setup", "stn"),
    "target": ("target",),
    "kind": ("kind",),
}
_SIGNS_BEFORE_COMMENT = 400
_LARGEST_DEG, _LARGEST_RAD = 361.0, 6.3
# Rooms are metres across: the middle distance tells the unit.
_METRES_TO, _CENTIMETRES_TO = 60.0, 1200.0


@dataclass(frozen=True)
class _Split:
    """A way to split lines, and how well it does: the rows with the usual number of columns."""

    separator: str
    decimal_comma: bool
    columns: int
    rows: tuple[int, ...]
    score: float


def guess_profile(head: bytes, name: str = "text file") -> Profile | None:
    """A profile that might describe the first part of a file; None when it holds no table of
    numbers. Its units come from the size of the numbers, its rotation from nowhere."""
    encoding = _encoding(head)
    lines = lines_of(head[:HEAD_BYTES].decode(ENCODINGS[encoding], errors="replace"))
    lines = lines[:-1] if len(head) >= HEAD_BYTES else lines
    sign = _comment_sign(lines)
    body = [
        (number, line)
        for number, line in enumerate(lines)
        if line.strip() and not (sign and line.strip().startswith(sign))
    ]
    best = _best_split([line for _, line in body])
    if best is None:
        return None
    sep = SEPARATORS[best.separator]
    first = best.rows[0]
    # Where nothing came back a row may have one number only.
    while first > 0 and _is_row(split([body[first - 1][1]], sep)[0], best):
        first -= 1
    names: list[str] = []
    if first > 0:
        above = [cell.strip() for cell in split([body[first - 1][1]], sep)[0]]
        if len(above) == best.columns and not any(_number(cell, True) for cell in above if cell):
            names = above
    top = body[first - 1 if names else first]
    # Lines of comment are passed over in any case: only other ones are counted.
    skip = top[0] if body[0] is not top else 0
    rows = [split([body[row][1]], sep)[0] for row in best.rows]
    columns = [list(column) for column in zip(*rows)]
    numbers = [
        [v for c in column if (v := _value(c, best.decimal_comma)) is not None]
        for column in columns
    ]
    meanings = _meanings(names, numbers, len(rows))
    if "angle" not in meanings or "distance" not in meanings:
        return None
    angle = numbers[meanings.index("angle")]
    if "zenith" in meanings:
        place = meanings.index("zenith")
        # Vertical angles count from the zenith or from the horizontal: rings are level, mostly.
        if median(numbers[place] or [0.0]) < FULL_TURN[_angle_unit(angle)] / 8.0:
            meanings[place] = ELEVATION
    distance = numbers[meanings.index("distance")]
    return Profile(
        name=_name(name),
        columns=tuple(meanings),
        angle_unit=_angle_unit(angle),
        distance_unit=_distance_unit(distance),
        rotation="clockwise",
        separator=best.separator,
        decimal_comma=best.decimal_comma,
        skip_lines=min(skip, MOST_SKIPPED_LINES),
        has_names=bool(names),
        comment_sign=sign or "#",
        no_return=_no_return(distance),
        encoding=encoding,
    )


def _encoding(head: bytes) -> str:
    if head.startswith(UTF_16_MARKS):
        return "UTF-16"
    try:
        # The last sign may be cut in two.
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "Latin-1"
    return "UTF-8"


def _comment_sign(lines: Sequence[str]) -> str:
    found = [match[1] for line in lines[:_SIGNS_BEFORE_COMMENT] if (match := _COMMENT.match(line))]
    return Counter(found).most_common(1)[0][0] if found else ""


def _number(cell: str, decimal_comma: bool) -> bool:
    return bool(_NUMBER.fullmatch(cell.replace(",", ".") if decimal_comma else cell))


def _value(cell: str, decimal_comma: bool) -> float | None:
    if not _number(cell, decimal_comma):
        return None
    return float(cell.replace(",", ".") if decimal_comma else cell)


def _best_split(lines: Sequence[str]) -> _Split | None:
    """The way to split that makes most cells numbers; of equal ones the plainest."""
    best: _Split | None = None
    for separator, comma in product(("tab", "semicolon", "comma", "white space"), (False, True)):
        if comma and separator == "comma":
            continue
        cells = split(lines, SEPARATORS[separator])
        numeric = [[_number(cell, comma) for cell in row] for row in cells]
        usual = Counter(len(row) for row in numeric if sum(row) >= 2).most_common(1)
        if not usual or usual[0][0] > MOST_COLUMNS:
            continue
        columns = usual[0][0]
        rows = [i for i, row in enumerate(numeric) if len(row) == columns and sum(row) >= 2]
        full = sum(sum(numeric[i]) + sum(not cell.strip() for cell in cells[i]) for i in rows)
        score = full / columns
        if best is None or score > best.score + 1e-9:
            best = _Split(separator, comma, columns, tuple(rows), score)
    return best


def _is_row(cells: Sequence[str], best: _Split) -> bool:
    return len(cells) == best.columns and any(_number(c, best.decimal_comma) for c in cells)


def _meanings(names: Sequence[str], numbers: Sequence[Sequence[float]], rows: int) -> list[str]:
    meanings = [NOT_USED] * len(numbers)
    for meaning, words in _WORDS.items():
        place = _place_of(words, names, meanings)
        if place is not None:
            meanings[place] = meaning
    if "kind" in meanings and "target" not in meanings:
        meanings[meanings.index("kind")] = NOT_USED
    free = [
        place
        for place, values in enumerate(numbers)
        if not meanings[place] and len(values) > rows / 2 and len(set(values)) > 1
    ]
    if "angle" not in meanings:
        turning = [place for place in free if _turns(numbers[place])]
        if turning:
            meanings[turning[0]] = "angle"
            free.remove(turning[0])
    if "distance" not in meanings and free:
        # Distances are the numbers that differ most among themselves.
        place = max(free, key=lambda place: (len(set(numbers[place])), -place))
        meanings[place] = "distance"
    # At least the table is split: the person sees what was taken, and corrects it.
    for meaning in ("angle", "distance"):
        rest = [place for place, values in enumerate(numbers) if values and not meanings[place]]
        if meaning not in meanings and rest:
            meanings[rest[0]] = meaning
    return meanings


def _place_of(words: Sequence[str], names: Sequence[str], taken: Sequence[str]) -> int | None:
    for word in words:
        for place, name in enumerate(names):
            parts = re.split(r"[^a-z]+", name.casefold())
            if not taken[place] and (word in parts or (len(word) > 3 and word in name.casefold())):
                return place
    return None


def _turns(values: Sequence[float]) -> bool:
    """Whether numbers run mostly one way, as the angles of a turn do, within a full turn."""
    steps = [b - a for a, b in zip(values, values[1:]) if a != b]
    one_way = max(sum(step > 0 for step in steps), sum(step < 0 for step in steps))
    reach = max(map(abs, values))
    return reach <= 401.0 and len(steps) > 0 and one_way >= 0.9 * len(steps)


def _angle_unit(angles: Sequence[float]) -> str:
    reach = max(map(abs, angles), default=0.0)
    if reach <= _LARGEST_RAD:
        return "rad"
    return "deg" if reach <= _LARGEST_DEG else "gon"


def _distance_unit(distances: Sequence[float]) -> str:
    middle = median([value for value in distances if value > 0] or [1.0])
    return "m" if middle <= _METRES_TO else "cm" if middle <= _CENTIMETRES_TO else "mm"


def _no_return(distances: Sequence[float]) -> tuple[str, ...]:
    """Negative values, and a value that stands far above all others and comes more than once."""
    counts = Counter(distances)
    found = [value for value in counts if value < 0]
    far = max(distances, default=0.0)
    rest = [value for value in distances if 0 < value < far]
    if counts[far] > 2 and rest and far > 3.0 * max(rest):
        found.append(far)
    return tuple(f"{value:g}" for value in sorted(found)[:3])


def _name(name: str) -> str:
    kept = "".join(c for c in name if c.isprintable() and c not in "/\\").strip()
    return kept[:LONGEST_NAME].strip() or "text file"
