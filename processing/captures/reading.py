# SPDX-License-Identifier: GPL-2.0-or-later
"""Reading a survey: one file, or a folder of files, with one or more captures each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .findings import Rules
from .flags import flag_readings
from .lag import without_lag
from .model import Capture, Survey
from .profile import Profile
from .profiled_text import is_unmarked
from .readers import CAPTURE_TEXT, READERS, Reader, reader_of
from .unmarked import PassedOver, read_by_profiles, unmarked

# A header and its column names stand within the first part of a file.
_HEAD = 65536
# What a folder of captures holds under these names is meant as a capture, even if nothing is in it.
_CAPTURE_SUFFIXES = (".csv", ".txt")


def read_captures(
    path: Path,
    *,
    angle_unit: str | None = None,
    distance_unit: str | None = None,
    rotation: str | None = None,
    skip_unreadable: bool = False,
    profile: Profile | None = None,
    profiles: Sequence[Profile] = (),
    progress: Progress = SILENT,
) -> Survey:
    """All captures of a file, or of the files in a folder in the order of their names.

    A file's reader is chosen by its content. In a folder, files that hold no captures are passed
    over and named in a warning; sub-folders are not entered. Units and rotation, where given, win
    over the files'. Text files that do not say what they are are read as `profile` says, or without
    it as the one of the kept `profiles` whose files look the same. With `skip_unreadable` what
    cannot be read is left out and told in `Survey.skipped`. Digests are kept by file name.

    Raises `SurveyError` naming file and line where a file is bad, when two captures give their
    station one name, and when there is no capture at all.
    """
    path = Path(path)
    rules = Rules(angle_unit, distance_unit, rotation, skip_unreadable, profile, tuple(profiles))
    if path.is_dir():
        files, passed_over = _files(path, rules)
    elif path.is_file():
        files, passed_over = [(path, _reader_of_file(path, rules))], PassedOver()
    else:
        raise SurveyError(f"{path}: there is no such file or folder; expected capture files.")

    parts = []
    for index, (file, reader) in enumerate(files):
        step = progress.part(index / len(files), (index + 1) / len(files))
        parts.append(reader.read(_content(file), file.name, rules, step))
    survey = _joined(parts, skip_unreadable)
    survey = replace(
        survey,
        skipped=(*survey.skipped, *passed_over.skipped),
        warnings=(*survey.warnings, *read_by_profiles(survey), *passed_over.warnings()),
    )
    if not survey.captures:
        why = f" ({survey.skipped[0]})" if survey.skipped else ""
        raise SurveyError(f"{path.name}: no capture could be read{why}.")
    progress.at(1.0)
    return survey


def import_captures(
    path: Path,
    *,
    angle_unit: str | None = None,
    distance_unit: str | None = None,
    rotation: str | None = None,
    min_distance_m: float = 0.10,
    max_distance_m: float | None = None,
    skip_unreadable: bool = False,
    profile: Profile | None = None,
    profiles: Sequence[Profile] = (),
    progress: Progress = SILENT,
) -> Survey:
    """Read captures as `read_captures` does, flag their readings as `flag_readings` does, and free
    them of the lag between sweeps there and back as `without_lag` does."""
    survey = read_captures(
        path,
        angle_unit=angle_unit,
        distance_unit=distance_unit,
        rotation=rotation,
        skip_unreadable=skip_unreadable,
        profile=profile,
        profiles=profiles,
        progress=progress.part(0.0, 0.7),
    )
    flagged = flag_readings(
        survey,
        min_distance_m=min_distance_m,
        max_distance_m=max_distance_m,
        progress=progress.part(0.7, 1.0),
    )
    return without_lag(flagged)


def _content(file: Path, size: int = -1) -> bytes:
    try:
        with file.open("rb") as stream:
            return stream.read(size)
    except OSError as error:
        raise SurveyError(f"{file.name}: the file cannot be read ({error.strerror}).") from error


def _files(folder: Path, rules: Rules) -> tuple[list[tuple[Path, Reader]], PassedOver]:
    """The files of a folder that hold captures, each with its reader, and the rest."""
    files: list[tuple[Path, Reader]] = []
    passed_over = PassedOver()
    entries = sorted(folder.iterdir(), key=lambda entry: entry.name)
    for file in entries:
        if file.name.startswith(".") or not file.is_file():
            continue
        head = _content(file, _HEAD)
        try:
            reader = reader_of(head, rules, file.name)
        except SurveyError as ambiguous:
            if not rules.skip_unreadable:
                raise
            passed_over.skipped.append(str(ambiguous))
            continue
        empty = not head.strip() or b"\0" in head
        if reader is None and empty and file.suffix.lower() in _CAPTURE_SUFFIXES:
            reader = CAPTURE_TEXT  # it says what is wrong
        if reader is None:
            passed_over.add(file.name, head, rules)
        else:
            files.append((file, reader))
    if not files and passed_over.unmarked:
        raise SurveyError(passed_over.first_unmarked)
    if not files:
        there = ", ".join(entry.name for entry in entries[:5]) or "nothing"
        more = ", ..." if len(entries) > 5 else ""
        raise SurveyError(
            f"{folder}: the folder holds no captures; found {there}{more}, expected files of "
            f"{_formats()}."
        )
    return files, passed_over


def _formats() -> str:
    return " or ".join(reader.name for reader in READERS)


def _reader_of_file(file: Path, rules: Rules) -> Reader:
    """The reader of the one file that the user named: there, no reader is an error."""
    head = _content(file, _HEAD)
    reader = reader_of(head, rules, file.name)
    if reader is None and is_unmarked(head):
        raise SurveyError(unmarked(head, rules, file.name))
    if reader is None and (file.suffix.lower() in _CAPTURE_SUFFIXES or not head.strip()):
        return CAPTURE_TEXT
    if reader is None:
        raise SurveyError(f"{file.name}: the file holds no captures; expected {_formats()}.")
    return reader


def _joined(parts: list[Survey], skip: bool) -> Survey:
    """One survey of all files, in which every station has a name of its own."""
    first: dict[str, Capture] = {}
    skipped = [sentence for part in parts for sentence in part.skipped]
    for capture in (capture for part in parts for capture in part.captures):
        other = first.setdefault(capture.station, capture)
        if other is capture:
            continue
        message = (
            f"{_place(capture)}: the station name {capture.station!r} is used before, in "
            f"{_place(other)}; expected a name of its own for each capture ('# station: ...')."
        )
        if not skip:
            raise SurveyError(message)
        skipped.append(message)
    return Survey(
        tuple(first.values()),
        tuple(skipped),
        tuple(sentence for part in parts for sentence in part.warnings),
        MappingProxyType({name: digest for part in parts for name, digest in part.digests.items()}),
    )


def _place(capture: Capture) -> str:
    line = f", readings from line {capture.line[0]}" if capture.line[:1].any() else ""
    return f"{capture.capture_file}{line}"
