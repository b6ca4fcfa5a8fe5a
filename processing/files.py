# SPDX-License-Identifier: GPL-2.0-or-later
"""Files that appear whole and together, or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from .databases import copied, is_database, written_over
from .errors import SurveyError
from .progress import SILENT, Progress

SQLITE_COMPANIONS = ("-wal", "-shm", "-journal")


def before_of(path: Path) -> Path:
    """Where the last version of a database is kept that was written over."""
    return path.with_name(f"{path.stem}.before{path.suffix}")


def write_text(path: Path, text: str | Iterable[str]) -> None:
    """Write a text, whole or in parts, in UTF-8. What is no text, as bytes of a file's name may be,
    is written as its escape: it must not keep a report from being written, and stays good JSON."""
    with path.open("w", encoding="utf-8", errors="backslashreplace") as file:
        file.writelines([text] if isinstance(text, str) else text)


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """A folder for temporary files, which goes with the block; SurveyError where none can be made,
    on a full disk for instance."""
    try:
        folder = Path(tempfile.mkdtemp(prefix="roomtie-"))
    except OSError as error:
        raise SurveyError(
            f"{error.filename or 'Temporary files'}: no folder for temporary files could be made: "
            f"{error.strerror or error}."
        ) from error
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def put_in_place(draft: Path, path: Path, progress: Progress = SILENT) -> None:
    """Move a draft to its place. A database over one that is there is written in one transaction
    (`databases.written_over`): others may have it open, and a journal that was left beside it would
    spoil what is merely moved there. OSError or SurveyError where it cannot be done, and Cancelled;
    what stood there is as it was then."""
    if _is_database(path) and _is_database(draft):
        written_over(path, draft, progress)
        draft.unlink()
    else:
        os.replace(draft, path)


def _is_database(path: Path) -> bool:
    return path.is_file() and is_database(path)


@contextmanager
def all_or_nothing(
    over: Collection[Path] = (), progress: Progress = SILENT
) -> Iterator[Callable[[Path], Path]]:
    """Gives a function that names a draft beside the place of each file to write.

    When the block ends, all drafts move to their places (`put_in_place`), databases first; when it
    fails, they are taken away and what stood there before stays. An OSError becomes a SurveyError
    that names the file. What files ``over`` held is kept beside them (`before_of`). A cancel is
    heard while large files are copied, until the first one is in its place.

    >>> with all_or_nothing() as draft:
    ...     draft(Path("plan.html")).write_text("…")
    """
    drafts: dict[Path, Path] = {}

    def draft_of(path: Path) -> Path:
        draft = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
        drafts[path] = draft
        path.parent.mkdir(parents=True, exist_ok=True)
        return draft

    try:
        yield draft_of
        for path, draft in drafts.items():
            if not draft.exists():
                raise SurveyError(f"{path}: nothing was written.")
        for step, path in progress.part(0.0, 0.5).each(list(over)):
            copied(path, draft_of(before_of(path)), step)
        for path in over:
            os.replace(drafts.pop(before_of(path)), before_of(path))
        heard = SILENT if over else progress.part(0.5, 1.0)
        for path, draft in sorted(drafts.items(), key=lambda of: not _is_database(of[1])):
            put_in_place(draft, path, heard)
            heard = SILENT
    except OSError as error:
        places = {str(draft): path for path, draft in drafts.items()}
        named = str(error.filename) if error.filename else ", ".join(map(str, drafts))
        where = places.get(named, named)
        raise SurveyError(f"{where}: could not be written: {error.strerror or error}.") from error
    finally:
        for draft in drafts.values():
            for left in (draft, *(Path(f"{draft}{end}") for end in SQLITE_COMPANIONS)):
                with suppress(OSError):
                    left.unlink()
