# SPDX-License-Identifier: GPL-2.0-or-later
"""The datum in which errors of simulated networks are told."""

import numpy as np
import pytest
from inner_datum import about_all, holding, motions


def network(rng, stations=5):
    """Positions ``(m, 2)`` and a normal matrix ``(3m, 3m)`` of observations that see no motion of
    the whole."""
    xy = rng.uniform(-5, 5, (stations, 2))
    blind = np.linalg.qr(motions(xy))[0]
    rows = rng.normal(size=(6 * stations, 3 * stations)) * 300
    rows -= rows @ blind @ blind.T
    return xy, rows.T @ rows


def held(normal, station):
    """The covariance with one station held."""
    free = np.delete(np.arange(len(normal)), 3 * station + np.arange(3))
    covariance = np.zeros_like(normal)
    covariance[np.ix_(free, free)] = np.linalg.inv(normal[np.ix_(free, free)])
    return covariance


@pytest.mark.parametrize("station", [0, 3])
def test_a_held_station_gives_the_same_as_inner_constraints(station):
    xy, normal = network(np.random.default_rng(station))
    constraints = holding(xy)
    bordered = np.block([[normal, constraints], [constraints.T, np.zeros((3, 3))]])
    expected = np.linalg.inv(bordered)[: len(normal), : len(normal)]
    # Entries are 1e-6 m2; the bordered matrix has a condition of 1e7.
    np.testing.assert_allclose(about_all(held(normal, station), xy), expected, atol=1e-12)


def test_the_mean_position_and_the_turn_about_it_have_no_error():
    xy, normal = network(np.random.default_rng(7))
    told = about_all(held(normal, 1), xy)
    fixed = holding(xy).T @ told @ holding(xy)
    assert np.abs(fixed).max() < 1e-12 * np.trace(told)


def test_distances_keep_their_error():
    xy, normal = network(np.random.default_rng(8))
    before, after = held(normal, 2), about_all(held(normal, 2), xy)
    along = (xy[4] - xy[1]) / np.hypot(*(xy[4] - xy[1]))
    change = np.zeros(len(normal))
    change[12:14], change[3:5] = along, -along
    assert change @ after @ change == pytest.approx(change @ before @ change, rel=1e-9)
