# SPDX-License-Identifier: GPL-2.0-or-later
"""Adjustments brought up to date against the same solved anew, without a few observations."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plane_networks import mixed_network
from roomtie.processing.stations.adjustment import FreeNetwork, adjust, solve, solve_linear
from roomtie.processing.stations.adjustment_problem import Problem
from roomtie.processing.stations.adjustment_updates import MOST_UPDATES, Updated
from roomtie.processing.stations.statistics import statistics_of

COLUMNS = ("redundancy", "control", "standardised", "test", "critical", "detectable")


def network(seed, held):
    _, start, observations = mixed_network(seed, held)
    places = None if held else np.ones(len(start.place_xy_m()), dtype=bool)
    return start, observations, places


def items(observations):
    """The rows of every scalar observation and of every correlated item."""
    found = []
    for _, kind, rows in observations.kinds():
        step = kind.components if kind.correlated else 1
        found += [slice(first, first + step) for first in range(rows.start, rows.stop, step)]
    return found


def same_statistics(one, other):
    """To what the inverse of normal equations is known to whose condition is 1e8 (places to metres,
    walls to millimetres); of what hardly anything controls that is all there is."""
    known = ~(np.minimum(one.control, other.control) < 1e-3)
    for name in COLUMNS:
        a, b = getattr(one, name), getattr(other, name)
        some = np.ones_like(known) if name in ("redundancy", "control", "critical") else known
        np.testing.assert_allclose(a[some], b[some], rtol=1e-5, atol=1e-6, err_msg=name)
    assert one.degrees_of_freedom == other.degrees_of_freedom
    assert one.reference_variance == pytest.approx(other.reference_variance, rel=1e-8)


def same_residuals(one, other):
    """To a millionth of what each observation is known to."""
    sigma = np.concatenate(
        [
            np.sqrt(np.einsum("nii->ni", equation.covariance)).ravel()
            for equation, _ in one.observation_covariance()
        ]
    )
    assert np.abs((one.residual - other.residual) / sigma).max() < 1e-6


def switched(observations, statistics, draw):
    """Some items that the others control, in any order."""
    can = [rows for rows in items(observations) if statistics.control[rows.start] > 0.05]
    return draw(st.lists(st.sampled_from(can), min_size=1, max_size=4, unique_by=lambda r: r.start))


@given(st.data(), st.integers(0, 40), st.booleans())
@settings(max_examples=40, deadline=None)
def test_the_same_as_solved_anew(data, seed, held):
    start, observations, places = network(seed, held)
    problem = Problem(start, observations, None, places)
    at = solve(problem, start).unknowns
    begun = solve_linear(problem, at)
    now = Updated(begun)
    statistics = statistics_of(now)
    out = []
    for rows in switched(observations, statistics, data.draw):
        if statistics_of(now).control[rows.start] < 0.05:
            continue  # without those before, nothing controls it any more
        now.switch(rows, on=False)
        out.append(rows)
        used = observations.all_used()
        for each in out:
            used[each] = False
        anew = solve_linear(Problem(start, observations, used, places), at)
        np.testing.assert_array_equal(now.used, anew.used)
        same_residuals(now, anew)
        assert now.sum_of_squares == pytest.approx(anew.sum_of_squares, rel=1e-8)
        same_statistics(statistics_of(now), statistics_of(anew))
    for rows in reversed(out):
        now.switch(rows, on=True)
    same_residuals(now, begun)
    same_statistics(statistics_of(now), statistics)


def test_the_unknowns_follow():
    """To where the adjustment without the observation has them, as far as its equations are
    linear: a blunder of 30 mm moves them by centimetres, of which the squares count 1e-4."""
    start, observations, _ = network(3, held=True)
    rows = slice(0, 1)
    observations.distances.distance_m[0] += 0.03
    now = Updated(adjust(start, observations))
    before = now.vector
    now.switch(rows, on=False)
    used = observations.all_used()
    used[rows] = False
    without = adjust(start, observations, used=used).unknowns.vector
    assert np.abs(without - before).max() > 1e-3
    np.testing.assert_allclose(now.vector, without, atol=0.02 * np.abs(without - before).max())
    assert now.changed


def test_where_the_linear_form_ends():
    """A small error leaves the equations linear, one of metres does not."""
    for error, linear in ((0.003, True), (3.0, False)):
        start, observations, places = network(5, held=False)
        observations.sightings.distance_m[3] += error
        now = Updated(adjust(start, observations, free=FreeNetwork(places)))
        row = observations.rows_of("sightings").start + 7
        now.switch(slice(row, row + 1), on=False)
        assert now.is_linear() == linear


def test_many_changes_ask_for_a_new_solution():
    start, observations, _ = network(1, held=True)
    now = Updated(adjust(start, observations))
    row = observations.rows_of("sightings").start
    for step in range(MOST_UPDATES):
        assert not now.many
        now.switch(slice(row, row + 1), on=bool(step % 2))
    assert now.many and not now.is_linear()
