# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining what overlap has left apart: first on each storey, then storey to storey.

Walls never tie one storey to another: only targets that both sighted do, in the stair well, say.
Each storey's own network is settled first, so that all it knows of those targets counts.
"""

from __future__ import annotations

from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_groups import Groups
from .connect_judge import Judge
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
