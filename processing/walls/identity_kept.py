# SPDX-License-Identifier: GPL-2.0-or-later
"""Identifiers, names and kinds of an earlier plan on what goes on in a new one.

What is the same is told by `identity_pairs`. What is new has identifiers and names that the earlier
plan did not use. What a person marked stays, also where the survey does not show it.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..captures.model import Survey
from .earlier import EarlierDrawing, EarlierOpenings, EarlierRooms, rows_at
from .identity import NAMESPACE
from .identity_pairs import opening_pairs, room_pairs, wall_pairs
from .model import Openings, Plan, Rooms, WallFaces

WALL_NAME = re.compile(r"W(\d+)$")


def with_kept_walls(walls: WallFaces, survey: Survey, earlier: EarlierDrawing) -> WallFaces:
    """The faces as measured with earlier identifiers; new ones are numbered on."""
    pairs = wall_pairs(walls, survey, earlier)
    used = {*earlier.walls.wall, *pairs.values()}
    for _, words in earlier.wall_of_reading.values():
        used.update(np.unique(words).tolist())
    numbers = [int(match[1]) for name in used if (match := WALL_NAME.match(name))]
    number = max(numbers, default=0)
    names = []
    for i in range(len(walls)):
        if i not in pairs:
            number += 1
        names.append(pairs.get(i) or f"W{number:03d}")
    return replace(walls, wall=tuple(names))


@dataclass(frozen=True)
class Found:
    """What the survey itself says of a room or opening, where a person may say otherwise: by the
    identifier and what of it (``name``, and `kind_at` each plot scale, since scales may differ)."""

    said: dict[tuple[str, str], str]


def kind_at(plot_scale: int) -> str:
    """What the kind of an opening at a plot scale is called in `Found`."""
    return f"kind at 1:{plot_scale}"


def with_kept_rooms(
    plans: Sequence[Plan], earlier: EarlierDrawing | None
) -> tuple[tuple[Plan, ...], Found]:
    """The plans of all plot scales with the identifiers and names of earlier rooms, and the
    identifiers and kinds of earlier openings; and what the survey itself says of them."""
    said: dict[tuple[str, str], str] = {}
    numbering = _Numbering(earlier.rooms if earlier else None)
    made = []
    for plan in plans:
        rooms, openings = plan.rooms, plan.openings
        if earlier is not None:
            rooms, table = _rooms(rooms, earlier.rooms, numbering)
            ends = [
                tuple(table.get(room, room) for room in side)
                for side in (openings.room_a, openings.room_b)
            ]
            openings = replace(openings, room_a=ends[0], room_b=ends[1])
        of_survey = openings
        if earlier is not None:
            openings, of_survey = _openings(openings, earlier.openings)
        for room, name in zip(rooms.room, rooms.name):
            said.setdefault((room, "name"), name)
        for opening, kind in zip(of_survey.opening, of_survey.kind):
            said[opening, kind_at(plan.openings.plot_scale)] = kind
        made.append(replace(plan, rooms=rooms, openings=openings))
    if earlier is not None:
        for i in np.flatnonzero(earlier.rooms.by_hand):
            # So that the name is known as a person's next time, too.
            if (earlier.rooms.room[i], "name") in said:
                said[earlier.rooms.room[i], "name"] = ""
    return tuple(made), Found(said)


class _Numbering:
    """Names of rooms: the earlier ones by identifier, a person's before others and those of the
    finest scale first, and free ones such as ``0.07`` for what is new."""

    def __init__(self, earlier: EarlierRooms | None) -> None:
        self.of_id: dict[str, str] = {}
        self._used: set[str] = set()
        if earlier is None:
            return
        order = np.lexsort((earlier.plot_scale, ~earlier.by_hand)).tolist()
        for row in order:
            self.of_id.setdefault(earlier.room[row], earlier.name[row])
        self._used = set(earlier.name)

    def name(self, room: str, level: int) -> str:
        if room not in self.of_id:
            number = 1
            while (free := f"{level}.{number:02d}") in self._used:
                number += 1
            self._used.add(free)
            self.of_id[room] = free
        return self.of_id[room]


def _rooms(
    rooms: Rooms, earlier: EarlierRooms, numbering: _Numbering
) -> tuple[Rooms, dict[str, str]]:
    """The rooms of one plot scale with kept identifiers, and the table of these by derived one."""
    rows = rows_at(earlier.plot_scale, rooms.plot_scale)
    pairs = {new: earlier.room[row] for new, row in room_pairs(rooms, earlier, rows)}
    ids = _kept(rooms.room, pairs, set(earlier.room))
    names = tuple(numbering.name(room, int(lv)) for room, lv in zip(ids, rooms.level))
    return replace(rooms, room=ids, name=names), dict(zip(rooms.room, ids))


def _openings(openings: Openings, earlier: EarlierOpenings) -> tuple[Openings, Openings]:
    """The openings of one plot scale with kept identifiers and a person's kinds, and those that a
    person marked where none is found now; and the openings as the survey says them."""
    rows = rows_at(earlier.plot_scale, openings.plot_scale)
    pairs = opening_pairs(openings, earlier, rows)
    ids = _kept(
        openings.opening, {new: earlier.opening[row] for new, row in pairs}, set(earlier.opening)
    )
    found = replace(openings, opening=ids)
    marked = {
        earlier.opening[i]: earlier.kind[i]
        for i in sorted(range(len(earlier.by_hand)), key=lambda i: -int(earlier.plot_scale[i]))
        if earlier.by_hand[i]
    }
    kept = replace(found, kind=tuple(marked.get(name, kind) for name, kind in zip(ids, found.kind)))
    there = {row for _, row in pairs}
    lost = [row for row in rows.tolist() if earlier.by_hand[row] and row not in there]
    return _with_rows(kept, earlier, [r for r in lost if earlier.opening[r] not in ids]), found


def _with_rows(openings: Openings, earlier: EarlierOpenings, rows: list[int]) -> Openings:
    """The openings and some rows of the earlier ones, as they were drawn."""
    if not rows:
        return openings
    at = np.array(rows, dtype=np.int64)
    lines = tuple(earlier.line[row] for row in rows)
    return replace(
        openings,
        opening=openings.opening + tuple(earlier.opening[row] for row in rows),
        kind=openings.kind + tuple(earlier.kind[row] for row in rows),
        level=np.concatenate([openings.level, earlier.level[at]]),
        network=np.concatenate([openings.network, earlier.network[at]]),
        line=openings.line + lines,
        width_m=np.concatenate([openings.width_m, [line.length for line in lines]]),
        sigma_width_m=np.concatenate([openings.sigma_width_m, np.full(len(rows), np.nan)]),
        wall_thickness_m=np.concatenate([openings.wall_thickness_m, earlier.wall_thickness_m[at]]),
        room_a=openings.room_a + ("",) * len(rows),
        room_b=openings.room_b + ("",) * len(rows),
    )


def _kept(derived: Sequence[str], pairs: dict[int, str], earlier: set[str]) -> tuple[str, ...]:
    """Identifiers: the earlier one in a pair, else the derived one, or, where an earlier thing has
    that, one derived from it."""
    ids = []
    used = set(pairs.values())
    for i, own in enumerate(derived):
        name = pairs.get(i)
        if name is None:
            name = own
            while name in used or name in earlier:
                name = str(uuid.uuid5(NAMESPACE, f"after\x00{name}"))
            used.add(name)
        ids.append(name)
    return tuple(ids)
