# SPDX-License-Identifier: GPL-2.0-or-later
"""Files that may hold captures, opened so that none of them can block or flood the reading.

A folder may hold anything: links to nowhere, pipes and devices that would wait for ever, files as
large as a disk, names that are no text. Each is told by its kind before it is opened, opened
without waiting, and read up to a limit.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from ..errors import SurveyError
from ..progress import SILENT, Progress

LARGEST_BYTES = 64 * 2**20
"""The largest file that is read: three million readings or so. Memory grows with a file's text."""

_PIECE = 2**20

HEAD_BYTES = 65536
"""A header and its column names stand within the first part of a file."""

TEXT_SUFFIXES = (".csv", ".txt")
SUFFIXES = (*TEXT_SUFFIXES, ".json", ".xml")
"""What a folder of captures holds under these names is meant as a capture, even if it is none."""

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


@dataclass(frozen=True)
class Source:
    """A file: its path, its name as it is shown and kept, its size in bytes (0 when not known).

    `fault` is the sentence that says why it is none that could be read, empty when it may be;
    `missing` tells that there is nothing at all.
    """

    path: Path
    name: str
    size: int = 0
    fault: str = ""
    missing: bool = False

    @property
    def meant(self) -> bool:
        """Whether its name says that it is meant as a capture."""
        return self.path.suffix.lower() in SUFFIXES

    @property
    def is_text(self) -> bool:
        """Whether its name says that it is meant as capture text."""
        return self.path.suffix.lower() in TEXT_SUFFIXES


def printable(name: str) -> str:
    r"""A file name as text on one line: bytes that are no text and signs that are not shown stand
    as in a program, such as ``\xff`` and ``\n``.

    >>> printable("caf\udce9\n.csv")
    'caf\\xe9\\n.csv'
    """
    if name.isprintable():
        return name
    text = os.fsencode(name).decode("utf-8", "backslashreplace")
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text
    )


def source_at(path: Path) -> Source:
    """The file, or what else there is, at a path that the user named."""
    return _told(path, lambda: os.stat(path))


def sources_in(folder: Path, progress: Progress = SILENT) -> list[Source]:
    """What lies in a folder, in the order of names: without sub-folders and hidden files.

    Raises `SurveyError` when the folder cannot be read.
    """
    try:
        with os.scandir(folder) as entries:
            found = sorted(entries, key=lambda entry: entry.name)
    except OSError as error:
        raise SurveyError(
            f"{printable(str(folder))}: the folder cannot be read ({error.strerror})."
        ) from error
    sources = []
    for index, entry in enumerate(found):
        if index % 256 == 0:
            progress.at(index / len(found))
        if entry.name.startswith("."):
            continue
        source = _told(folder / entry.name, entry.stat)
        if source.fault != _sentence("a folder"):
            sources.append(source)
    return sources


@contextmanager
def opened(source: Source) -> Iterator[BinaryIO]:
    """The file, open for reading bytes. Raises `SurveyError` when it cannot be read."""
    # Without O_NONBLOCK a pipe put in the file's place would wait for a writer.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(source.path, flags), "rb") as stream:
            status = os.fstat(stream.fileno())
            fault = _fault(status.st_mode)
            if fault:
                raise SurveyError(f"{source.name}: {fault}")
            yield stream
    except OSError as error:
        why = error.strerror or str(error)
        raise SurveyError(f"{source.name}: the file cannot be read ({why}).") from error


def whole(source: Source, stream: BinaryIO, head: bytes) -> bytes:
    """The content of a file of which the head has been read. Raises `SurveyError` when it is larger
    than `LARGEST_BYTES`, before it is read."""
    size = os.fstat(stream.fileno()).st_size
    parts = [head]
    # A file may grow while it is read, and some report no size at all.
    while size <= LARGEST_BYTES and (part := stream.read(_PIECE)):
        parts.append(part)
        size = max(size, sum(map(len, parts)))
    if size > LARGEST_BYTES:
        raise SurveyError(
            f"{source.name}: the file has {size / 2**20:,.0f} MiB or more; expected at most "
            f"{LARGEST_BYTES / 2**20:.0f} MiB. Cut it into several files."
        )
    return b"".join(parts)


def _told(path: Path, status_of: Callable[[], os.stat_result]) -> Source:
    name = printable(path.name)
    try:
        status = status_of()
    except OSError as error:
        fault = f"the file cannot be read ({error.strerror or error})."
        linked = os.path.islink(path)
        if isinstance(error, FileNotFoundError) and linked:
            fault = "the link leads nowhere; expected a file."
        missing = isinstance(error, (FileNotFoundError, NotADirectoryError)) and not linked
        return Source(path, name, fault=fault, missing=missing)
    return Source(path, name, status.st_size, _fault(status.st_mode))


def _fault(mode: int) -> str:
    if stat.S_ISREG(mode):
        return ""
    return _sentence(next((kind for test, kind in _KINDS if test(mode)), "no file"))


def _sentence(kind: str) -> str:
    return f"this is {kind}; expected a file."
