# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.connect_touching import touching
from roomtie.processing.stations.connect_weigh import FINE_GATES, wall_nats, walls_of
from roomtie.processing.stations.overlap_refine import pair_faces, refine_faces
from surveyed import POSES, faces_of, survey

HERE = np.zeros((1, 3))
FACES = faces_of(survey(seed=71, sighted={}))


@settings(max_examples=40)
@given(st.integers(0, 4), st.integers(0, 4), st.integers(0, 999))
def test_all_that_the_finest_pairing_pairs_touches(i, j, seed):
    """Against `pair_faces`, which compares every face with every other one."""
    rng = np.random.default_rng(seed)
    pose = between(POSES[i], POSES[j]) + rng.normal(0, (0.3, 0.3, 0.1), (6, 3))
    a, b = FACES[i], FACES[j]
    weight = pair_faces(a, b, pose, *FINE_GATES[0], 0.02).weight > 0
    mine, far = touching(a, b, pose)
    assert not (weight.any(axis=2) & ~mine).any() and not (weight.any(axis=1) & ~far).any()


def test_what_does_not_touch_changes_nothing():
    pose = (between(POSES[0], POSES[1]) + [0.01, -0.01, 0.002])[None]
    a, b = FACES[0], FACES[1]
    mine, far = touching(a, b, pose)
    c, d = a.without_readings(mine[0]), b.without_readings(far[0])
    whole, part = refine_faces(a, b, pose, FINE_GATES), refine_faces(c, d, pose, FINE_GATES)
    assert np.allclose(whole.pose, part.pose, atol=1e-12)
    every = wall_nats(walls_of([a], HERE), walls_of([b], HERE), whole.pose)
    some = wall_nats(walls_of([c], HERE), walls_of([d], HERE), whole.pose)
    assert every[0] == pytest.approx(some[0]) and every[1] == some[1]


def test_far_away_or_without_faces_nothing_touches():
    far = np.array([[300.0, 0.0, 0.0]])
    assert not any(mask.any() for mask in touching(FACES[0], FACES[1], far))
    none = FACES[0].without_readings(np.zeros(len(FACES[0]), dtype=bool))
    one, two = touching(none, FACES[1], far)
    assert one.shape == (1, 0) and not two.any()
