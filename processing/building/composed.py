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

WHOLE = 0.7
"""The parts of a split or merger share at least this of what old and new rooms cover together."""


def split_rows(a: RoomSet, b: RoomSet, group: Group, matching: Matching) -> list[Change]:
    """One old room, several new ones: a row for each of these, the one that keeps it first."""
    (i,) = group.old
    share = {j: matching.both.get((i, j), 0.0) for j in group.new}
    first = min(group.new, key=lambda j: _rank(b, j, share[j], a.name[i]))
    gap, sigma = difference(a, [i], b, list(group.new))
    size = float(shapely.area(a.polygon[i]))
    common = sum(
        float(shapely.area(shapely.intersection(a.polygon[i], b.polygon[j]))) for j in group.new
    )
    share_of_all = _share(common, size, float(shapely.area(b.polygon[list(group.new)]).sum()))
    whole = share_of_all >= WHOLE
    why = "" if whole else f"only {share_of_all:.0%} of the ground of all is common"
    return [
        Change(
            SPLIT if whole else UNRESOLVED,
            (REPLACE if j == first else INSERT) if whole else NOTHING,
            0,
            i,
            j,
            gap,
            sigma,
            reason=why or ("keeps the identifier" if j == first else "takes a new identifier"),
        )
        for j in sorted(group.new, key=lambda j: (j != first, j))
    ]


def merged_rows(a: RoomSet, b: RoomSet, group: Group, matching: Matching) -> list[Change]:
    """Several old rooms, one new one: a row for each of those, the one that lives on first."""
    (j,) = group.new
    share = {i: matching.both.get((i, j), 0.0) for i in group.old}
    first = min(group.old, key=lambda i: _rank(a, i, share[i], b.name[j]))
    gap, sigma = difference(a, list(group.old), b, [j])
    size = float(shapely.area(b.polygon[j]))
    common = sum(
        float(shapely.area(shapely.intersection(a.polygon[i], b.polygon[j]))) for i in group.old
    )
    share_of_all = _share(common, size, float(shapely.area(a.polygon[list(group.old)]).sum()))
    whole = share_of_all >= WHOLE
    why = "" if whole else f"only {share_of_all:.0%} of the ground of all is common"
    return [
        Change(
            MERGED if whole else UNRESOLVED,
            (REPLACE if i == first else SUPERSEDE) if whole else NOTHING,
            0,
            i,
            j,
            gap,
            sigma,
            reason=why or ("keeps the identifier" if i == first else "ends here"),
        )
        for i in sorted(group.old, key=lambda i: (i != first, i))
    ]


def _share(common: float, one: float, others: float) -> float:
    return common / (one + others - common)


def _rank(rooms: RoomSet, k: int, share: float, name: str) -> tuple[float, bool, float, float]:
    middle = shapely.centroid(rooms.polygon[k])
    same = bool(name) and rooms.name[k] == name
    return -round(share, 2), not same, round(middle.y, 3), round(middle.x, 3)
