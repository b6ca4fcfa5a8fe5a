# SPDX-License-Identifier: GPL-2.0-or-later
"""What a room's area may be off by where nobody can tell where its wall is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.rooms import build_rooms
from roomtie.processing.walls.rooms_doubt import ASTRAY, BLOCK, STEADY, Doubts, blocks
from shapely.affinity import rotate
from shapely.geometry import Polygon
from shapely.geometry import box as rectangle
from simulated import loop
from simulated_rooms import Storey, box, network_of, survey_of, walls_of

STRAIGHT = no_curves(0)
ROOM = rectangle(0, 0, 5, 4)


@given(
    width=st.floats(0.1, 2.5),
    depth=st.floats(0.1, 0.6),
    corner=st.booleans(),
    turn=st.floats(-180, 180),
)
def test_what_stands_in_a_corner_or_before_a_wall_is_a_block(width, depth, corner, turn):
    start = 0.0 if corner else 1.2
    outline = ROOM.difference(rectangle(start, -0.1, start + width, depth))
    assert blocks(rotate(outline, turn, origin=(0, 0)), STRAIGHT) == pytest.approx([width * depth])


@pytest.mark.parametrize(
    "outline",
    [
        ROOM,
        # an L: too large and too deep for furniture
        ROOM.difference(rectangle(3, 2.5, 5, 4)),
        # a recess takes nothing from the room
        ROOM.union(rectangle(2, -0.3, 3, 0)),
        # a step of the plaster
        ROOM.difference(rectangle(0, 0, 2, 0.02)),
    ],
)
def test_what_is_no_furniture_is_no_block(outline):
    assert blocks(outline, STRAIGHT) == []


def test_two_cupboards_in_a_row_are_one_block():
    row = rectangle(0, 0, 1, 0.5).union(rectangle(1, 0, 1.8, 0.3))
    assert blocks(ROOM.difference(row), STRAIGHT) == pytest.approx([0.5 + 0.24])


def test_variances_of_doubts_add_up():
    doubts = Doubts(steady=(2.0,), astray=(1.0, 0.5), block=(0.4,))
    expected = STEADY * 4.0 + ASTRAY * 1.25 + BLOCK * 0.16
    assert doubts.variance == pytest.approx(expected)


def built(*furniture):
    """The room of 5 m by 4 m with furniture in it, seen from one station."""
    corners = np.asarray(ROOM.exterior.coords)[:-1]
    plan = Storey([ROOM], loop(corners), [], np.array([(2.9, 2.3)]))
    survey, orientation = survey_of(plan, np.random.default_rng(2), extra=furniture)
    network = network_of(survey, plan.stations_m, orientation)
    rooms, _ = build_rooms(survey, network, walls_of(survey, network))
    return float(rooms.area_m2[0]), float(rooms.sigma_area_m2[0])


def test_a_room_seen_all_over_is_worth_what_its_readings_are():
    area, sigma = built()
    assert abs(area - 20.0) < 4 * sigma
    assert sigma < 0.01


@pytest.mark.parametrize(
    "furniture",
    [
        box(0.02, 0.02, 0.62, 1.5),  # fills a corner
        box(0.02, 1.0, 0.5, 2.2),  # before a wall that goes on at both sides
        box(0.6, 0.6, 1.3, 1.2),  # hides a corner
    ],
)
def test_furniture_that_may_be_a_wall_is_held_by_the_standard_error(furniture):
    """Whether it was taken for furniture or not."""
    area, sigma = built(furniture)
    taken = float(Polygon(furniture[:, 0]).area)
    assert abs(area - 20.0) < 1.96 * sigma
    # no more than all that is hidden, a few times what stands there
    assert 0.02 < sigma < 3.0 * taken
