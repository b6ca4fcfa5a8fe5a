# SPDX-License-Identifier: GPL-2.0-or-later
"""Cupboards stand a little off their walls, piers and shafts grow out of them."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.rooms import build_rooms
from shapely.geometry import Polygon
from simulated import loop
from simulated_rooms import Storey, box, network_of, survey_of, walls_of

CORNERS = np.array([(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)])
STATION = np.array([(2.6, 2.9)])


def area_of(corners, *furniture, seed=3, turn=0.0):
    """The drawn area of a room with furniture, seen from one station."""
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[c, s], [-s, c]])
    plan = Storey([Polygon(corners)], loop(np.asarray(corners) @ matrix), [], STATION @ matrix)
    pieces = [piece @ matrix for piece in furniture]
    survey, orientation = survey_of(plan, np.random.default_rng(seed), extra=pieces, readings=3600)
    network = network_of(survey, plan.stations_m, orientation)
    rooms, _ = build_rooms(survey, network, walls_of(survey, network))
    assert len(rooms) == 1
    return float(rooms.area_m2[0])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_a_cupboard_in_a_corner_counts_to_the_room(seed, turn):
    """Beams enter the slot of 4 cm behind it, which is wider than they and their errors are."""
    cupboard = box(0.04, 0.04, 0.6, 1.6)
    # 5 cm2 a metre of wall: a quarter of a millimetre, the error of a wall of 900 readings
    assert area_of(CORNERS, cupboard, seed=seed, turn=turn) == pytest.approx(20.0, abs=0.01)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_a_shaft_in_a_corner_takes_its_area(seed, turn):
    shaft = [(0.6, 0.0), *CORNERS[1:], (0.0, 1.6), (0.6, 1.6)]
    assert area_of(shaft, seed=seed, turn=turn) == pytest.approx(20.0 - 0.96, abs=0.01)


def test_a_row_of_cupboards_counts_to_the_room():
    row = [box(0.04, 0.04, 0.6, 1.2), box(0.64, 0.04, 1.5, 0.4)]
    assert area_of(CORNERS, *row) == pytest.approx(20.0, abs=0.01)
