# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_targets import join_by_targets
from roomtie.processing.stations.network_evidence import evidence_of
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.network_settle import settle_groups
from surveyed import POSES, faces_of, prepared, survey

# T2 and T3 alone are seen from the first two stations, T4 and T6 from the next two.
TWO_EACH = {0: ("T2", "T3"), 1: ("T2", "T3"), 2: ("T4", "T6"), 3: ("T4", "T6")}


def errors(groups, pair):
    i, j = pair
    off, turn = apart(between(groups.pose[i], groups.pose[j]), between(POSES[i], POSES[j]))
    return float(off), float(turn)


def test_walls_put_a_group_tied_by_targets_where_it_is():
    """Two targets some metres away put a station to millimetres; the walls of a common room to
    some tenths. A station that nothing ties stays."""
    before, after = [], []
    for seed in range(6):
        taken = survey(seed=seed, sighted=TWO_EACH)
        groups, _, level = prepared(taken)
        join_by_targets(groups, None, level=level)
        assert [len(groups.members(g)) for g in groups.leaders()] == [2, 2, 1]
        alone = groups.pose[4].copy()
        evidence = evidence_of(taken, faces_of(taken), NetworkOptions())
        for told in (before, after):
            told += [errors(groups, pair) for pair in ((0, 1), (2, 3))]
            settle_groups(evidence, groups)
        assert np.array_equal(groups.pose[4], alone)
    before, after = np.median(before, axis=0), np.median(after, axis=0)
    assert after[0] < 0.001
    assert after[1] < np.radians(0.02)
    assert (after < 0.5 * before).all()


def test_walls_that_would_move_a_station_far_are_not_believed():
    """A group whose stations would move by more than targets can be off stays as it is."""
    taken = survey(seed=1, sighted=TWO_EACH)
    groups, _, level = prepared(taken)
    join_by_targets(groups, None, level=level)
    pose = groups.pose.copy()
    groups.pose[1, :2] += 0.5
    spoiled = groups.pose.copy()
    evidence = evidence_of(taken, faces_of(taken), NetworkOptions())
    settle_groups(evidence, groups)
    np.testing.assert_array_equal(groups.pose[:2], spoiled[:2])
    assert not np.array_equal(groups.pose[2:4], pose[2:4])
