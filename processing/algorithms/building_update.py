# SPDX-License-Identifier: GPL-2.0-or-later
"""An update of a maintained layer as one transaction, with its undo file, and the way back."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from qgis.core import QgsVectorLayer

from ..files import all_or_nothing
from ..progress import Progress
from .building_edits import Planned, check_states

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile
    from ..layers.maintained.session import Session


class _OnlyTried(Exception):
    """Ends a dry run, so that its transaction is rolled back."""


@dataclass(frozen=True)
class Way:
    """How an update is made: the day it tells (ISO 8601), whether it is only tried, and where its
    inverse is kept (None: nowhere)."""

    on: str
    dry: bool
    undo: Path | None


def updated(
    layer: QgsVectorLayer,
    session: Session,
    plan: Planned,
    profile: FieldProfile,
    way: Way,
    progress: Progress,
) -> bool:
    """Make the edits, all or none; whether they were made and not only tried.

    SurveyError where a room is not as it was compared, or the database refuses a change: then the
    layer and an undo file that was there are as before.
    """
    from ..layers.maintained.edits import Editor, Rules, undo_text

    named = hashlib.sha256("".join([way.on, *sorted(plan.state.values())]).encode())
    rules = Rules(profile.id, way.on, named.hexdigest()[:16], profile.valid_to)
    with (
        suppress(_OnlyTried),
        _put_back_on_failure(None if way.dry else way.undo),
        session.transaction([*plan.state], profile.id),
    ):
        check_states(layer, profile, plan.state, progress.part(0.0, 0.4))
        editor = Editor(session, rules)
        editor.make(plan.edits, progress.part(0.4, 1.0))
        if way.dry:
            raise _OnlyTried
        if way.undo is not None:
            # Before the commit: an update without its inverse would be the worse half.
            _write(way.undo, undo_text(session, rules, editor.steps))
        return True
    return False


def taken_back(
    session: Session, path: Path, profile: FieldProfile, dry: bool, progress: Progress
) -> int:
    """Take an update back by its undo file; how many steps. SurveyError where the file is none, or
    a row is not as the update left it: then nothing was changed."""
    from ..layers.maintained.edits import read_undo, take_back

    undo = read_undo(path, session)
    count = 0
    with suppress(_OnlyTried), session.transaction([], profile.id):
        count = take_back(session, undo, progress)
        if dry:
            raise _OnlyTried
    return count


@contextmanager
def _put_back_on_failure(path: Path | None) -> Iterator[None]:
    """When the block fails, the undo file is what it was before: that of another update, or not
    there. Where nobody knows whether the update was made, the new one stays."""
    from ..layers.maintained.session import CommitUnknown

    if path is None:
        yield
        return
    aside = path.with_name(f".{path.name}.{os.getpid()}.before")
    there = path.is_file()
    if there:
        with all_or_nothing() as draft:
            draft(aside).write_bytes(path.read_bytes())
    try:
        yield
    except CommitUnknown:
        raise
    except BaseException:
        with suppress(OSError):
            if there:
                os.replace(aside, path)
            else:
                path.unlink()
        raise
    finally:
        with suppress(OSError):
            aside.unlink()


def _write(path: Path, text: str) -> None:
    """A file that is on the disk when this returns."""
    with all_or_nothing() as draft, draft(path).open("w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
