# SPDX-License-Identifier: GPL-2.0-or-later
"""A network that grew lies where the earlier one lay."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.angles import wrap_half
from roomtie.processing.stations.connect_frames import apart, composed, fitted, moved
from roomtie.processing.stations.model import (
    Network,
    NetworkStatistics,
    Status,
    Targets,
    Ties,
)
from roomtie.processing.stations.same_datum import (
    EarlierPoses,
    motion_between,
    network_poses,
    on_earlier_datum,
)

NONE, WHOLE = np.empty(0), np.empty(0, dtype=np.int64)


def network(poses, group, names=None, held=()):
    count = len(poses)
    root = np.random.default_rng(4).normal(size=(3 * count, 3 * count)) * 1e-3
    names = names or tuple(f"S{i}" for i in range(count))
    return Network(
        station=tuple(names),
        xy_m=poses[:, :2],
        orientation_rad=wrap_half(poses[:, 2]),
        covariance=root @ root.T,
        network=np.array(group),
        status=tuple(Status.HELD if n in held else Status.ADJUSTED for n in names),
        ties=Ties((), (), WHOLE, WHOLE, WHOLE, NONE, NONE, NONE, NONE, np.empty(0, bool), ()),
        targets=Targets(
            ("T",),
            np.array([[3.0, 4.0]]),
            np.diag([1e-6, 4e-6])[None],
            np.array([2]),
            np.array([1]),
        ),
        statistics=NetworkStatistics(1.0, 0, 0.0, 0.0, 0.0, 0, 0),
    )


def poses_of(count, seed=1):
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(-20, 20, (count, 2)), rng.uniform(-3, 3, count)])


def earlier_of(network):
    return EarlierPoses(network.station, network_poses(network), network.network)


@given(st.integers(1, 6), st.integers(0, 1000))
def test_a_motion_of_the_whole_is_found_whatever_the_number_of_stations(count, seed):
    before = poses_of(count, seed)
    motion = poses_of(1, seed + 1)[0]
    shift, turn = apart(motion_between(before, composed(motion, before)), motion)
    assert shift < 1e-9 and turn < 1e-10


def test_a_group_comes_back_as_a_whole_with_targets_and_errors():
    before = network(poses_of(5), [1] * 5)
    motion = np.array([10.0, -3.0, 0.7])
    after = network(composed(motion, network_poses(before)), [1] * 5)
    after = replace(after, targets=replace(after.targets, xy_m=moved(motion, [[3.0, 4.0]])))
    back = on_earlier_datum(after, earlier_of(before))
    assert network_poses(back) == pytest.approx(network_poses(before), abs=1e-9)
    assert back.targets.xy_m == pytest.approx(before.targets.xy_m, abs=1e-9)
    # A turn changes no length: the trace and the determinant of every block stay.
    for i in range(5):
        block, was = back.block(i)[:2, :2], after.block(i)[:2, :2]
        assert np.trace(block) == pytest.approx(np.trace(was))
        assert np.linalg.det(block) == pytest.approx(np.linalg.det(was))
    assert back.sigma()[:, 2] == pytest.approx(after.sigma()[:, 2])


def test_one_station_that_moved_does_not_draw_the_others_along():
    before = network(poses_of(8), [1] * 8)
    poses = network_poses(before)
    poses[3, :2] += (0.4, -0.2)
    back = on_earlier_datum(network(poses, [1] * 8), earlier_of(before))
    still = np.arange(8) != 3
    assert np.abs(back.xy_m[still] - before.xy_m[still]).max() < 0.002
    # Least squares would have drawn the others along.
    least = moved(fitted(poses[:, :2], before.xy_m, np.ones(8)), poses[:, :2])
    assert np.abs(least[still] - before.xy_m[still]).max() > 0.02


def test_a_held_station_is_the_datum():
    before = network(poses_of(4), [1] * 4)
    moved_on = network_poses(before) + [[0.0, 0.0, 0.0]] + [[0.01, 0.0, 0.0]] * np.eye(4)[:, 1:2]
    after = network(moved_on, [1] * 4, held=("S0",))
    assert on_earlier_datum(after, earlier_of(before)) is after


def test_new_groups_go_with_the_first_and_known_ones_where_they_were():
    before = network(poses_of(4), [1, 1, 2, 2])
    motion = np.array([5.0, 6.0, np.pi / 2])
    own = np.array([-40.0, 2.0, 1.0])
    poses = network_poses(before)
    new = np.array([[30.0, 0.0, 0.0]])
    after = network(
        np.concatenate(
            [composed(motion, poses[:2]), composed(own, poses[2:]), composed(motion, new)]
        ),
        [1, 1, 2, 2, 3],
    )
    back = network_poses(on_earlier_datum(after, earlier_of(before)))
    assert back == pytest.approx(np.concatenate([poses, new]), abs=1e-9)


def test_of_two_groups_that_became_one_the_larger_decides():
    before = network(poses_of(5), [1, 1, 2, 2, 2])
    motion = np.array([7.0, 1.0, 0.3])
    joined = network_poses(before)
    joined[:2] = composed(motion, joined[:2])
    back = on_earlier_datum(network(joined, [1] * 5), earlier_of(before))
    assert network_poses(back) == pytest.approx(joined, abs=1e-9)


def test_without_a_common_station_nothing_moves():
    before = network(poses_of(2), [1, 1])
    after = network(poses_of(2, 9), [1, 1], names=("A", "B"))
    assert network_poses(on_earlier_datum(after, earlier_of(before))) == pytest.approx(
        network_poses(after)
    )
