# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.stations import connect_merge
from roomtie.processing.stations.connect_evidence import Weigher
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_joins import (
    RULED_LEAD,
    SHARP_M,
    SURE_NATS,
    Join,
    compass_nats,
    enough,
    enough_at_last,
)
from roomtie.processing.stations.connect_judge import Judge
from roomtie.processing.stations.connect_merge import Merger
from roomtie.processing.stations.connect_series import Series
from roomtie.processing.stations.matching import match
from simulated import loop
from surveyed import POSES, prepared, survey


def merger_of(taken):
    groups, views, level = prepared(taken)
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


def test_only_sure_joins_come_before_all_pairs_are_looked_at():
    merger = merger_of(survey(seed=81, sighted={}))
    merger.join(least=SURE_NATS)
    early = list(merger.joins)
    assert early and all(join.weight >= SURE_NATS for join in early)
    merger.join()
    assert len(merger.joins) > len(early)


def test_what_a_join_needs():
    merger = merger_of(survey(seed=81, sighted={}))
    merger.groups.join(0, 1, between(POSES[0], POSES[1]))

    def made(second, nats, rival, against=0.0):
        join = Join(0, second, np.zeros(3), nats, nats - max(rival, 0.0), rival, 6, against)
        return enough(merger.groups, join)

    assert made(2, 3.5, 0.4) and not made(2, 2.5, -2.0)
    # All else ruled out is more than nothing else found, unless something was looked through.
    assert made(2, 2.5, -5.0) and made(2, 1.6, -RULED_LEAD) and not made(2, 1.4, -RULED_LEAD)
    assert made(2, 2.0, -RULED_LEAD) and not made(2, 2.0, -np.inf)
    assert not made(2, 2.0, -RULED_LEAD, against=3.0) and made(2, 3.0, -RULED_LEAD, against=9.0)
    # Where rooms are built alike, another of them may be the true place.
    pose = Join(0, 2, np.zeros(3), 2.5, 2.5, -2 * RULED_LEAD, 6)
    assert enough(merger.groups, pose) and not enough(merger.groups, pose, Series.FURNISHED)
    assert enough(merger.groups, replace(pose, nats=3.5, lead=3.5), Series.FURNISHED)
    merger.groups.join(0, 3, between(POSES[0], POSES[3]))
    merger.groups.join(0, 4, between(POSES[0], POSES[4]))
    assert enough(merger.groups, pose, Series.FURNISHED)
    assert not enough(merger.groups, replace(pose, nats=1.8, lead=1.8), Series.FURNISHED)
    # Another pose nearly as good is never enough.
    assert not made(2, 20.0, 17.5)


def test_at_the_end_less_is_enough_where_stations_stand_by():
    merger = merger_of(survey(seed=81, sighted={}))

    def made(nats, walls=3, against=1.5, rival=-4.1):
        join = Join(0, 4, np.zeros(3), nats, nats, rival, walls, against)
        return enough_at_last(merger.groups, join)

    assert made(3.6) and not made(3.4)
    merger.groups.join(0, 1, between(POSES[0], POSES[1]))
    merger.groups.join(0, 2, between(POSES[0], POSES[2]))
    assert made(1.6) and not made(1.4)
    merger.groups.join(0, 3, between(POSES[0], POSES[3]))
    assert made(0.6) and not made(0.4)
    assert made(0.6, rival=-np.inf) and not made(2.2, rival=-3.9)
    assert not made(9.0, walls=2) and not made(9.0, against=1.6)


def test_what_is_joined_at_the_end_lies_right(monkeypatch):
    """Where nothing else is clear, the fifth of five stations still has its place."""
    taken = survey(seed=81, sighted={})
    groups, views, level = prepared(taken)
    for k in (1, 2, 3):
        groups.join(0, k, between(POSES[0], POSES[k]))
    merger = Merger(views, groups, level, Judge.of(views, groups, level))
    merger.add(((k, 4), match(views[k], views[4])) for k in range(4))
    monkeypatch.setattr(connect_merge, "enough", lambda *_: False)
    merger.join()
    assert not merger.joins
    merger.join_last()
    (join,) = merger.joins
    i, j = join.stations
    shift, turn = apart(join.relative, between(POSES[i], POSES[j]))
    assert shift < 0.01 and turn < np.radians(0.1)
    # That holds for the end only.
    assert not merger._last


def test_what_the_network_cannot_hold_is_not_joined(monkeypatch):
    """Faces too short for the network may show how two groups lie, and do not fix them there."""
    merger = merger_of(survey(seed=81, sighted={}))
    monkeypatch.setattr(Weigher, "held_m", lambda *_: 1.5 * SHARP_M)
    merger.join()
    assert merger.joins == []
    merger = merger_of(survey(seed=81, sighted={}))
    monkeypatch.setattr(Weigher, "held_m", lambda *_: 0.9 * SHARP_M)
    merger.join()
    assert merger.joins


def test_two_captures_that_no_other_stands_by_need_more():
    merger = merger_of(survey(seed=81, sighted={}))
    pair = Join(0, 1, np.zeros(3), 3.5, 3.5, -2 * RULED_LEAD, 6)
    assert not enough(merger.groups, pair)
    assert enough(merger.groups, replace(pair, nats=4.5, lead=4.5))
    # Two walls fix the pose and check it hardly; targets do.
    assert not enough(merger.groups, replace(pair, nats=5.0, lead=5.0, walls=2))
    assert enough(merger.groups, replace(pair, nats=11.0, lead=11.0, walls=2))
    # Two rooms of one series may agree to a millimetre.
    assert not enough(merger.groups, replace(pair, nats=7.0, lead=7.0), Series.FURNISHED)
    assert not enough(merger.groups, replace(pair, nats=6.5, lead=6.5), Series.BARE)
    assert enough(merger.groups, replace(pair, nats=7.5, lead=7.5), Series.BARE)
    merger.groups.join(1, 2, between(POSES[1], POSES[2]))
    assert enough(merger.groups, pair)


def test_a_compass_speaks_for_its_turn_and_against_other_quarters():
    nats = compass_nats(np.array([0.3, 0.3 + np.radians(10), 2.5, 0.3 - np.pi / 2]), 0.3, 0.07)
    # Places built alike lie at one of four quarter turns, by chance at this one.
    assert np.log(4) > nats[0] > 1.2
    assert nats[0] > nats[1] > nats[3]
    # A few compasses are bent: none rules a pose out, and that between quarters is no worse for it.
    assert nats[2] == pytest.approx(0.0, abs=0.01)
    assert -5.0 < nats[3] < -3.0
