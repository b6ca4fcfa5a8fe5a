# SPDX-License-Identifier: GPL-2.0-or-later
"""Identifiers proposed for rooms that are new; a person may give others before the update."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .model import INSERT, SPLIT, Change, RoomSet

NUMBER = re.compile(r"-?\d+")


def proposed(
    changes: Sequence[Change], old: RoomSet, new: RoomSet, taken: set[str], numeric: bool
) -> list[str]:
    """One for each row that inserts a room, else empty. Numbers go on from the largest; a part of
    a split is the old identifier with -2, -3 …; another new room takes its name, if that is free.
    """
    used = set(taken)
    largest = max((int(one) for one in taken if NUMBER.fullmatch(one)), default=0)
    given = []
    for row in changes:
        if row.action != INSERT:
            given.append("")
            continue
        if numeric:
            largest += 1
            name = str(largest)
        else:
            base = old.id[row.old] if row.change == SPLIT else new.name[row.new] or "new"
            number = 2 if row.change == SPLIT else 1
            name = f"{base}-{number}" if row.change == SPLIT or base == "new" else base
            while name in used:
                number += 1
                name = f"{base}-{number}"
        used.add(name)
        given.append(name)
    return given
