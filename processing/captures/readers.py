# SPDX-License-Identifier: GPL-2.0-or-later
"""The readers of capture files, chosen by content. Another format is one more entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..progress import Progress
from .capture_text import is_capture_text, read_capture_text
from .findings import Rules
from .model import Survey
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


CAPTURE_TEXT = Reader("capture text", is_capture_text, _text)
SCAN_JSON = Reader("laser scan JSON", is_scan_json, _scan)
READERS: tuple[Reader, ...] = (SCAN_JSON, CAPTURE_TEXT)
"""In the order they are asked."""


def reader_of(head: bytes) -> Reader | None:
    """The reader whose format the first part of a file has, or None."""
    return next((reader for reader in READERS if reader.recognises(head)), None)
