# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining what overlap has left apart: first on each storey, then storey to storey.

Walls never tie one storey to another: only targets that both sighted do, in the stair well, say.
Each storey's own network is settled first, so that all it knows of those targets counts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_groups import Groups
from .connect_judge import Judge
from .connect_overlaps import OverlapTie
from .connect_surfaces import join_by_surfaces
from .connect_targets import join_by_targets


def join_what_is_left(
    groups: Groups, judge: Judge | None, level: Ints, progress: Progress = SILENT
) -> set[int]:
    """Join groups by targets that they know together, and by single targets with their surfaces;
    `level (S,)` are the storeys. Gives the rows of `groups.surfaces` that joined."""
    used: set[int] = set()
    for within, part in ((True, progress.part(0.0, 0.6)), (False, progress.part(0.6, 1.0))):
        count = -1
        while count != len(groups.leaders()):
            count = len(groups.leaders())
            part.at(0.0)
            join_by_targets(groups, judge, level=level if within else None)
            used |= join_by_surfaces(groups, judge, level, within=within)
    progress.at(1.0)
    return used


def tell_unchecked(groups: Groups, overlaps: Sequence[OverlapTie]) -> None:
    """Say which joins by two targets nothing confirmed in the end (no other target of the two
    sides, and no walls, directly or over other stations), and which did not come about."""
    s = groups.sightings
    good = ~groups.out
    for join in groups.unchecked:
        # Stations and targets as one graph, without the two targets.
        rows = np.flatnonzero(good & ~np.isin(s.target, join.targets))
        walls = [(tie.first, tie.second) for tie in overlaps if tie.used]
        ends = np.array(
            [*zip(s.station[rows], len(groups.group) + s.target[rows]), *walls], dtype=np.int64
        ).reshape(-1, 2)
        count = len(groups.group) + len(s.name)
        graph = coo_matrix((np.ones(len(ends)), ends.T), shape=(count, count))
        _, part = connected_components(graph, directed=False)
        if part[join.station] != part[join.other]:
            groups.told.append(join.sentence)
    for join in groups.refused:
        apart = groups.group[join.station] != groups.group[join.other]
        if apart and join.sentence not in groups.told:
            groups.told.append(join.sentence)
