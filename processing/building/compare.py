# SPDX-License-Identifier: GPL-2.0-or-later
"""New rooms against a maintained layer: the common shift first, then every room by itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .classes import judged
from .composed import merged_rows, split_rows
from .elsewhere import moved_away
from .extent import surveyed
from .matching import SHARED, Group, Matching, covered, is_clear, matched
from .model import (
    INSERT,
    KEEP,
    MOVED,
    NEW,
    NOTHING,
    REMOVED,
    REPLACE,
    RESHAPED,
    SUPERSEDE,
    UNCHANGED,
    UNRESOLVED,
    Change,
    RoomSet,
)
from .shift import Shift, common_shift

ACTION = {UNCHANGED: KEEP, RESHAPED: REPLACE, MOVED: REPLACE}
MUCH = 0.2


@dataclass(frozen=True)
class Options:
    """`confidence` of every test; `complete`: each room of the storeys was surveyed, so that an old
    one without a new one is gone; `footprint`: where that holds (None: where rooms were found)."""

    confidence: float = 0.999
    complete: bool = False
    footprint: Any = None

    def __post_init__(self) -> None:
        if not 0.5 <= self.confidence < 1.0:
            raise SurveyError(
                f"The confidence is {self.confidence:g}, expected a share from 0.5 to below 1."
            )


@dataclass(frozen=True, eq=False)
class Comparison:
    """`changes` in order of storey and place; indices are those of `old` and `new` as given.
    `placed (n,)` are the old outlines after the common shift, `left_alone` the old rooms outside
    of what was surveyed, of which nothing is said."""

    old: RoomSet
    new: RoomSet
    shift: Shift
    placed: np.ndarray
    changes: tuple[Change, ...]
    left_alone: tuple[int, ...]

    def count(self, change: str) -> int:
        """How many old rooms have that change, or new ones where no old one is."""
        rows = [row for row in self.changes if row.change == change]
        olds = {row.old for row in rows if row.old >= 0}
        return len(olds) + sum(row.old < 0 for row in rows)


def compare(
    old: RoomSet, new: RoomSet, options: Options | None = None, progress: Progress = SILENT
) -> Comparison:
    """Match, judge and class all rooms. The order of the rooms given changes nothing.

    Raises `SurveyError` when there are no new rooms.
    """
    options = options or Options()
    if not len(new):
        raise SurveyError("There are no new rooms to compare; expected at least one.")
    order_old, order_new = _order(old), _order(new)
    a, b = old.taken(order_old), new.taken(order_new)
    progress.at(0.0)
    shift = common_shift(a, b, options.confidence)
    a = a.placed(shift.moved(a.polygon))
    progress.at(0.2)
    matching = matched(a, b)
    rows, alone = _rows(a, b, matching, options, progress.part(0.4, 0.9))
    rows, alone = moved_away(rows, alone, a, b, options.confidence)
    fresh = {row.new for group in rows for row in group if row.change == NEW}
    last, left_alone = _ended(alone, fresh, a, b, matching, options)
    numbered = [
        replace(row, group=number + 1)
        for number, rows_of_group in enumerate(_sorted([*rows, *last], a, b))
        for row in rows_of_group
    ]
    placed = np.empty(len(old), dtype=object)
    placed[order_old] = a.polygon
    return Comparison(
        old,
        new,
        shift,
        placed,
        tuple(
            replace(
                row,
                old=int(order_old[row.old]) if row.old >= 0 else -1,
                new=int(order_new[row.new]) if row.new >= 0 else -1,
            )
            for row in numbered
        ),
        tuple(int(order_old[i]) for i in left_alone),
    )


def _order(rooms: RoomSet) -> np.ndarray:
    """Indices by storey and place, so that results do not hang on the order of a file."""
    middle = shapely.get_coordinates(shapely.centroid(rooms.polygon)).reshape(-1, 2).round(6)
    names = np.unique(np.array(rooms.id, dtype=str), return_inverse=True)[1]
    return np.lexsort((names, middle[:, 1], middle[:, 0], rooms.level))


def _sorted(groups: list[list[Change]], a: RoomSet, b: RoomSet) -> list[list[Change]]:
    def key(group: list[Change]) -> tuple[int, int, int]:
        first = group[0]
        level = int(a.level[first.old] if first.old >= 0 else b.level[first.new])
        return level, first.old if first.old >= 0 else len(a), first.new

    return sorted(groups, key=key)


def _rows(
    a: RoomSet, b: RoomSet, matching: Matching, options: Options, progress: Progress
) -> tuple[list[list[Change]], list[int]]:
    """The rows of each group, and the old rooms without a counterpart."""
    rows: list[list[Change]] = []
    alone: list[int] = []
    cover = covered(len(b), matching.overlaps.new, matching.overlaps.of_new)
    for group in progress.over(matching.groups):
        if not group.new:
            alone.extend(group.old)
        elif not group.old:
            (j,) = group.new
            why = "lies on ground that several old rooms shared" if cover[j] > MUCH else ""
            rows.append([Change(NEW, INSERT, 0, new=j, reason=_joined(why, b.doubt[j]))])
        else:
            rows.append(_doubted(_of_group(a, b, group, matching, options), a, b))
    return rows, alone


def _of_group(
    a: RoomSet, b: RoomSet, group: Group, matching: Matching, options: Options
) -> list[Change]:
    if len(group.old) == 1 and len(group.new) == 1:
        return [_pair(a, group.old[0], b, group.new[0], matching, options)]
    if len(group.old) == 1:
        return split_rows(a, b, group, matching)
    if len(group.new) == 1:
        return merged_rows(a, b, group, matching)
    # A wall that moved far: still one new room for each old one.
    if is_clear(group, matching.both):
        return [_pair(a, i, b, j, matching, options) for i, j in group.pairs]
    return _unresolved(
        group, f"{len(group.old)} old and {len(group.new)} new rooms overlap crosswise"
    )


def _pair(a: RoomSet, i: int, b: RoomSet, j: int, matching: Matching, options: Options) -> Change:
    found = judged(a, i, b, j, options.confidence)
    change, action, why = found.change, ACTION[found.change], ""
    share = matching.both[i, j]
    if share < SHARED:
        change, action = UNRESOLVED, NOTHING
        why = f"only {share:.0%} of the ground of both is common"
    return Change(
        change,
        action,
        0,
        i,
        j,
        found.difference_m2,
        found.sigma_difference_m2,
        found.offset_m,
        found.tolerance_m,
        found.moved_m,
        why,
    )


def _unresolved(group: Group, why: str) -> list[Change]:
    """Each old and each new room once, in the pairs of the assignment where it found any."""
    paired_old, paired_new = {i for i, _ in group.pairs}, {j for _, j in group.pairs}
    pairs = [
        *group.pairs,
        *((i, -1) for i in group.old if i not in paired_old),
        *((-1, j) for j in group.new if j not in paired_new),
    ]
    return [Change(UNRESOLVED, NOTHING, 0, i, j, reason=why) for i, j in pairs]


def _doubted(rows: list[Change], a: RoomSet, b: RoomSet) -> list[Change]:
    """A change that hangs on an outline which is not to be trusted goes to a person."""
    doubts = {a.doubt[row.old] for row in rows if row.old >= 0}
    doubts |= {b.doubt[row.new] for row in rows if row.new >= 0}
    why = _joined(*sorted(doubts))
    if not why or all(row.change == UNCHANGED for row in rows):
        return rows
    return [
        replace(row, change=UNRESOLVED, action=NOTHING, reason=_joined(row.reason, why))
        for row in rows
    ]


def _ended(
    alone: list[int],
    fresh: set[int],
    a: RoomSet,
    b: RoomSet,
    matching: Matching,
    options: Options,
) -> tuple[list[list[Change]], list[int]]:
    """Old rooms without a new one: gone where the survey shows it, else for a person to decide."""
    found = matching.overlaps
    shared = (found.of_old > MUCH) & np.isin(found.new, sorted(fresh))
    heirs = set(found.old[shared].tolist())
    cover = covered(len(a), matching.overlaps.old, matching.overlaps.of_old)
    inside = surveyed(a, b, alone, options.footprint)
    rows, outside = [], []
    for i in alone:
        if i in heirs:
            why = "its ground is shared by new rooms, none of which has most of it"
            rows.append([Change(UNRESOLVED, NOTHING, 0, i, reason=why)])
        elif cover[i] > 0.5:
            rows.append([Change(REMOVED, SUPERSEDE, 0, i, reason="its ground went to other rooms")])
        elif options.complete and inside[i] != "outside":
            rows.append([Change(REMOVED, SUPERSEDE, 0, i, reason="no new room stands there")])
        elif inside[i] == "outside":
            outside.append(i)
        else:
            why = "no new room stands there: gone, or not surveyed"
            rows.append([Change(UNRESOLVED, NOTHING, 0, i, reason=why)])
    return rows, outside


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)
