# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan's files on disk: one state of them put in the place of another, whole or not at all."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from pathlib import Path

from ..processing.databases import address_to_read, copied, written_over
from ..processing.errors import SurveyError
from ..processing.files import all_or_nothing
from ..processing.progress import Progress
from .translation import tr

KEPT = 5
"""Earlier states that can be brought back."""


class Versions:
    """Earlier states of plans, in a temporary folder of their own until `close`."""

    def __init__(self) -> None:
        self._folder: tempfile.TemporaryDirectory | None = None
        self._kept: list[Path] = []
        self._count = 0

    def new_folder(self) -> Path:
        """An empty folder for a state."""
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="roomtie-")
        self._count += 1
        folder = Path(self._folder.name) / str(self._count)
        folder.mkdir()
        return folder

    def keep(self, folder: Path) -> None:
        """Keep a state; the oldest goes when there are too many."""
        self._kept.append(folder)
        while len(self._kept) > KEPT:
            shutil.rmtree(self._kept.pop(0), ignore_errors=True)

    def has(self, folder: Path) -> bool:
        """Whether a state can still be brought back."""
        return folder in self._kept

    def drop(self, folder: Path) -> None:
        shutil.rmtree(folder, ignore_errors=True)
        with suppress(ValueError):
            self._kept.remove(folder)

    def close(self) -> None:
        """Drop all."""
        if self._folder is not None:
            self._folder.cleanup()
        self._folder, self._kept = None, []


def companions(path: Path) -> list[Path]:
    """The reports that belong to a plan by their names."""
    return [path.with_suffix(ending) for ending in (".html", ".json")]


def save_state(path: Path, folder: Path, progress: Progress) -> None:
    """Copy a plan and its reports into a folder. SurveyError names a file that cannot be read."""
    copied(path, folder / path.name, progress)
    for companion in companions(path):
        if companion.is_file():
            shutil.copy2(companion, folder / companion.name)


def put_state(folder: Path, path: Path, progress: Progress) -> None:
    """Make a plan and its reports what they are in the folder, a report that is not there included.

    SurveyError where they cannot be written, Cancelled on a cancel: then all is as it was.
    """
    there = [one for one in companions(path) if (folder / one.name).is_file()]
    with all_or_nothing() as draft:
        for companion in there:
            shutil.copyfile(folder / companion.name, draft(companion))
        # Last, when all that may fail for want of space or leave has been done.
        written_over(path, folder / path.name, progress)
    for companion in companions(path):
        if companion not in there:
            with suppress(OSError):  # the plan is in its place: a report that stays is no failure
                companion.unlink()


def fingerprint(path: Path) -> list[tuple]:
    """When each layer of a plan was changed last; SurveyError where that cannot be read."""
    try:
        with closing(sqlite3.connect(address_to_read(path), uri=True)) as file:
            return file.execute(
                "SELECT table_name, last_change FROM gpkg_contents ORDER BY table_name"
            ).fetchall()
    except sqlite3.Error as error:
        raise SurveyError(
            tr("{path}: the plan could not be read ({reason}).").format(path=path, reason=error)
        ) from error
