# SPDX-License-Identifier: GPL-2.0-or-later
"""Motions of the plane against complex numbers, and covariances against one large matrix."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.angles import turn, turn_matrix
from roomtie.processing.stations.connect_frames import (
    apart,
    between,
    composed,
    inverse,
    moved,
    pose_matrix,
    turned_covariance,
)

POSE = st.tuples(*(st.floats(-50.0, 50.0) for _ in range(2)), st.floats(-3.1, 3.1)).map(np.array)


@given(st.lists(POSE, min_size=1, max_size=4), st.floats(-7.0, 7.0))
def test_a_turn_is_a_complex_factor(poses, angle):
    points = np.array(poses)[:, :2]
    expected = (points[:, 0] + 1j * points[:, 1]) * np.exp(-1j * angle)  # clockwise
    found = turn(points, angle)
    np.testing.assert_allclose(found[:, 0] + 1j * found[:, 1], expected, atol=1e-12)
    np.testing.assert_allclose(points @ turn_matrix(angle).T, found, atol=1e-12)
    each = turn(points, np.full(len(points), angle))
    np.testing.assert_array_equal(each, found)


@given(POSE, POSE, POSE)
def test_motions_compose_and_go_back(one, two, point):
    np.testing.assert_allclose(
        moved(composed(one, two), point[:2]), moved(one, moved(two, point[:2])), atol=1e-10
    )
    shift, turned = apart(composed(inverse(one), one), np.zeros(3))
    assert shift < 1e-10 and turned < 1e-12
    shift, turned = apart(composed(one, between(one, two)), two)
    assert shift < 1e-10 and turned < 1e-12


def test_a_turned_covariance_is_that_of_one_large_matrix():
    rng = np.random.default_rng(2)
    root = rng.normal(size=(15, 15))
    covariance, angle = root @ root.T, 0.7
    s, c = np.sin(angle), np.cos(angle)
    one = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    every = np.kron(np.eye(5), one)
    assert pose_matrix(angle) == pytest.approx(one)
    assert pose_matrix(np.array([0.0, angle]))[1] == pytest.approx(one)
    assert turned_covariance(covariance, angle) == pytest.approx(every @ covariance @ every.T)
