# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.matching import match
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.overlap_starts import Prior
from simulated import loop
from surveyed import POSES, faces_of, survey

NEAR_M, NEAR_RAD = 0.020, np.radians(0.1)
"""When an answer counts as right: 20 mm and 0.1 degrees."""


def views_of(taken):
    return [view_of(c, f) for c, f in zip(taken.captures, faces_of(taken))]


@pytest.fixture(scope="module")
def views():
    return views_of(survey(seed=4))


def right(found, truth):
    shift, turn = apart(found.pose, truth)
    return (shift < NEAR_M) & (turn < NEAR_RAD)


@pytest.mark.parametrize(("i", "j"), [(0, 1), (2, 3), (1, 0), (3, 2)])
def test_two_stations_of_a_room_match_without_a_start(views, i, j):
    found = match(views[i], views[j])
    assert right(found, between(POSES[i], POSES[j]))[0]
    assert found.gap > 0.3
    assert found.sound[0] > 0.93


@pytest.mark.parametrize(("i", "j"), [(0, 2), (3, 4), (2, 4)])
def test_the_truth_is_among_three_through_a_doorway(views, i, j):
    truth = between(POSES[i], POSES[j])
    compass = Prior(float(truth[2]) + 0.05, np.radians(4.0))
    found = match(views[i], views[j], compass)
    shift, turn = apart(found.pose[:3], truth)
    # A doorway may leave the shift along it to face ends, which a reading's step blurs.
    assert ((shift < 0.10) & (turn < np.radians(0.5))).any()


def test_a_wrong_compass_finds_nothing_right(views):
    truth = between(POSES[2], POSES[3])
    found = match(views[2], views[3], Prior(float(truth[2]) + np.radians(90), np.radians(3.0)))
    assert not right(found, truth).any() if len(found) else True


def test_a_rectangular_room_is_ambiguous():
    """Turned half a circle a bare rectangle looks the same: two poses explain both captures."""
    walls = loop([(0, 0), (5, 0), (5, 3.5), (0, 3.5)])
    poses = np.array([(1.2, 1.0, 0.3), (3.6, 2.2, 1.9)])
    first, second = views_of(survey(seed=6, poses=poses, sighted={}, walls=walls))
    found = match(first, second)
    assert right(found, between(*poses)).any()
    assert found.gap < 0.1


@pytest.mark.parametrize("length", [28, 30, 32])
def test_far_ends_of_a_long_hall_see_each_other(length):
    """What both see lies beyond the cells of either, where every slide along the hall looks alike;
    but for half a turn, of which a pier tells little, one pose brings all walls together."""
    pier = [(12, 0), (12, 0.3), (12.4, 0.3), (12.4, 0)]
    walls = loop([(0, 0), *pier, (length, 0), (length, 2), (0, 2)])
    poses = np.array([(2, 0.9, 0.3), (length - 2, 1.1, 1.9)])
    first, second = views_of(survey(seed=7, poses=poses, sighted={}, walls=walls))
    assert right(match(first, second), between(*poses))[:3].any()


def test_a_start_is_refined(views):
    truth = between(POSES[2], POSES[3])
    start = Prior(float(truth[2]) + 0.04, 0.02, truth[:2] + [0.1, -0.05], 0.05)
    found = match(views[2], views[3], start)
    assert right(found, truth)[0]


def test_nothing_in_nothing_out(views):
    bare = survey(seed=4, poses=POSES[:1], walls=loop([(40, 40), (41, 40), (41, 41)]))
    assert len(match(views_of(bare)[0], views[1])) == 0


def test_matching_both_ways_gives_inverse_poses(views):
    from roomtie.processing.stations.connect_frames import composed

    ab, ba = match(views[2], views[3]).pose[0], match(views[3], views[2]).pose[0]
    shift, turn = apart(composed(ab, ba), np.zeros(3))
    assert shift < 0.005 and turn < np.radians(0.05)
