# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys in which some rooms were closed while others were captured.

Their own captures look out through the doorway later on, but nobody saw into them: what places them
is a piece of the corridor, which looks the same from every room of a series.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from roomtie.processing.captures.model import Flag
from roomtie.processing.stations.connect_frames import moved

SHARE = 1 / 3
"""How many of the rooms of a storey are closed."""

WALL_M = 0.06
"""Readings on the walls of a room scatter about its outline by less."""


def with_closed_rooms(survey, truth, seed):
    """The survey without the readings that captures outside have of a third of the rooms."""
    rng = np.random.default_rng([17, seed])
    captures = list(survey.captures)
    for level, plan in enumerate(truth.storeys):
        rooms = np.arange(len(plan.rooms) - plan.halls)
        for room in rng.permutation(rooms)[: round(SHARE * len(rooms))]:
            inside = plan.rooms[room].buffer(WALL_M)
            for s in np.flatnonzero((truth.level == level) & (truth.room != room)):
                at = moved(truth.pose[s], captures[s].xy_m)
                lost = shapely.contains_xy(inside, at[:, 0], at[:, 1])
                captures[s] = captures[s].with_flags(lost, Flag.NO_RETURN)
    return replace(survey, captures=tuple(captures))
