# SPDX-License-Identifier: GPL-2.0-or-later
"""Reading a survey: one file, or a folder of files, with one or more captures each.

The files are gone through one by one, and the captures put where the caller wants them: in memory
for a plan, which needs all of them at once, or in a `spool.Spool` for an import.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from ..errors import Cancelled, SurveyError
from ..progress import SILENT, Progress
from .checks import check_capture
from .checks_survey import SurveyChecks
from .decoding import is_binary
from .findings import Rules
from .flags import flag_capture
from .lag import LagEstimate
from .model import Capture, KnownPoint, Survey
from .noise import Noise, NoiseEstimate
from .profile import Profile
from .profiled_text import is_unmarked
from .readers import CAPTURE_TEXT, READERS, Reader, reader_of
from .sources import HEAD_BYTES, Source, opened, printable, source_at, sources_in, whole
from .spool import Spool, in_memory
from .unmarked import PassedOver, read_by_profiles, unmarked

_OF_A_FILE = 4096
# Opening a file takes as long as reading so many bytes: what the progress counts by.


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
    spool: Spool | None = None,
    latest: datetime | None = None,
    progress: Progress = SILENT,
) -> Survey:
    """All captures of a file, or of the files in a folder in the order of their names: read, their
    readings flagged as `flag_readings` does, freed of the lag between sweeps there and back as
    `LagEstimate` tells it, and checked.

    A file's reader is chosen by its content. In a folder, files that hold no captures are passed
    over and named in a warning; sub-folders and hidden files are not entered. Units and rotation,
    where given, win over the files'. Text files that do not say what they are are read as `profile`
    says, or without it as the one of the kept `profiles` whose files look the same. With
    `skip_unreadable` what cannot be read is left out and told in `Survey.skipped`. Digests are kept
    by file name.

    With a spool the readings of the survey's captures stay on disk, and memory holds one capture.
    `latest` is the time after which a capture cannot have been taken; without it that is not
    checked.

    Raises `SurveyError` naming file and line where a file is bad, when two files have the same
    content, when two captures give their station one name, and when there is no capture at all.
    """
    rules = Rules(angle_unit, distance_unit, rotation, skip_unreadable, profile, tuple(profiles))
    noise = NoiseEstimate()
    read = read_files(Path(path), rules, spool, noise.add, progress.part(0.0, 0.25))
    worth = noise.result()
    lag = LagEstimate()

    def flagged(index: int, capture: Capture) -> Capture:
        capture = flag_capture(capture, worth[index], min_distance_m, max_distance_m)
        lag.add(capture)
        return capture

    read.each(flagged, progress.part(0.25, 0.75))
    checks = _Checks(lag, worth, SurveyChecks(latest))
    read.each(checks.checked, progress.part(0.75, 1.0))
    read.warnings += lag.warnings()
    found = checks.across.findings()
    read.warnings += found.warnings
    for index, capture in enumerate(read.captures):
        if capture.station in found.remarks:
            read.keep(index, found.applied(capture))
    return read.survey()


@dataclass
class _Checks:
    """The checks of captures that are flagged, once the instrument's lag is known."""

    lag: LagEstimate
    noise: list[Noise]
    across: SurveyChecks

    def checked(self, index: int, capture: Capture) -> Capture:
        capture = self.lag.freed(index, capture)
        return self.across.add(check_capture(capture, self.noise[index]))


@dataclass
class FilesRead:
    """What has been read so far, and what was found on the way."""

    skip: bool
    spool: Spool | None = None
    captures: list[Capture] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    digests: dict[str, str] = field(default_factory=dict)
    known_points: list[KnownPoint] = field(default_factory=list)
    by_station: dict[str, Capture] = field(default_factory=dict)
    by_digest: dict[str, str] = field(default_factory=dict)
    tried: int = 0

    def bad(self, message: str) -> None:
        """Something cannot be read: raises `SurveyError`, or notes that it was skipped."""
        if not self.skip:
            raise SurveyError(message)
        self.skipped.append(message)

    def add(self, part: Survey, digest: str, seen: Callable[[Capture], None] | None) -> None:
        """Take what a file of that digest holds; a station that is there already is not taken."""
        if part.captures:
            self.by_digest[digest] = part.captures[0].capture_file
        self.skipped += part.skipped
        self.warnings += part.warnings
        self.digests.update(part.digests)
        self.known_points += part.known_points
        for capture in part.captures:
            other = self.by_station.get(capture.station)
            if other is not None:
                self.bad(
                    f"{_place(capture)}: the station name {capture.station!r} is used before, in "
                    f"{_place(other)}; expected a name of its own for each capture "
                    "('# station: ...')."
                )
                continue
            if seen is not None:
                seen(capture)
            kept = self.spool.put(capture) if self.spool else capture
            self.by_station[capture.station] = kept
            self.captures.append(kept)

    def keep(self, index: int, capture: Capture) -> None:
        """Put a changed capture in the place of the one it was made from."""
        if capture is not self.captures[index]:
            before = self.captures[index]
            self.captures[index] = self.spool.put(capture, before) if self.spool else capture

    def each(self, change: Callable[[int, Capture], Capture], progress: Progress) -> None:
        """Change every capture, one at a time in memory."""
        for index, capture in enumerate(progress.over(self.captures)):
            before = in_memory(capture)
            after = change(index, before)
            if after is not before:
                self.keep(index, after)
        progress.at(1.0)

    def survey(self) -> Survey:
        return Survey(
            tuple(self.captures),
            tuple(self.skipped),
            tuple(self.warnings),
            MappingProxyType(self.digests),
            tuple(self.known_points),
        )


def read_files(
    path: Path,
    rules: Rules,
    spool: Spool | None = None,
    seen: Callable[[Capture], None] | None = None,
    progress: Progress = SILENT,
) -> FilesRead:
    """Read every file, and no more: nothing is flagged or checked. `seen` is told each capture that
    is taken, while it is in memory. Raises `SurveyError` as `import_captures` does."""
    read = FilesRead(rules.skip_unreadable, spool)
    passed_over = PassedOver()
    folder = os.path.isdir(path)  # Path.is_dir raises where a folder above may not be entered
    sources = sources_in(path, progress.part(0.0, 0.02)) if folder else [_named(path)]
    total = sum(source.size + _OF_A_FILE for source in sources)
    done = 0
    for source in sources:
        start, done = done, done + source.size + _OF_A_FILE
        step = progress.part(0.02 + 0.98 * start / total, 0.02 + 0.98 * done / total)
        step.at(0.0)
        try:
            content = _content(source, rules, read, passed_over if folder else None)
        except Cancelled:
            raise
        except SurveyError as error:
            if not read.skip:
                raise
            read.skipped.append(str(error))
            continue
        if content is not None:
            reader, data = content
            read.add(reader.read(data, source.name, rules, step), sha256(data).hexdigest(), seen)
    if folder and not read.tried:
        _no_captures(path, sources, passed_over)
    if not read.captures:
        told = read.skipped[:1] or read.warnings[-1:]
        why = f" ({told[0]})" if told else ""
        raise SurveyError(f"{printable(path.name)}: no capture could be read{why}.")
    read.warnings += [*read_by_profiles(read.survey()), *passed_over.warnings()]
    progress.at(1.0)
    return read


def _named(path: Path) -> Source:
    """The one file that the user named."""
    source = source_at(path)
    if source.missing:
        raise SurveyError(
            f"{printable(str(path))}: there is no such file or folder; expected capture files."
        )
    if source.fault:
        raise SurveyError(f"{printable(str(path))}: {source.fault}")
    return source


def _content(
    source: Source, rules: Rules, read: FilesRead, passed_over: PassedOver | None
) -> tuple[Reader, bytes] | None:
    """A file's reader and content; None when it is passed over, as files in a folder may be that
    hold no captures. Raises `SurveyError` where it cannot be read."""
    if source.fault and passed_over is not None and not source.meant:
        passed_over.no_captures.append(source.name)
        return None
    if source.fault:
        raise SurveyError(f"{source.name}: {source.fault}")
    with opened(source) as stream:
        head = stream.read(HEAD_BYTES)
        reader = reader_of(head, rules, source.name)
        if reader is None and (not head.strip() or is_binary(head)) and source.is_text:
            reader = CAPTURE_TEXT  # it says what is wrong
        if reader is None and passed_over is not None:
            passed_over.add(source.name, head, rules)
            return None
        if reader is None and is_unmarked(head):
            raise SurveyError(unmarked(head, rules, source.name))
        if reader is None and (source.is_text or not head.strip()):
            reader = CAPTURE_TEXT
        if reader is None:
            raise SurveyError(f"{source.name}: the file holds no captures; expected {_formats()}.")
        read.tried += 1
        data = whole(source, stream, head)
    other = read.by_digest.get(sha256(data).hexdigest())
    if other is not None:
        raise SurveyError(
            f"{source.name}: the file has the same content as {other}; expected each capture once."
        )
    return reader, data


def _no_captures(folder: Path, sources: Sequence[Source], passed_over: PassedOver) -> None:
    """Raises `SurveyError` about a folder in which no file was found to read."""
    if passed_over.unmarked:
        raise SurveyError(passed_over.first_unmarked)
    there = ", ".join(source.name for source in sources[:5]) or "nothing"
    more = ", ..." if len(sources) > 5 else ""
    raise SurveyError(
        f"{printable(str(folder))}: the folder holds no captures; found {there}{more}, expected "
        f"files of {_formats()}."
    )


def _formats() -> str:
    return " or ".join(reader.name for reader in READERS)


def _place(capture: Capture) -> str:
    line = capture.line
    return f"{capture.capture_file}{f', readings from line {line[0]}' if line[:1].any() else ''}"
