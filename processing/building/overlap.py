# SPDX-License-Identifier: GPL-2.0-or-later
"""Which rooms of two dates share ground, and how much."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..angles import Floats
from ..captures.model import Ints
from .model import RoomSet


@dataclass(frozen=True, eq=False)
class Overlaps:
    """``m`` pairs of an old and a new room of one storey that share ground: indices `old`, `new`,
    and the share of either room that the common ground is."""

    old: Ints
    new: Ints
    of_old: Floats
    of_new: Floats

    @property
    def of_both(self) -> Floats:
        """The common area over that of both together (intersection over union)."""
        return 1.0 / (1.0 / self.of_old + 1.0 / self.of_new - 1.0)


def overlaps(old: RoomSet, new: RoomSet) -> Overlaps:
    """All pairs, in the order of the rooms."""
    if not len(old) or not len(new):
        none = np.empty(0)
        return Overlaps(none.astype(np.int64), none.astype(np.int64), none, none)
    i, j = shapely.STRtree(new.polygon).query(old.polygon, predicate="intersects")
    same = old.level[i] == new.level[j]
    i, j = i[same], j[same]
    common = shapely.area(shapely.intersection(old.polygon[i], new.polygon[j]))
    size_old, size_new = shapely.area(old.polygon), shapely.area(new.polygon)
    there = common > 1e-9 * np.minimum(size_old[i], size_new[j])
    order = np.lexsort((j[there], i[there]))
    i, j, common = i[there][order], j[there][order], common[there][order]
    return Overlaps(i, j, common / size_old[i], common / size_new[j])
