# SPDX-License-Identifier: GPL-2.0-or-later
"""SQLite files (GeoPackages) that others may have open: copied as they are at one instant, and
written over in one transaction.

Both use SQLite's online backup (https://www.sqlite.org/backup.html), which keeps to the locks and
journals of the file: renaming a file over one that is open leaves others on the old one, cannot be
done at all on Windows, and lets a journal that was left behind spoil the new one.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from .errors import SurveyError
from .progress import SILENT, Progress

HEAD = b"SQLite format 3\x00"
PAGES = 256
"""So many pages (a megabyte) at a time, and the user is heard."""

PATIENCE_S = 10.0
PAUSE_S = 0.05
DONE = 101
"""SQLITE_DONE (https://www.sqlite.org/rescode.html#done); `sqlite3` names it from Python 3.11."""


def is_database(path: Path) -> bool:
    """Whether a file begins as an SQLite file; OSError where it cannot be read."""
    with path.open("rb") as file:
        return file.read(len(HEAD)) == HEAD


def address_to_read(path: Path) -> str:
    """The address by which SQLite opens a database to read it, and leaves nothing beside it."""
    address = f"{path.absolute().as_uri()}?mode=ro"
    if not Path(f"{path}-wal").exists():
        # Nobody has a change under way in a journal of the newer kind. SQLite would make such a
        # journal for reading, and leave it there.
        address += "&immutable=1"
    return address


def copied(path: Path, to: Path, progress: Progress = SILENT) -> None:
    """Write to a new file what the database holds at this instant; the database itself is only
    read. SurveyError where it cannot be."""
    try:
        with (
            closing(sqlite3.connect(address_to_read(path), uri=True)) as source,
            closing(sqlite3.connect(to)) as target,
        ):
            source.backup(target, pages=PAGES, progress=_heard(progress))
    except sqlite3.Error as error:
        raise SurveyError(f"{path}: could not be read ({error}).") from error


def written_over(path: Path, by: Path, progress: Progress = SILENT) -> None:
    """Make the database hold what another file holds, in one transaction: at any instant, also
    when the process is killed, it is the old one or the new one, and others who have it open see
    the change. SurveyError where someone else writes to it, or goes on reading it; it is then as it
    was, as after a cancel."""
    progress.at(0.0)
    try:
        with (
            closing(sqlite3.connect(by)) as source,
            closing(sqlite3.connect(path)) as target,
        ):
            source.backup(target, pages=PAGES, progress=_Patience(path, progress), sleep=PAUSE_S)
    except sqlite3.Error as error:
        raise SurveyError(_NOT_WRITTEN.format(path=path, reason=error)) from error


class _Patience:
    """Watches the writing: the backup itself would wait for ever for those who have the file."""

    def __init__(self, path: Path, progress: Progress) -> None:
        self._path, self._progress = path, progress
        self._left = -1
        self._since = time.monotonic()

    def __call__(self, status: int, left: int, total: int) -> None:
        if status == DONE:  # it holds the new content: a cancel comes too late
            return
        now = time.monotonic()
        if left != self._left:
            self._left, self._since = left, now
        elif now - self._since > PATIENCE_S:
            raise SurveyError(_NOT_WRITTEN.format(path=self._path, reason="it is in use"))
        self._progress.at(1.0 - left / max(total, 1))


_NOT_WRITTEN = (
    "{path}: could not be written ({reason}); expected a file that no other program is using. It "
    "is as it was."
)


def closed_for_good(path: Path) -> None:
    """Bring all into the one file, with a journal of the older kind that leaves no companions."""
    try:
        with closing(sqlite3.connect(path)) as database:
            database.execute("PRAGMA journal_mode = DELETE").fetchall()
    except sqlite3.Error as error:
        raise SurveyError(
            f"{path.parent}: the GeoPackage could not be closed ({error})."
        ) from error


def _heard(progress: Progress) -> Callable[[int, int, int], None]:
    def step(status: int, remaining: int, total: int) -> None:
        del status
        progress.at(1.0 - remaining / max(total, 1))

    return step
