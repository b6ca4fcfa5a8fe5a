# SPDX-License-Identifier: GPL-2.0-or-later
"""A room that moved so far that it no longer lies on its old ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from scipy.optimize import linear_sum_assignment

from .classes import judged
from .model import MOVED, NEW, NOTHING, REPLACE, UNCHANGED, UNRESOLVED, Change, RoomSet


def moved_away(
    rows: list[list[Change]], alone: list[int], a: RoomSet, b: RoomSet, confidence: float
) -> tuple[list[list[Change]], list[int]]:
    """Old rooms without a counterpart paired with new ones of the very same outline that lie no
    further off than the room is wide, the nearest first on the whole. Where an old room has several
    such, or a new one, a person decides.
    """
    fresh = [group[0].new for group in rows if group[0].change == NEW]
    if not alone or not fresh:
        return rows, alone
    middle_old = shapely.get_coordinates(shapely.centroid(a.polygon[alone]))
    middle_new = shapely.get_coordinates(shapely.centroid(b.polygon[fresh]))
    step = np.hypot(*np.moveaxis(middle_new[None] - middle_old[:, None], 2, 0))
    low_high = shapely.bounds(a.polygon[alone])
    reach = (low_high[:, 2:] - low_high[:, :2]).max(axis=1)
    same = (step <= reach[:, None]) & (a.level[alone][:, None] == b.level[fresh][None])
    for p, q in zip(*np.nonzero(same)):
        pair = judged(a, alone[p], b, fresh[q], confidence)
        same[p, q] = pair.change in (MOVED, UNCHANGED)
    far = 1e6
    found = {}
    for p, q in zip(*linear_sum_assignment(np.where(same, step, far))):
        if same[p, q]:
            clear = same[p].sum() == 1 and same[:, q].sum() == 1
            found[fresh[q]] = (alone[p], clear)
    result = [
        [_moved(group[0], *found[group[0].new], a, b, confidence)]
        if group[0].change == NEW and group[0].new in found
        else group
        for group in rows
    ]
    taken = {i for i, _ in found.values()}
    return result, [i for i in alone if i not in taken]


def _moved(row: Change, i: int, clear: bool, a: RoomSet, b: RoomSet, confidence: float) -> Change:
    pair = judged(a, i, b, row.new, confidence)
    return replace(
        row,
        change=MOVED if clear else UNRESOLVED,
        action=REPLACE if clear else NOTHING,
        old=i,
        difference_m2=pair.difference_m2,
        sigma_difference_m2=pair.sigma_difference_m2,
        offset_m=pair.offset_m,
        tolerance_m=pair.tolerance_m,
        moved_m=pair.moved_m,
        reason="" if clear else "several rooms of this outline are near",
    )
