# SPDX-License-Identifier: GPL-2.0-or-later
"""What a room's area may be off by where nobody can tell where its wall is."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.rooms import build_rooms
from roomtie.processing.walls.rooms_doubt import ASTRAY, BLOCK, STEADY, Doubts
from shapely.geometry import Polygon
from shapely.geometry import box as rectangle
from simulated import loop
from simulated_rooms import Storey, box, network_of, survey_of, walls_of

ROOM = rectangle(0, 0, 5, 4)


def test_variances_of_doubts_add_up():
    doubts = Doubts(steady=[(2.0, 0.3)], astray=[(1.0, 0.0), (0.5, 0.2)], block=[(0.4, 0.6)])
    of_area = STEADY * 4.0 + ASTRAY * 1.25 + BLOCK * 0.16
    of_perimeter = STEADY * 0.09 + ASTRAY * 0.04 + BLOCK * 0.36
    assert doubts.variance == pytest.approx((of_area, of_perimeter))
    assert Doubts([], [], []).variance == (0.0, 0.0)


def built(*furniture):
    """The room of 5 m by 4 m with furniture in it, seen from one station."""
    corners = np.asarray(ROOM.exterior.coords)[:-1]
    plan = Storey([ROOM], loop(corners), [], np.array([(2.9, 2.3)]))
    survey, orientation = survey_of(plan, np.random.default_rng(2), extra=furniture)
    network = network_of(survey, plan.stations_m, orientation)
    rooms, _ = build_rooms(survey, network, walls_of(survey, network))
    return rooms


def test_a_room_seen_all_over_is_worth_what_its_readings_are():
    rooms = built()
    assert abs(rooms.area_m2[0] - 20.0) < 4 * rooms.sigma_area_m2[0]
    assert rooms.sigma_area_m2[0] < 0.01
    assert abs(rooms.perimeter_m[0] - 18.0) < 4 * rooms.sigma_perimeter_m[0]
    assert rooms.sigma_perimeter_m[0] < 0.005


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
    rooms = built(furniture)
    sigma = rooms.sigma_area_m2[0]
    taken = Polygon(furniture[:, 0])
    assert abs(rooms.area_m2[0] - 20.0) < 1.96 * sigma
    # no more than all that is hidden, a few times what stands there
    assert 0.02 < sigma < 3.0 * taken.area
    assert abs(rooms.perimeter_m[0] - 18.0) < 1.96 * rooms.sigma_perimeter_m[0]
    assert 0.02 < rooms.sigma_perimeter_m[0] < taken.length


@pytest.mark.parametrize("shaft", [True, False])
def test_what_readings_are_too_far_apart_to_tell_is_held_by_the_standard_error(shaft):
    """Every 1.8 degrees: a shaft and a cupboard in a corner look alike."""
    block = [(0.02, 0.02), (0.62, 0.02), (0.62, 1.5), (0.02, 1.5)]
    corners = [(0.62, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0), (0.0, 1.5), (0.62, 1.5)]
    if not shaft:
        corners = [(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)]
    plan = Storey([Polygon(corners)], loop(corners), [], np.array([(2.6, 2.9)]))
    extra = [] if shaft else [loop(block)]
    survey, turned = survey_of(plan, np.random.default_rng(4), extra=extra, readings=200)
    network = network_of(survey, plan.stations_m, turned)
    rooms, _ = build_rooms(survey, network, walls_of(survey, network))
    assert abs(rooms.area_m2[0] - Polygon(corners).area) < 1.96 * rooms.sigma_area_m2[0]
    assert rooms.sigma_area_m2[0] < 1.5
    # nobody can tell: what is drawn is the same
    assert rooms.area_m2[0] == pytest.approx(20.0, abs=0.05)
