# SPDX-License-Identifier: GPL-2.0-or-later
"""A profile: what a person says once about text files that do not say it themselves.

A profile holds values only. It names no file and runs nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from math import isfinite
from types import MappingProxyType

from ..errors import SurveyError
from .cells import WHITE_SPACE
from .rows import COLUMNS
from .table import REQUIRED
from .units import CLOCKWISE, FULL_TURN, METRES

SEPARATORS = MappingProxyType(
    {"comma": ",", "semicolon": ";", "tab": "\t", "white space": WHITE_SPACE}
)
"""The sign between values for each name of a separator."""

STATION = "station"
ELEVATION = "elevation"
NOT_USED = ""
MEANINGS = (*COLUMNS, ELEVATION, STATION)
"""What a column may hold; an empty text for a column that is not used. Zenith angles count from the
vertical, elevation angles from the horizontal up."""

ENCODINGS = MappingProxyType(
    {"UTF-8": "utf-8-sig", "Latin-1": "latin-1", "Windows-1252": "cp1252", "UTF-16": "utf-16"}
)
"""The codec for each name of an encoding."""

MOST_COLUMNS = 200
MOST_SKIPPED_LINES = 10_000
MOST_NO_RETURN = 20
LONGEST_NAME = 80
LONGEST_WORD = 40
LARGEST_DISTANCE_ZERO_MM = 10_000.0

BLANK, INTEGER, DECIMAL, TEXT = "blank", "integer", "decimal", "text"
CONTENTS = (BLANK, INTEGER, DECIMAL, TEXT)
"""What the cells of a column look like."""

_COMMENT_SIGN = re.compile(r"[^\w\s.,;+-]{0,3}", re.ASCII)
Span = tuple[float, float]


@dataclass(frozen=True)
class Look:
    """How a file looks, split as a profile says: the lower-case column names (none without a row
    of them), what the cells of each column look like (of `CONTENTS`), the smallest and the largest
    number of each column, the outermost hundredth left out (None without numbers), and the middle
    one of the distances that came back, in the file's unit (None without)."""

    names: tuple[str, ...]
    contents: tuple[str, ...]
    spans: tuple[Span | None, ...]
    distance: float | None = None


@dataclass(frozen=True)
class Profile:
    """How to read unmarked text files of one kind.

    `columns` has the meaning of each column (of `MEANINGS`, or empty: not used); without a column
    of kinds a reading that names a target is a sighting of it. `skip_lines` are passed over at the
    top; then lines that begin with `comment_sign`; then comes a row of column names if
    `has_names`.
    `angle_zero_deg` is what the instrument's angle shows in the zero direction, in the file's own
    sense of rotation; `distance_zero_mm` the zero error of the distance: both are subtracted.
    `no_return` holds what stands in the distance's place where nothing came back, beside a blank
    and 0. `look` is what the files look like, so that the next one is recognised; without it the
    profile is used only where it is asked for.

    Raises `SurveyError` when made with values that mean nothing.
    """

    name: str
    columns: tuple[str, ...]
    angle_unit: str
    distance_unit: str
    rotation: str
    separator: str = "comma"
    decimal_comma: bool = False
    skip_lines: int = 0
    has_names: bool = False
    comment_sign: str = "#"
    angle_zero_deg: float = 0.0
    distance_zero_mm: float = 0.0
    no_return: tuple[str, ...] = ()
    encoding: str = "UTF-8"
    look: Look | None = None

    def __post_init__(self) -> None:
        check_name(self.name)
        self._check_columns()
        for value, allowed, title in (
            (self.angle_unit, FULL_TURN, "The angle unit"),
            (self.distance_unit, METRES, "The distance unit"),
            (self.rotation, CLOCKWISE, "The rotation"),
            (self.separator, SEPARATORS, "The separator"),
            (self.encoding, ENCODINGS, "The encoding"),
        ):
            if value not in allowed:
                self._bad(f"{title.lower()} is {value!r}", f"one of {', '.join(allowed)}")
        if self.decimal_comma and self.separator == "comma":
            self._bad(
                "a decimal comma cannot be told from a comma between values", "another separator"
            )
        if not 0 <= self.skip_lines <= MOST_SKIPPED_LINES:
            self._bad(f"{self.skip_lines} lines are skipped", f"0 to {MOST_SKIPPED_LINES}")
        if not _COMMENT_SIGN.fullmatch(self.comment_sign):
            self._bad(f"the comment sign is {self.comment_sign!r}", "up to three signs such as #")
        if not abs(self.angle_zero_deg) <= 360.0:
            self._bad(f"the angle's zero is {self.angle_zero_deg:g} degrees", "-360 to 360")
        if not abs(self.distance_zero_mm) <= LARGEST_DISTANCE_ZERO_MM:
            most = f"{LARGEST_DISTANCE_ZERO_MM:g}"
            self._bad(f"the distance's zero is {self.distance_zero_mm:g} mm", f"-{most} to {most}")
        self._check_no_return()
        self._check_look()

    def _bad(self, found: str, expected: str) -> None:
        raise SurveyError(f"The profile {self.name!r}: {found}; expected {expected}.")

    def _check_columns(self) -> None:
        if not 2 <= len(self.columns) <= MOST_COLUMNS:
            self._bad(f"there are {len(self.columns)} columns", f"2 to {MOST_COLUMNS}")
        for meaning in self.columns:
            if meaning and meaning not in MEANINGS:
                self._bad(f"a column holds {meaning!r}", f"one of {', '.join(MEANINGS)}")
            if meaning and self.columns.count(meaning) > 1:
                self._bad(f"two columns hold the {meaning}", "one")
        for meaning in REQUIRED:
            if meaning not in self.columns:
                self._bad(f"no column holds the {meaning}", "one")
        if "kind" in self.columns and "target" not in self.columns:
            self._bad("a column holds the kind, but none the target", "both, or the target alone")
        if "zenith" in self.columns and ELEVATION in self.columns:
            self._bad("columns hold the zenith and the elevation", "one of them")

    def _check_no_return(self) -> None:
        if len(self.no_return) > MOST_NO_RETURN:
            self._bad(f"{len(self.no_return)} values mean no return", f"up to {MOST_NO_RETURN}")
        for word in self.no_return:
            if not word.strip() or len(word) > LONGEST_WORD or not word.isprintable():
                self._bad(
                    f"{word[:LONGEST_WORD]!r} means no return",
                    f"a number or a word of up to {LONGEST_WORD} letters",
                )

    def _check_look(self) -> None:
        if self.look is None:
            return
        count = len(self.columns)
        if len(self.look.contents) != count or len(self.look.spans) != count:
            self._bad("its look has another number of columns than the profile", f"{count}")
        if len(self.look.names) not in (0, count) or bool(self.look.names) != self.has_names:
            self._bad("its look has other column names than the profile says", "a name a column")
        for content in self.look.contents:
            if content not in CONTENTS:
                self._bad(f"a column looks like {content!r}", f"one of {', '.join(CONTENTS)}")
        for span in self.look.spans:
            if span is not None and not (all(map(isfinite, span)) and span[0] <= span[1]):
                self._bad(f"a column's numbers run from {span[0]} to {span[1]}", "two numbers")

    def reads_like(self, other: Profile) -> bool:
        """Whether both read any file alike: all but the name and the look is equal."""
        return all(
            getattr(self, part.name) == getattr(other, part.name)
            for part in fields(self)
            if part.name not in ("name", "look")
        )

    def column(self, meaning: str) -> int:
        """The place of the column with this meaning; ValueError when there is none."""
        return self.columns.index(meaning)


def check_name(name: str) -> None:
    """Raise `SurveyError` for a name that no profile can be kept under."""
    if not name.strip() or name != name.strip():
        raise SurveyError(
            f"The profile's name is {name[:LONGEST_NAME]!r}; expected a name without blanks around."
        )
    if len(name) > LONGEST_NAME or not name.isprintable() or "/" in name or "\\" in name:
        raise SurveyError(
            f"The profile's name is {name[:LONGEST_NAME]!r}; expected up to {LONGEST_NAME} letters "
            "without slashes and line breaks."
        )
