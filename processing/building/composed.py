# SPDX-License-Identifier: GPL-2.0-or-later
"""Splits and mergers: which part keeps the identifier.

The rule: the part with the largest share of the old room keeps its identifier, and a merged room
takes that of the old room it has most of. Where two are equal to a hundredth, the one of the same
name comes first, then the southernmost, then the westernmost.
"""

from __future__ import annotations

import shapely

from .classes import difference
from .matching import Group, Matching
from .model import INSERT, MERGED, NOTHING, REPLACE, SPLIT, SUPERSEDE, UNRESOLVED, Change, RoomSet

KEEPS = "keeps the identifier"
WHOLE = 0.7
"""The parts of a split or merger share at least this of what old and new rooms cover together."""


def split_rows(a: RoomSet, b: RoomSet, group: Group, matching: Matching) -> list[Change]:
    """One old room, several new ones: a row for each of these, the one that keeps it first."""
    (i,) = group.old
    share = {j: matching.both.get((i, j), 0.0) for j in group.new}
    order, why = _ordered(a, i, b, share)
    gap, sigma = difference(a, [i], b, list(group.new))
    return [
        Change(
            *_what(SPLIT, INSERT, j == order[0], why),
            0,
            i,
            j,
            gap,
            sigma,
            reason=why or (KEEPS if j == order[0] else "takes a new identifier"),
        )
        for j in order
    ]


def merged_rows(a: RoomSet, b: RoomSet, group: Group, matching: Matching) -> list[Change]:
    """Several old rooms, one new one: a row for each of those, the one that lives on first."""
    (j,) = group.new
    share = {i: matching.both.get((i, j), 0.0) for i in group.old}
    order, why = _ordered(b, j, a, share)
    gap, sigma = difference(a, list(group.old), b, [j])
    return [
        Change(
            *_what(MERGED, SUPERSEDE, i == order[0], why),
            0,
            i,
            j,
            gap,
            sigma,
            reason=why or (KEEPS if i == order[0] else "ends here"),
        )
        for i in order
    ]


def _ordered(
    one: RoomSet, whole: int, others: RoomSet, share: dict[int, float]
) -> tuple[list[int], str]:
    """The rooms that one room is composed of, the one that goes on as it first, and why the two
    are not the same ground (empty: they are)."""
    first = min(share, key=lambda k: _rank(others, k, share[k], one.name[whole]))
    size = float(shapely.area(one.polygon[whole]))
    parts = others.polygon[list(share)]
    common = float(shapely.area(shapely.intersection(one.polygon[whole], parts)).sum())
    of_all = common / (size + float(shapely.area(parts).sum()) - common)
    why = "" if of_all >= WHOLE else f"only {of_all:.0%} of the ground of all is common"
    return sorted(share, key=lambda k: (k != first, k)), why


def _what(kind: str, action: str, first: bool, why: str) -> tuple[str, str]:
    """What a row tells and does."""
    return (UNRESOLVED, NOTHING) if why else (kind, REPLACE if first else action)


def _rank(rooms: RoomSet, k: int, share: float, name: str) -> tuple[float, bool, float, float]:
    middle = shapely.centroid(rooms.polygon[k])
    same = bool(name) and rooms.name[k] == name
    return -round(share, 2), not same, round(middle.y, 3), round(middle.x, 3)
