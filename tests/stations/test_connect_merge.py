# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_groups import Groups, compass_of
from roomtie.processing.stations.connect_judge import Judge
from roomtie.processing.stations.connect_merge import Merger, compass_nats, once_each
from roomtie.processing.stations.matching import match
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.targets import sightings_of, surfaces_of
from simulated import loop
from surveyed import POSES, faces_of, survey


def merger_of(taken):
    sightings = sightings_of(taken)
    groups = Groups.apart(
        taken.names,
        sightings,
        surfaces_of(taken, sightings.name),
        compass_of(taken.captures, True),
    )
    views = [view_of(c, f) for c, f in zip(taken.captures, faces_of(taken))]
    level = np.array([c.level for c in taken.captures])
    merger = Merger(views, groups, level, Judge.of(views, groups, level))
    count = len(views)
    merger.add(((i, j), match(views[i], views[j])) for j in range(count) for i in range(j))
    return merger


def test_what_is_joined_lies_right_and_the_rest_has_a_reason():
    merger = merger_of(survey(seed=81, sighted={}))
    merger.join()
    g = merger.groups
    assert merger.joins and merger.scatter == 1.0
    for i in range(5):
        for j in range(i):
            if g.group[i] == g.group[j]:
                shift, turn = apart(between(g.pose[j], g.pose[i]), between(POSES[j], POSES[i]))
                assert shift < 0.01 and turn < np.radians(0.1)
    for join in merger.joins:
        i, j = join.stations
        shift, _ = apart(join.relative, between(POSES[i], POSES[j]))
        assert shift < 0.01 and join.nats > 0 and 0 < join.gap <= 1
    assert all(reason for _, reason in merger.undecided())


def test_two_ways_to_lie_are_no_join():
    """A bare rectangle turned half a circle is the same."""
    walls = loop([(0, 0), (5, 0), (5, 3.5), (0, 3.5)])
    poses = np.array([(1.2, 1.0, 0.3), (3.6, 2.2, 1.9)])
    merger = merger_of(survey(seed=82, poses=poses, sighted={}, walls=walls))
    merger.join()
    assert not merger.joins
    ((_, reason),) = merger.undecided()
    assert reason == "another pose explains the captures nearly as well"


def test_each_fault_counts_once():
    """One capture of the second group is contradicted by all of the first, alike much."""
    nats = np.zeros((4, 3))
    nats[:, 1] = 2.0
    assert once_each(nats) == 2.0
    nats[2, 0] = 1.5
    assert once_each(nats) == 3.5
    assert once_each(np.zeros((2, 2))) == 0.0


def test_a_compass_speaks_for_its_turn_and_little_against_others():
    nats = compass_nats(np.array([0.3, 0.3 + np.radians(10), 2.5]), 0.3, np.radians(4.0))
    assert nats[0] > 2.0 > nats[1] > nats[2]
    # A few compasses are bent: none rules a pose out.
    assert nats[2] == pytest.approx(np.log(0.15))
