# SPDX-License-Identifier: GPL-2.0-or-later
"""The readers of capture files, chosen by content. Another format is one more entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..progress import Progress
from .capture_text import is_capture_text, read_capture_text
from .findings import Rules
from .landxml import is_landxml, read_landxml
from .model import Survey
from .profile import Profile
from .profiled_text import is_unmarked, profile_for, read_profiled_text, says_nothing
from .scan_json import is_scan_json, read_scan_json


@dataclass(frozen=True)
class Reader:
    """A format: its name for messages, whether the first part of a file (bytes) looks like it, and
    what reads the content: ``read(data, file name, rules, progress)``."""

    name: str
    recognises: Callable[[bytes], bool]
    read: Callable[[bytes, str, Rules, Progress], Survey]


def _text(data: bytes, name: str, rules: Rules, progress: Progress) -> Survey:
    return read_capture_text(
        data,
        name=name,
        angle_unit=rules.angle_unit,
        distance_unit=rules.distance_unit,
        rotation=rules.rotation,
        skip_unreadable=rules.skip_unreadable,
        progress=progress,
    )


def _scan(data: bytes, name: str, rules: Rules, progress: Progress) -> Survey:
    # Units and rotation are fixed by the format.
    return read_scan_json(data, name=name, skip_unreadable=rules.skip_unreadable, progress=progress)


def _landxml(data: bytes, name: str, rules: Rules, progress: Progress) -> Survey:
    # Its units are declared in the file, its sense of rotation is the total station's.
    return read_landxml(data, name=name, skip_unreadable=rules.skip_unreadable, progress=progress)


CAPTURE_TEXT = Reader("capture text", is_capture_text, _text)
SCAN_JSON = Reader("laser scan JSON", is_scan_json, _scan)
LANDXML = Reader("LandXML", is_landxml, _landxml)
READERS: tuple[Reader, ...] = (SCAN_JSON, LANDXML, CAPTURE_TEXT)
"""In the order they are asked."""


def reader_of(head: bytes, rules: Rules | None = None, file: str = "the file") -> Reader | None:
    """The reader whose format the first part of a file has, or None.

    A text that says nothing of itself is read by the profile that was asked for, or by the kept one
    whose files look the same. Raises `SurveyError` when several kept profiles fit.
    """
    rules = rules or Rules()
    found = next((reader for reader in READERS if reader.recognises(head)), None)
    stated = rules.angle_unit and rules.distance_unit and rules.rotation and not rules.profile
    if found is None or (found is CAPTURE_TEXT and not stated and says_nothing(head)):
        profile = profile_for(head, rules, file)
        return _by(profile) if profile is not None else found
    return found


def _by(profile: Profile) -> Reader:
    def read(data: bytes, name: str, rules: Rules, progress: Progress) -> Survey:
        return read_profiled_text(data, profile, name=name, rules=rules, progress=progress)

    return Reader(f"text of the profile {profile.name!r}", is_unmarked, read)
