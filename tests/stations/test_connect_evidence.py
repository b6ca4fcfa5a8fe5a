# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations.connect_evidence import (
    FURTHER_NATS,
    WALLS_BY_CHANCE,
    Weigher,
    once_each,
)
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.connect_joins import LEAST_NATS
from roomtie.processing.stations.connect_judge import Judge
from roomtie.processing.stations.connect_series import Series
from roomtie.processing.stations.connect_sight import MOST_FOR
from surveyed import POSES, prepared, survey

FAR = np.array([400.0, 0.0, 0.0])


def weigher_of(poses, away=()):
    """A weigher of captures that all stand in one frame; those `away` lie far off in it."""
    groups, views, level = prepared(survey(seed=81, sighted={}, poses=poses))
    groups.pose[:] = poses
    groups.pose[list(away)] += FAR
    return Weigher(views, groups, level, Judge.of(views, groups, level).reach_m)


def test_stations_out_of_reach_change_nothing():
    poses = np.concatenate([POSES, POSES[:2]])
    pose = np.array([(0.004, -0.003, 0.0005), (1.0, 0.6, 0.1)])
    first, second = np.array([0, 1]), np.array([2, 3, 4])
    alone = weigher_of(poses).weigh(first, second, pose)
    weigher = weigher_of(poses, away=(5, 6))
    more = weigher.weigh(np.array([0, 1, 5, 6]), second, pose)
    for name in ("pose", "nats", "sigma_m", "against"):
        assert np.allclose(getattr(alone, name), getattr(more, name))
    assert (alone.walls == more.walls).all()
    assert weigher.clash(np.array([5, 6]), second, pose[0]) == 0.0


def test_the_right_way_has_evidence_and_a_wrong_one_clashes():
    weigher = weigher_of(POSES)
    first, second = np.array([0, 1]), np.array([2, 3])
    laid = weigher.weigh(first, second, np.array([(0.004, -0.003, 0.0005), (1.0, 0.6, 0.1)]))
    assert laid.nats[0] > LEAST_NATS and laid.against[0] < 1.0 and laid.sigma_m[0] < 0.01
    assert np.abs(laid.pose[0]).max() < 0.005
    assert laid.against[1] > 10 and weigher.clash(first, second, laid.pose[1]) < -10


def test_poses_weighed_one_by_one_are_worth_the_same(monkeypatch):
    pose = between(np.zeros(3), np.array([(0.004, -0.003, 0.0005), (0.05, 0.02, 0.004)]))
    first, second = np.array([0, 1]), np.array([2, 3])
    together = weigher_of(POSES).weigh(first, second, pose)
    monkeypatch.setattr("roomtie.processing.stations.connect_evidence.MOST_AT_ONCE", 0)
    apart = weigher_of(POSES).weigh(first, second, pose)
    assert np.allclose(together.pose, apart.pose, atol=1e-9)
    assert np.allclose(together.nats, apart.nats, atol=1e-6)


def test_what_is_looked_at_counts_unless_bare_rooms_are_of_one_series_and_their_walls_less(
    monkeypatch,
):
    pose = np.array([(0.004, -0.003, 0.0005)])
    first, second = np.array([0, 1]), np.array([2, 3])
    weigher = weigher_of(POSES)
    laid = weigher.weigh(first, second, pose)
    speaking, against = weigher.sight(first, second, laid.pose)
    assert 0 < speaking[0] <= MOST_FOR and laid.walls[0] == 4
    weigher.series = Series.BARE
    for own in (3, 4):
        monkeypatch.setattr("roomtie.processing.stations.connect_evidence.WALLS_OF_SERIES", own)
        told = weigher.weigh(first, second, pose)
        more = speaking[0] + FURTHER_NATS * (own - WALLS_BY_CHANCE)
        assert laid.nats[0] - told.nats[0] == pytest.approx(more)
    assert told.against[0] == laid.against[0] == against[0]


def test_a_join_is_held_by_the_walls_that_the_network_takes(monkeypatch):
    first, second, weigher = np.array([0, 1]), np.array([2, 3]), weigher_of(POSES)
    laid = weigher.weigh(first, second, np.array([(0.004, -0.003, 0.0005)]))
    held = weigher.held_m(first, second, laid.pose[0])
    assert laid.sigma_m[0] <= held < 0.01
    at = "roomtie.processing.stations.connect_evidence.trusted"
    monkeypatch.setattr(at, lambda faces: np.ones(len(faces), dtype=bool))
    assert weigher.held_m(first, second, laid.pose[0]) == pytest.approx(laid.sigma_m[0], rel=1e-3)
    # With walls of one direction only they slide along these.
    monkeypatch.setattr(at, lambda faces: np.abs(np.cos(faces.normal_rad)) > 0.9)
    assert weigher.held_m(first, second, laid.pose[0]) > 0.05
    monkeypatch.setattr(at, lambda faces: np.zeros(len(faces), dtype=bool))
    assert weigher.held_m(first, second, laid.pose[0]) == np.inf


def test_each_fault_counts_once():
    """One capture of the second group is contradicted by all of the first, alike much."""
    nats = np.zeros((4, 3))
    nats[:, 1] = 2.0
    assert once_each(nats) == 2.0
    nats[2, 0] = 1.5
    assert once_each(nats) == 3.5
    assert once_each(np.zeros((2, 2))) == pytest.approx(0.0)
