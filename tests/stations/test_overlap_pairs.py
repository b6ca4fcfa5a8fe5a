# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.connect_groups import Groups, compass_of
from roomtie.processing.stations.overlap_pairs import FEW, ROUNDS, PairsToTry, Round, placed
from roomtie.processing.stations.target_surfaces import surfaces_of
from roomtie.processing.stations.targets import sightings_of
from surveyed import faces_of, survey


def groups_of(count):
    """Stations of which none is joined yet."""
    taken = survey(seed=1, sighted={})
    sightings = sightings_of(taken)
    compass = compass_of(taken.captures, False)
    names = tuple(f"S{k}" for k in range(count))
    return Groups.apart(names, sightings, surfaces_of(taken, sightings.name), compass)


def pairs_of(count, alike=None, place=None, may=lambda i, j: True, storeys=1):
    alike = np.zeros((count, count)) if alike is None else alike
    lots = np.array_split(np.arange(count), storeys)
    return PairsToTry(
        lots,
        [alike[np.ix_(of, of)] for of in lots],
        groups_of(count),
        may,
        np.full((count, 2), np.nan) if place is None else place,
        np.full(count, 5.0),
    )


def all_pairs(count):
    return {(i, j) for j in range(count) for i in range(j)}


def test_few_pairs_are_all_tried_in_one_round():
    pairs = pairs_of(30)
    (only,) = pairs.rounds()
    assert only.last and set(pairs.next(only)) == all_pairs(30)
    assert pairs_of(0, storeys=1).next(Round(0, 0)) == []
    assert 30 * 29 // 2 < FEW < 60 * 59 // 2 and pairs_of(60).rounds() == ROUNDS


def test_stations_of_two_storeys_are_no_pair():
    pairs = pairs_of(20, storeys=2)
    assert all((i < 10) == (j < 10) for i, j in pairs.next(pairs.rounds()[0]))


@given(st.integers(60, 90), st.booleans(), st.integers(0, 99))
def test_a_pair_comes_once_and_each_station_with_a_bounded_number(count, tagged, seed):
    rng = np.random.default_rng(seed)
    alike = rng.random((count, count))
    place = rng.uniform(0, 60, (count, 2))
    place[rng.random(count) < 0.3] = np.nan
    pairs = pairs_of(count, alike + alike.T, place if tagged else None)
    tried = [pair for some in pairs.rounds() for pair in pairs.next(some)]
    assert len(tried) == len(set(tried)) and all(i < j for i, j in tried)
    assert len(tried) <= count * (ROUNDS[-1].soon + ROUNDS[-1].likely)
    assert {(k, k + 1) for k in range(count - 1)} <= set(tried)


def test_the_most_alike_and_the_nearest_come_first():
    rng = np.random.default_rng(3)
    count = 200
    true = rng.uniform(0, 80, (count, 2))
    tag = true + rng.normal(0, 5, (count, 2))
    away = np.hypot(*np.moveaxis(true[:, None] - true, -1, 0))
    near = {(i, j) for i, j in all_pairs(count) if away[i, j] < 3.0}
    by_place = pairs_of(count, place=tag).next(Round(0, 16))
    assert len(near & set(by_place)) > 0.7 * len(near)
    alike = rng.normal(1.0, 0.3, (count, count)) + 2.0 * (away < 3.0)
    alike = np.maximum(alike, alike.T)
    by_likeness = pairs_of(count, alike).next(Round(0, 6))
    assert len(near & set(by_likeness)) > 0.95 * len(near)


def test_what_is_joined_is_not_tried_again():
    pairs = pairs_of(6)
    pairs.groups.group[:] = [0, 0, 2, 0, 4, 4]
    every = set(pairs.next(Round(6, 0)))
    assert not every & {(0, 1), (0, 3), (1, 3), (4, 5)} and len(every) == 15 - 4
    pairs = pairs_of(6)
    pairs.groups.group[:] = [0, 0, 2, 0, 4, 4]
    alone = pairs.next(Round(6, 0, alone=True))
    assert alone and all(2 in pair for pair in alone)


def test_pairs_that_are_ruled_out_are_not_tried():
    tried = pairs_of(4, may=lambda i, j: {i, j} != {1, 2}).next(Round(4, 0))
    assert set(tried) == all_pairs(4) - {(1, 2)}


def test_a_group_is_placed_by_all_its_geotags():
    """16 geotags of 5 m place a group to about 1.8 m, one of its stations without any, too."""
    errors = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        true = np.column_stack([rng.uniform(0, 40, (17, 2)), np.zeros(17)])
        groups = groups_of(17)
        groups.group[:] = 0
        groups.pose[:] = between(np.array([5.0, 3.0, 1.1]), true)
        tag = true[:, :2] + rng.normal(0, 5, (17, 2))
        tag[16] = np.nan
        place, sigma = placed(groups, tag, np.full(17, 5.0))
        assert np.isfinite(place).all()
        errors.append(place - true[:, :2])
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(sigma[0], rel=0.35)
    assert sigma[0] == pytest.approx(5.0 * np.sqrt(2 / 16))


def test_captures_of_a_survey_are_compared_where_pairs_are_many():
    taken = survey(seed=2, sighted={})
    faces = faces_of(taken)
    count = 50
    many = [faces[k % len(faces)] for k in range(count)]
    unknown = np.full((count, 2), np.nan)
    level = np.zeros(count, dtype=np.int64)
    pairs = PairsToTry.of(
        np.arange(count),
        many,
        level,
        groups_of(count),
        lambda i, j: True,
        unknown,
        unknown[:, 0],
    )
    # Each capture is there ten times: those are alike before all others.
    tried = pairs.next(Round(0, 9))
    assert all((i - j) % len(faces) == 0 for i, j in tried) and len(tried) == 5 * 45
