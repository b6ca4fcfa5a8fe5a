# SPDX-License-Identifier: GPL-2.0-or-later
"""Corridors, and where they turn."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from roomtie.processing.walls.rooms import build_rooms
from shapely.geometry import Polygon, box
from simulated_rooms import Storey, network_of, survey_of, walls_of

CORRIDOR = box(0, 0, 10, 1.6)


def built(free, stations, rng):
    """The rooms and openings of what is free."""
    edges = []
    for ring in (free.exterior, *free.interiors):
        xy = np.asarray(ring.coords)
        edges.append(np.stack([xy[:-1], xy[1:]], axis=1))
    plan = Storey([free], np.concatenate(edges), [], np.array(stations))
    survey, orientation = survey_of(plan, rng)
    network = network_of(survey, plan.stations_m, orientation)
    return build_rooms(survey, network, walls_of(survey, network))


@pytest.mark.parametrize("degrees", [22, 26, 33])
def test_where_a_corridor_turns_there_is_no_doorway(degrees):
    """The turned part is wider: short ends of walls stand on both sides, as beside a doorway."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    wing = np.array([(-0.4, -1.3), (7, -1.3), (7, 1.3), (-0.4, 1.3)]) @ turn.T + (10, 0.8)
    free = shapely.union_all([CORRIDOR, Polygon(wing)])
    stations = [(8.5, 0.9), (11.5, 1.6)]
    drawn, openings = built(free, stations, np.random.default_rng(5))
    assert openings.kind.count("doorway") == 0
    assert drawn.area_m2 == pytest.approx([free.area], rel=0.002)
