# SPDX-License-Identifier: GPL-2.0-or-later
"""What the first part of a text file comes to when it is read as a profile says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..processing.errors import SurveyError
from .profile_table import MOST_LINES, NAMES, ROW, SKIPPED
from .translation import tr

_LONGEST_CELL = 40
_LONGEST_LINE = 200

if TYPE_CHECKING:
    from ..processing.captures.model import Capture, Survey
    from ..processing.captures.profile import Profile


def head_of(path: Path) -> bytes:
    """The first part of a file. Raises `SurveyError` when it cannot be read or is no text."""
    from ..processing.captures.decoding import is_binary
    from ..processing.captures.sources import HEAD_BYTES, opened, source_at

    source = source_at(path)
    if source.fault:
        raise SurveyError(f"{source.name}: {source.fault}")
    with opened(source) as stream:
        head = stream.read(HEAD_BYTES)
    if not head.strip():
        raise SurveyError(f"{source.name}: the file is empty; expected a table of numbers.")
    # UTF-16 without its mark has zeros in every other place.
    if is_binary(head) and not 0.3 < head.count(b"\0") / len(head) < 0.6:
        raise SurveyError(f"{source.name}: the file is binary; expected a table of numbers.")
    return head


def reads_itself(head: bytes) -> str:
    """The name of the format that says itself what the file holds; empty for an unmarked text."""
    from ..processing.captures.profiled_text import says_nothing
    from ..processing.captures.readers import CAPTURE_TEXT, reader_of

    reader = reader_of(head)
    if reader is None or (reader is CAPTURE_TEXT and says_nothing(head)):
        return ""
    return reader.name


def layout_of(values: dict[str, Any]) -> Profile:
    """A profile that splits lines as the values say, whatever the columns hold."""
    from ..processing.captures.profile import Profile

    parts = ("separator", "skip_lines", "has_names", "comment_sign", "encoding")
    return Profile(
        name="layout",
        columns=("angle", "distance"),
        angle_unit="deg",
        distance_unit="m",
        rotation="clockwise",
        **{part: values[part] for part in parts},
    )


def first_lines(head: bytes, layout: Profile) -> tuple[list[tuple[int, str, list[str]]], int]:
    """The first lines (number, what they are, cells) and the usual number of columns."""
    from ..processing.captures.cells import split
    from ..processing.captures.profile import MOST_COLUMNS, SEPARATORS
    from ..processing.captures.profile_look import head_lines, laid_out

    lines = head_lines(head, layout)
    laid = laid_out(lines, layout)
    separator = SEPARATORS[layout.separator]
    counts = Counter(len(cells) for cells in split(laid.rows[:2000], separator))
    columns = counts.most_common(1)[0][0] if counts else 1
    if columns > MOST_COLUMNS:
        raise SurveyError(
            tr("The lines split into {count} columns; expected at most {most}.").format(
                count=columns, most=MOST_COLUMNS
            )
        )
    rows = set(laid.lines)
    shown = []
    for number, line in enumerate(lines[:MOST_LINES], start=1):
        if number in rows or number == laid.names_line:
            what = ROW if number in rows else NAMES
            cells = split([line], separator)[0][:MOST_COLUMNS]
            shown.append((number, what, [cell[:_LONGEST_CELL] for cell in cells]))
        elif line.strip():
            shown.append((number, SKIPPED, [line[:_LONGEST_LINE]]))
    return shown, columns


@dataclass(frozen=True)
class Preview:
    """The captures read, what they come to in words, and what is wrong (empty: nothing)."""

    captures: tuple[Capture, ...]
    summary: str
    fault: str


def preview(head: bytes, profile: Profile, file: str) -> Preview:
    """Read the first part of a file as the profile says; bad lines are told, not raised."""
    from ..processing.captures.findings import Rules
    from ..processing.captures.plausible_units import check_units
    from ..processing.captures.profiled_text import read_profiled_text
    from ..processing.captures.sources import HEAD_BYTES

    if len(head) == HEAD_BYTES:
        head = _whole_lines(head, profile.encoding)
    survey = read_profiled_text(head, profile, name=file, rules=Rules(skip_unreadable=True))
    fault = _fault(survey)
    if not fault and survey.captures:
        remarks = check_units(survey.captures[0])
        fault = remarks[0].sentence if remarks else ""
    return Preview(survey.captures, _summary(survey.captures), fault)


def _whole_lines(head: bytes, encoding: str) -> bytes:
    """The first part of a file without its last line, which may be cut off."""
    end = b"\n"
    if encoding == "UTF-16":
        end = b"\0\n" if head.startswith(b"\xfe\xff") else b"\n\0"
    return head[: head.rfind(end) + len(end)]


def _fault(survey: Survey) -> str:
    if not survey.skipped:
        return ""
    more = len(survey.skipped) - 1
    return survey.skipped[0] + (tr(" ({count} more like this)").format(count=more) if more else "")


def _summary(captures: Sequence[Capture]) -> str:
    import numpy as np

    if not captures:
        return tr("No reading can be read.")
    angle = captures[0].angle_deg
    clockwise = np.sign(np.diff(angle)).sum() >= 0
    distance = np.concatenate([capture.slope_distance_m for capture in captures])
    back = distance[np.isfinite(distance)]
    stations = tr("1 station") if len(captures) == 1 else tr("{n} stations").format(n=len(captures))
    lines = [
        tr("{stations}, {readings} readings, {gone} without a return").format(
            stations=stations, readings=len(distance), gone=len(distance) - len(back)
        ),
        tr("The ring turns {way} over {turn:.1f}°").format(
            way=tr("clockwise") if clockwise else tr("counterclockwise"),
            turn=angle.max() - angle.min(),
        ),
    ]
    if len(back):
        lines.append(
            tr("Distances {low:.2f} m to {high:.2f} m, half below {middle:.2f} m").format(
                low=back.min(), high=back.max(), middle=float(np.median(back))
            )
        )
    return "\n".join(lines)
