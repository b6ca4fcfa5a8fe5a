# SPDX-License-Identifier: GPL-2.0-or-later
"""Text files that say nothing of themselves, read as a profile says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .cells import split
from .decoding import lines_of
from .findings import Findings, Rules, listed, shown
from .header import KEYS, Header
from .model import Capture, Survey
from .profile import ELEVATION, ENCODINGS, SEPARATORS, STATION, Profile
from .profile_look import STRIDE, Laid, can_read, fitting, laid_out
from .readings import to_capture
from .rows import read_in_parts
from .units import FULL_TURN

_BEGINNING = 200

PROFILE_KEY = "profile"
"""The key in `Capture.other` that names the profile a capture was read by."""

_KEY_LINE = re.compile(rb"^[ \t]*#+[ \t]*([A-Za-z_]{3,40})[ \t]*:", re.MULTILINE)
# So much of a table of numbers makes a text file look like a capture without a description.
_NUMBERS = re.compile(r"\s*[+-]?\d[\d.,eE+-]*(?:[\s;,\t]+[+-]?\d[\d.,eE+-]*)+")


def says_nothing(head: bytes) -> bool:
    """Whether the first part of a file has none of the header lines of capture text."""
    return not any(key.decode().lower() in KEYS for key in _KEY_LINE.findall(head))


def is_unmarked(head: bytes) -> bool:
    """Whether the first part of a file is a table of numbers that does not say what they are."""
    if b"\0" in head:
        return False
    # A row of a table tells by its beginning; the pattern's time grows with the square of a line.
    lines = [line[:_BEGINNING] for line in lines_of(head.decode("latin-1")) if line.strip()]
    return sum(bool(_NUMBERS.match(line)) for line in lines) >= max(2, len(lines) // 2)


def profile_for(head: bytes, rules: Rules, file: str) -> Profile | None:
    """The profile to read a file by that no other reader knows: the one that was asked for, else
    the kept one whose files look the same; None when there is none.

    Raises `SurveyError` when several kept profiles fit, since each would read another capture.
    """
    if rules.profile is not None:
        return rules.profile if can_read(head, rules.profile) else None
    fits = fitting(head, rules.profiles)
    if len(fits) > 1:
        names = listed([shown(profile.name) for profile in fits])
        raise SurveyError(
            f"{file}: the profiles {names} fit this text file equally well; expected PROFILE to "
            "say which one is meant."
        )
    return fits[0] if fits else None


def read_profiled_text(
    data: bytes,
    profile: Profile,
    *,
    name: str = "capture",
    rules: Rules = Rules(),  # noqa: B008 (frozen)
    progress: Progress = SILENT,
) -> Survey:
    """The captures of a text file that a profile describes.

    The units and the rotation of the rules win over the profile's. With a column of stations the
    file holds a capture for each name in it, in the order in which they come; else one, named as
    the file is. Raises `SurveyError` naming file and line; where the rules allow skipping, what
    cannot be read is left out and told in `Survey.skipped`.
    """
    findings = Findings(name, rules.skip_unreadable)
    captures: list[Capture] = []
    laid = laid_out(_decoded(data, profile, findings), profile, progress.part(0.0, 0.2))
    if _names_agree(laid, profile, findings):
        if not laid.rows:
            findings.bad("the file holds no readings; expected rows of numbers.")
        units = _units(profile, rules, findings)
        stations = _stations(laid, profile, findings, progress.part(0.2, 0.4))
        for step, (station, part) in progress.part(0.4, 1.0).each(list(stations)):
            capture = _capture(station, part, profile, units, findings, step)
            if capture is not None:
                captures.append(capture)
    return Survey(
        tuple(captures),
        tuple(findings.skipped),
        tuple(findings.warnings),
        MappingProxyType({name: sha256(data).hexdigest()}),
    )


def _decoded(data: bytes, profile: Profile, findings: Findings) -> list[str]:
    try:
        return lines_of(data.decode(ENCODINGS[profile.encoding]))
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        findings.bad(f"the text is not {profile.encoding}, as {_named(profile)} says.", line)
        return []


def _named(profile: Profile) -> str:
    return f"the profile {shown(profile.name)}"


def _names_agree(laid: Laid, profile: Profile, findings: Findings) -> bool:
    """Whether the columns are called as they were in the file described: in another order they
    would be read as what they are not."""
    if profile.look is None or not profile.has_names or not laid.names_line:
        return True
    for place, (meaning, kept) in enumerate(zip(profile.columns, profile.look.names)):
        own = laid.names[place].casefold() if place < len(laid.names) else ""
        if meaning and own != kept:
            findings.bad(
                f"column {place + 1} is called {shown(own)}; expected {shown(kept)}, as "
                f"{_named(profile)} has the {meaning} there.",
                laid.names_line,
            )
            return False
    return True


def _units(profile: Profile, rules: Rules, findings: Findings) -> dict[str, str]:
    """Units and rotation: the user's word first, then the profile's."""
    chosen = {}
    for key in ("angle_unit", "distance_unit", "rotation"):
        own, asked = getattr(profile, key), getattr(rules, key)
        if asked is not None and asked != own:
            findings.warn(f"{key} is {own} in {_named(profile)}; {asked} was asked for and used.")
        chosen[key] = asked or own
    return chosen


def _stations(
    laid: Laid, profile: Profile, findings: Findings, progress: Progress
) -> Iterator[tuple[str, Laid]]:
    """The rows of each station; all of them under no name without a column of stations."""
    if STATION not in profile.columns:
        if laid.rows:
            yield "", laid
        return
    place = profile.column(STATION)
    parts: dict[str, Laid] = {}
    for start in progress.over(range(0, len(laid.rows), STRIDE)):
        rows = laid.rows[start : start + STRIDE]
        cells = split(rows, SEPARATORS[profile.separator])
        for row, line, found in zip(rows, laid.lines[start : start + STRIDE], cells):
            station = found[place].strip() if place < len(found) else ""
            if not station:
                findings.bad("the row names no station; expected a name.", line)
                continue
            part = parts.setdefault(station, Laid())
            part.rows.append(row)
            part.lines.append(line)
            part.cut_off = laid.cut_off and line == laid.lines[-1]
    yield from parts.items()


def _capture(
    station: str,
    part: Laid,
    profile: Profile,
    units: dict[str, str],
    findings: Findings,
    progress: Progress,
) -> Capture | None:
    raw = read_in_parts(
        part.rows,
        part.lines,
        ["zenith" if meaning == ELEVATION else meaning for meaning in profile.columns],
        SEPARATORS[profile.separator],
        units["angle_unit"],
        findings,
        progress,
        decimal_comma=profile.decimal_comma,
        no_return=profile.no_return,
        from_horizontal=ELEVATION in profile.columns,
        named_are_sighted=True,
        cut_off=part.cut_off,
    )
    if not len(raw.line):
        findings.bad("no reading of this capture can be read.", part.lines[0])
        return None
    if profile.angle_zero_deg:
        turn = FULL_TURN[units["angle_unit"]]
        raw = replace(raw, angle=raw.angle - profile.angle_zero_deg * turn / 360.0)
    header = Header()
    header.add(PROFILE_KEY, profile.name, findings)
    header.add(STATION, station, findings)
    if profile.distance_zero_mm:
        header.add("distance_zero_mm", repr(float(profile.distance_zero_mm)), findings)
    return to_capture(
        raw, header, capture_file=findings.file, default_station=Path(findings.file).stem, **units
    )
