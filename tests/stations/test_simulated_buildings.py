# SPDX-License-Identifier: GPL-2.0-or-later
"""The simulator that stations are judged by must itself be right."""

import numpy as np
import pytest
import shapely
import simulated
import simulated_rays
from roomtie.processing.angles import wrap_half
from simulated_buildings import simulated_building, simulated_pairs
from simulated_rays import Surface


@pytest.fixture(scope="module")
def building():
    return simulated_building(2, rooms=5)


def test_the_ray_caster_agrees_with_the_plain_one(building):
    _, truth = building
    segments = truth.storeys[0].segments
    azimuth = np.random.default_rng(1).uniform(-7.0, 7.0, 400)
    for pose in truth.pose[:4]:
        distance, hit = simulated_rays.cast(segments, pose[:2], azimuth)
        expected, segment = simulated.cast(segments, pose[:2], azimuth)
        np.testing.assert_allclose(distance, expected, rtol=1e-12)
        np.testing.assert_array_equal(hit, segment)


def test_captures_show_the_walls_from_the_true_poses(building):
    survey, truth = building
    plan = truth.storeys[0]
    solid = plan.segments[plan.surface != Surface.GLASS]
    for capture, pose in zip(survey.captures, truth.pose):
        expected, hit = simulated.cast(solid, pose[:2], capture.angle_rad + pose[2])
        off = np.abs(capture.distance_m - expected)[capture.usable_ring]
        # 2 mm along the ray; a slanted wall adds the angle's error, glass and edges are the rest.
        assert np.median(off) < 0.003
        assert np.mean(off < 0.02) > 0.85
        assert (hit >= 0).all()


def test_the_same_seed_gives_the_same_survey(building):
    survey, truth = building
    again, same = simulated_building(2, rooms=5)
    np.testing.assert_array_equal(truth.pose, same.pose)
    for one, other in zip(survey.captures, again.captures):
        np.testing.assert_array_equal(one.distance_m, other.distance_m)


def test_stations_stand_in_rooms_and_see_each_other_alike(building):
    _, truth = building
    rooms = truth.storeys[0].rooms
    for pose, room in zip(truth.pose, truth.room):
        assert rooms[room].contains(shapely.Point(pose[:2]))
    np.testing.assert_array_equal(truth.share, truth.share.T)
    assert truth.honest.any() and not truth.honest[truth.share < 0.04].any()


def test_pairs_are_half_through_doorways_and_start_nearby():
    pairs = simulated_pairs(3, 4)
    assert sum(pair.doorway for pair in pairs) == 2
    for pair in pairs:
        off = pair.start - pair.pose
        assert np.hypot(*off[:2]) <= 3.0 and abs(wrap_half(off[2])) <= np.radians(10.0)


def test_storeys_have_the_well_and_its_targets_in_common():
    survey, truth = simulated_building(4, rooms=3, storeys=2, stair=3, targets=False)
    well = truth.storeys[0].rooms[-truth.storeys[0].halls - 1]
    assert len(truth.in_the_well(0)) and len(truth.in_the_well(1))
    assert len(truth.targets) == 3
    for x, y, _ in (at for at, _ in truth.targets.values()):
        assert well.exterior.distance(shapely.Point(x, y)) < 1e-9
    for name in (*truth.in_the_well(0), *truth.in_the_well(1)):
        capture, pose = survey.captures[survey.index(name)], truth.pose[survey.index(name)]
        sighted = np.flatnonzero(capture.target != "")
        assert sorted(capture.target[sighted]) == sorted(truth.targets)
        for row in sighted:
            x, y, _ = truth.targets[str(capture.target[row])][0]
            direct = np.hypot(*(np.array([x, y]) - pose[:2]))
            # 2 mm of slope and 0.03 deg of the zenith angle over 1.6 m of rise.
            assert abs(capture.distance_m[row] - direct) < 0.012
            assert (capture.zenith_deg[row] < 90) == (capture.level == 0)
