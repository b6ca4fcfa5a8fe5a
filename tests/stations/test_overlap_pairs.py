# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations.overlap_pairs import AT_ONCE, Round, pair_rounds


def all_pairs(count):
    return [(i, j) for j in range(count) for i in range(j)]


def test_few_pairs_are_one_round():
    pairs = all_pairs(30)
    assert pair_rounds(pairs, None, None, np.full(30, 8.0)) == [Round(pairs)]
    assert pair_rounds([], None, None, np.empty(0)) == []


@given(st.integers(50, 90), st.booleans(), st.integers(0, 99))
def test_every_pair_comes_once(count, tagged, seed):
    rng = np.random.default_rng(seed)
    place = rng.uniform(0, 60, (count, 2))
    place[rng.random(count) < 0.3] = np.nan
    rounds = pair_rounds(
        all_pairs(count),
        place if tagged else None,
        np.full(count, 5.0) if tagged else None,
        np.full(count, 8.0),
    )
    assert sorted(pair for some in rounds for pair in some.pairs) == sorted(all_pairs(count))
    assert all(len(some.pairs) <= AT_ONCE for some in rounds[1:])


def test_neighbours_by_geotag_or_order_come_first():
    rng = np.random.default_rng(3)
    count = 200
    true = rng.uniform(0, 80, (count, 2))
    tag = true + rng.normal(0, 5, (count, 2))
    rounds = pair_rounds(all_pairs(count), tag, np.full(count, 5.0), np.full(count, 9.0))
    assert len(rounds[0].pairs) < 25 * count
    first = set(rounds[0].pairs)
    assert all((k, k + 1) in first for k in range(count - 1))
    near = [p for p in all_pairs(count) if np.hypot(*(true[p[0]] - true[p[1]])) < 4.0]
    assert np.mean([pair in first for pair in near]) > 0.7
    # A geotag may be wrong: what it makes impossible comes last, but comes.
    assert rounds[-1].alone
    assert all(np.hypot(*(tag[i] - tag[j])) > 40.0 for i, j in rounds[-1].pairs)


def test_what_is_joined_is_not_tried_again():
    group = np.array([0, 0, 2, 0, 4, 4])
    assert Round([(0, 1), (0, 2), (1, 4), (2, 3)]).left(group) == [(0, 2), (1, 4), (2, 3)]
    assert Round([(0, 2), (1, 4), (4, 5), (2, 5)], alone=True).left(group) == [(0, 2), (2, 5)]
