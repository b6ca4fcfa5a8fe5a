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
from contextlib import closing, suppress
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
    address = path.absolute().as_uri()
    if Path(f"{path}-journal").exists():
        # Somebody is writing, or was killed at it: then SQLite brings back what was there before.
        return f"{address}?mode=rw"
    if _has_newer_journal(path) and not Path(f"{path}-wal").exists():
        # Nobody has it open. SQLite would make such a journal for reading, and leave it there.
        return f"{address}?mode=ro&immutable=1"
    return f"{address}?mode=ro"


def _has_newer_journal(path: Path) -> bool:
    """Whether the head says that changes are kept in a write-ahead log
    (https://www.sqlite.org/fileformat2.html, "File format version numbers")."""
    with suppress(OSError), path.open("rb") as file:
        return file.read(20)[19:] == b"\x02"
    return False


def copied(path: Path, to: Path, progress: Progress = SILENT) -> None:
    """Write to a new file what the database holds at this instant; the database itself is only
    read. SurveyError where it cannot be, and Cancelled."""
    try:
        with (
            closing(sqlite3.connect(address_to_read(path), uri=True)) as source,
            closing(sqlite3.connect(to)) as target,
        ):
            patience = _Patience(f"{path}: could not be read (it is in use).", progress)
            source.backup(target, pages=PAGES, progress=patience, sleep=PAUSE_S)
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
            in_use = _NOT_WRITTEN.format(path=path, reason="it is in use")
            patience = _Patience(in_use, progress)
            source.backup(target, pages=PAGES, progress=patience, sleep=PAUSE_S)
    except sqlite3.Error as error:
        raise SurveyError(_NOT_WRITTEN.format(path=path, reason=error)) from error


def wait_until_free(path: Path, progress: Progress = SILENT) -> None:
    """Wait while somebody writes to the database, and hear a cancel meanwhile; SurveyError where
    they go on."""
    until = time.monotonic() + PATIENCE_S
    while True:
        progress.at(0.0)
        try:
            with closing(sqlite3.connect(path, timeout=PAUSE_S, isolation_level=None)) as database:
                database.execute("BEGIN IMMEDIATE")
                database.execute("ROLLBACK")
            return
        except sqlite3.Error as error:
            busy = isinstance(error, sqlite3.OperationalError) and "locked" in str(error)
            if not busy or time.monotonic() > until:
                raise SurveyError(_NOT_WRITTEN.format(path=path, reason=error)) from error


class _Patience:
    """Watches a backup, which by itself would wait for ever for those who have the file, and ends
    it with a sentence."""

    def __init__(self, in_use: str, progress: Progress) -> None:
        self._in_use, self._progress = in_use, progress
        self._left = -1
        self._since = time.monotonic()

    def __call__(self, status: int, left: int, total: int) -> None:
        if status == DONE:  # it holds the new content: a cancel comes too late
            return
        now = time.monotonic()
        if left != self._left:
            self._left, self._since = left, now
        elif now - self._since > PATIENCE_S:
            raise SurveyError(self._in_use)
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
