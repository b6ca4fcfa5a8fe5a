# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations import overlap_pairs
from roomtie.processing.stations.connect import Connector
from roomtie.processing.stations.connect_bumped import find_bumped
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_groups import compass_of
from roomtie.processing.stations.connect_merge import Merger
from roomtie.processing.stations.connect_targets import join_by_targets
from simulated import loop
from surveyed import POSES, prepared, survey

BEARINGS = {k: np.degrees(pose[2]) + 20.0 for k, pose in enumerate(POSES)}


def test_common_targets_join_and_place_stations():
    groups, _, _ = prepared(survey(seed=31))
    join_by_targets(groups)
    assert list(groups.group) == [0, 0, 2, 2, 4]
    for i, j in ((0, 1), (2, 3)):
        shift, turn = apart(between(groups.pose[i], groups.pose[j]), between(POSES[i], POSES[j]))
        assert shift < 0.02 and turn < np.radians(0.4)


def test_one_target_each_with_two_connected_stations_is_enough():
    poses = POSES[[0, 1, 1]] + np.array([(0, 0, 0), (0, 0, 0), (-1.2, 0.6, 1.0)])
    sighted = {0: ("T1", "T2"), 1: ("T1", "T2", "T3"), 2: ("T1", "T3")}
    groups, _, _ = prepared(survey(seed=32, poses=poses, sighted=sighted))
    join_by_targets(groups)
    assert list(groups.group) == [0, 0, 0]


def test_overlap_joins_what_targets_do_not():
    groups, views, level = prepared(survey(seed=33, sighted={}, compass=BEARINGS))
    connector = Connector.of(views, groups, level)
    connector.join()
    assert len(set(groups.group[:4])) == 1
    for k in range(1, 5):
        if groups.group[k] != groups.group[0]:
            continue
        shift, turn = apart(between(groups.pose[0], groups.pose[k]), between(POSES[0], POSES[k]))
        assert shift < 0.05 and turn < np.radians(0.5)
    assert all(tie.reason == "" for tie in connector.overlaps if tie.used)
    assert all(tie.reason for tie in connector.overlaps if not tie.used)


@pytest.mark.parametrize("few", [True, False])
def test_less_is_enough_at_the_end_only_where_every_pair_was_looked_at(monkeypatch, few):
    ended = []
    monkeypatch.setattr(Merger, "join_last", lambda self, progress: ended.append(self))
    monkeypatch.setattr(overlap_pairs, "_few", lambda storeys: few)
    groups, views, level = prepared(survey(seed=81, sighted={}))
    connector = Connector.of(views, groups, level)
    connector.join()
    assert bool(ended) == few
    connector.at_last = False
    ended.clear()
    connector.join()
    assert not ended


def test_storeys_are_not_matched():
    taken = survey(seed=33, sighted={}, compass=BEARINGS)
    groups, views, _ = prepared(taken)
    Connector.of(views, groups, np.arange(5)).join()
    assert list(groups.group) == [0, 1, 2, 3, 4]


def test_two_alike_rooms_are_not_joined():
    """Two bare rectangles of one size, a station in each, one turned half a circle: they fit
    perfectly and in two ways, so that nothing is joined."""
    walls = loop([(0, 0), (5, 0), (5, 3.5), (0, 3.5)])
    poses = np.array([(1.2, 1.0, 0.3), (3.6, 2.2, 1.9)])
    groups, views, level = prepared(survey(seed=34, poses=poses, sighted={}, walls=walls))
    Connector.of(views, groups, level).join()
    assert list(groups.group) == [0, 1]


def test_compasses_keep_alike_rooms_apart():
    """With bearings that differ by a right angle from what the walls say, nothing is joined."""
    bearings = {2: BEARINGS[2], 3: BEARINGS[3] + 100.0}
    taken = survey(seed=35, sighted={}, compass=bearings)
    groups, views, level = prepared(taken)
    Connector.of(views, groups, level).join()
    assert groups.group[2] != groups.group[3]


def test_a_steady_tripod_is_not_called_bumped():
    groups, views, level = prepared(survey(seed=36))
    join_by_targets(groups)
    assert find_bumped(groups, views, level) == []


@pytest.mark.parametrize("use", [True, False])
def test_the_compass_can_be_left_out(use):
    taken = survey(seed=38, compass=BEARINGS, readings=100)
    assert compass_of(taken.captures, use).known.all() == use
