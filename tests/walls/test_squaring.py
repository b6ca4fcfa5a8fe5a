# SPDX-License-Identifier: GPL-2.0-or-later
"""Squaring decides by standard errors, and turns no further than it may."""

import numpy as np
import pytest
from roomtie.processing.angles import turn
from roomtie.processing.stations.axes import quarter
from roomtie.processing.walls.squaring import (
    UNTELLABLE,
    Square,
    building_axes,
    drawn_axis,
    turned_lines,
    turns,
)
from scipy.stats import norm
from simulated_walls import walls_of

ROOM = [[(0, 3), (0, 0)], [(0, 0), (4, 0)], [(4, 0), (4, 3)], [(4, 3), (0, 3)]]
# Faces with the free side on the right run clockwise round a room seen from inside.
ROOM = [[b, a] for a, b in ROOM]


def room(azimuth_deg=0.0, **errors):
    return walls_of(turn(np.array(ROOM, dtype=float), np.radians(azimuth_deg)), **errors)


def out_of_square(angle_deg, sigma_deg, **errors):
    """A square room with a fifth face that many degrees out."""
    run = turn(np.array([(1.0, 1.5), (2.0, 1.5)]), np.radians(angle_deg))
    sigma = np.radians([0.001] * 4 + [sigma_deg])
    return walls_of([*ROOM, run], sigma_normal_rad=sigma, **errors)


@pytest.mark.parametrize("azimuth", [0.0, 12.3, 44.9, -31.0, 89.99])
def test_axes_of_a_square_room(azimuth):
    axes = building_axes(room(azimuth), 1)
    assert quarter(axes.azimuth_rad - np.radians(azimuth)) == pytest.approx(0.0, abs=1e-9)
    # Four faces, each known to 0.1 mrad.
    assert axes.sigma_rad == pytest.approx(0.5e-4, rel=1e-6)


def test_axes_follow_most_of_the_length_and_not_the_odd_wing():
    wing = turn(np.array(ROOM, dtype=float) * 0.6 + 10, np.radians(17))
    axes = building_axes(walls_of([*ROOM, *wing]), 1)
    assert quarter(axes.azimuth_rad) == pytest.approx(0.0, abs=1e-9)


def test_axes_are_robust_against_one_wall_out_of_square():
    ends = np.array(ROOM, dtype=float)
    ends[1] = turn(ends[1], np.radians(1.0))
    axes = building_axes(walls_of(ends), 1)
    assert abs(np.degrees(quarter(axes.azimuth_rad))) < 0.05


def test_each_network_has_its_own_axes():
    other = turn(np.array(ROOM, dtype=float) + 20, np.radians(30))
    walls = walls_of([*ROOM, *other], network=[1] * 4 + [2] * 4)
    assert quarter(building_axes(walls, 1).azimuth_rad) == pytest.approx(0.0, abs=1e-9)
    assert quarter(building_axes(walls, 2).azimuth_rad - np.pi / 6) == pytest.approx(0.0, abs=1e-9)


def test_without_a_long_face_nothing_turns():
    stub = walls_of([[(0, 0), (0.3, 0.01)]], sigma_normal_rad=0.1)
    assert not np.isfinite(building_axes(stub, 1).sigma_rad)
    assert turns(stub, Square.WHERE_READINGS_ALLOW, 0.05).tolist() == [0.0]


def test_never_is_never():
    assert (turns(out_of_square(0.2, 0.2), Square.NEVER, 1.0) == 0).all()


@pytest.mark.parametrize(
    ("angle", "sigma", "squared"),
    [(0.12, 0.05, True), (0.14, 0.05, False), (0.5, 0.2, True), (0.03, 0.01, False)],
)
def test_a_face_turns_only_if_its_standard_error_cannot_tell(angle, sigma, squared):
    turned = turns(out_of_square(angle, sigma), Square.WHERE_READINGS_ALLOW, 0.05)
    # The axis gives way a little to the fifth face, which has a fifth of the say at most.
    if squared:
        assert -angle - 1e-9 <= np.degrees(turned[4]) < -0.75 * angle
    else:
        assert turned[4] == 0.0


def test_the_threshold_is_what_it_says():
    assert abs(UNTELLABLE - norm.ppf(0.995)) < 1e-3


@pytest.mark.parametrize(("threshold", "squared"), [(3.3, True), (2.0, False), (0.0, False)])
def test_the_threshold_is_a_person_s_to_set(threshold, squared):
    """A face 0.14 degrees off at a standard error of 0.05: 2.7 of them with the axis' own."""
    turned = turns(out_of_square(0.14, 0.05), Square.WHERE_READINGS_ALLOW, 0.05, threshold)
    assert bool(turned[4] != 0.0) is squared
    asked = turns(out_of_square(0.14, 0.05), Square.WITHIN_TOLERANCE, 0.05, threshold)
    assert asked[4] != 0.0


def test_square_faces_are_squared_as_often_as_stated():
    rng = np.random.default_rng(3)
    sigma = np.radians(0.05)
    done = []
    for _ in range(300):
        ends = np.array(ROOM, dtype=float)
        for k, off in enumerate(sigma * rng.normal(size=4)):
            middle = ends[k].mean(axis=0)
            ends[k] = turn(ends[k] - middle, off) + middle
        done += (turns(walls_of(ends, sigma_normal_rad=sigma), Square.WHERE_READINGS_ALLOW, 0.05)
                 != 0).tolist()  # fmt: skip
    # 99 %; of 1200 faces, four with a common axis, known to some 0.4 %.
    assert 0.98 < np.mean(done) < 0.998


def test_more_on_request_but_within_the_tolerance():
    walls = out_of_square(0.5, 0.01)
    needed = -quarter(walls.normal_rad[4] - drawn_axis(building_axes(walls, 1)))
    # The turn moves the ends of the half of its metre.
    moved = 0.5 * np.tan(abs(needed))
    assert turns(walls, Square.WITHIN_TOLERANCE, moved - 1e-5)[4] == 0.0
    assert turns(walls, Square.WITHIN_TOLERANCE, moved + 1e-5)[4] == pytest.approx(needed)
    assert turns(walls, Square.WHERE_READINGS_ALLOW, moved + 1e-5)[4] == 0.0


def test_a_turn_is_about_the_middle_of_what_readings_support():
    walls = walls_of([[(1, 1), (3, 1.1)]])
    angle = -0.02
    centre, normal, span = turned_lines(walls, np.array([angle]))
    middle = np.array([2, 1.05])
    assert abs((middle - centre[0]) @ [np.sin(normal[0]), np.cos(normal[0])]) < 1e-12
    assert np.ptp(span[0]) == pytest.approx(np.ptp(walls.span_m[0]) * np.cos(angle))


def test_axes_that_cannot_be_told_from_plan_north_are_plan_north():
    # Turned by a tenth of their standard error the walls end exactly on the plan's axes.
    walls = room(0.001, sigma_normal_rad=np.radians(0.01))
    turned = walls.normal_rad + turns(walls, Square.WHERE_READINGS_ALLOW, 0.05)
    np.testing.assert_allclose(quarter(turned), 0.0, atol=1e-12)


def test_axes_that_can_be_told_from_plan_north_stay_theirs():
    axes = building_axes(room(1.0), 1)
    assert drawn_axis(axes) == axes.azimuth_rad != 0.0
