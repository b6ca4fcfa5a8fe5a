# SPDX-License-Identifier: GPL-2.0-or-later
"""The datum of a network: inner constraints against dense linear algebra, held stations, priors."""

from dataclasses import replace

import numpy as np
import pytest
from plane_networks import MM, dense_jacobian, mixed_network, whole_covariance
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.errors import SurveyError
from roomtie.processing.stations.adjustment import FreeNetwork, adjust
from roomtie.processing.stations.observations import (
    Angles,
    Azimuths,
    Distances,
    Observations,
    Positions,
    ScalarValues,
    Unknowns,
)
from roomtie.processing.stations.statistics import statistics_of


def points_only(seed, azimuths=False, distances=True):
    """Five points with all distances and some angles; nothing held."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 20, (5, 2))
    a, b = np.triu_indices(5, 1)
    at, back, fore = np.array([[0, 1, 2], [1, 2, 3], [2, 3, 4], [3, 4, 0], [4, 0, 1], [0, 2, 3]]).T

    def az(i, j):
        return np.arctan2(*(xy[j] - xy[i]).T)

    observations = Observations(
        distances=Distances(a, b, np.hypot(*(xy[b] - xy[a]).T) + rng.normal(size=10) * MM, MM)
        if distances
        else Distances(),
        angles=Angles(
            at, back, fore, az(at, fore) - az(at, back) + rng.normal(size=6) * 1e-4, 1e-4
        ),
        azimuths=Azimuths([0], [3], az([0], [3]), 1e-4) if azimuths else Azimuths(),
    )
    start = Unknowns(point=tuple("abcde"), point_xy_m=xy + rng.normal(size=(5, 2)) * 0.01)
    return start, observations


@pytest.mark.parametrize(
    ("azimuths", "distances", "defect"), [(False, True, 3), (True, True, 2), (False, False, 4)]
)
def test_inner_constraints_give_the_pseudoinverse(azimuths, distances, defect):
    """With all points taking part, cofactors are the pseudoinverse of the normal matrix (Ghilani
    16.7; Teunissen 1985), and corrections have no component along the open motions."""
    start, observations = points_only(5, azimuths, distances)
    result = adjust(start, observations, free=FreeNetwork(np.ones(5, dtype=bool)))
    assert result.converged
    assert result.degrees_of_freedom == observations.rows - (10 - defect)
    jacobian = dense_jacobian(result.unknowns, observations)
    assert np.linalg.matrix_rank(jacobian, tol=1e-4) == 10 - defect
    expected = np.linalg.pinv(jacobian, rcond=1e-8)
    expected = expected @ expected.T
    scale = np.abs(expected).max()
    assert whole_covariance(result) == pytest.approx(expected, rel=1e-5, abs=1e-6 * scale)
    correction = result.unknowns.point_xy_m - start.point_xy_m
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    if defect >= 3:
        x, y = (result.unknowns.point_xy_m - start.point_xy_m.mean(axis=0)).T
        assert np.sum(y * correction[:, 0] - x * correction[:, 1]) == pytest.approx(0, abs=1e-10)
    if defect == 4:
        assert np.sum(x * correction[:, 0] + y * correction[:, 1]) == pytest.approx(0, abs=1e-10)


def test_the_datum_changes_neither_residuals_nor_redundancies():
    start, observations = points_only(6)
    held = replace(start, point_held=np.array([[True, True], [True, False]] + [[False, False]] * 3))
    one = adjust(held, observations)
    two = adjust(start, observations, free=FreeNetwork(np.array([True, True, True, False, False])))
    assert one.residual == pytest.approx(two.residual, abs=1e-10)
    first, second = statistics_of(one), statistics_of(two)
    assert first.redundancy == pytest.approx(second.redundancy, abs=1e-9)
    assert first.standardised == pytest.approx(second.standardised, abs=1e-6)
    # Only the points that take part carry the datum.
    correction = (two.unknowns.point_xy_m - start.point_xy_m)[:3]
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    partial = [np.trace(block) for block in two.point_covariance()[:3]]
    assert sum(partial) < sum(np.trace(block) for block in one.point_covariance()[:3])


def test_a_free_network_of_stations():
    """Orientations, a surface's azimuth and a compass offset follow the datum of the positions."""
    truth, start, observations = mixed_network(2, held=False)
    observations = replace(
        observations,
        azimuths=Azimuths(),
        positions=Positions(),
        scalar_values=ScalarValues([2], [0.003], [MM]),
    )
    taking_part = np.arange(10) < 4
    result = adjust(start, observations, free=FreeNetwork(taking_part))
    assert result.converged
    correction = result.unknowns.station_xy_m - start.station_xy_m
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    # The S-transformation of any other datum's covariance gives this one.
    fixed = adjust(
        replace(start, station_held=np.array([[True] * 3] + [[False] * 3] * 3)), observations
    )
    assert result.sum_of_squares == pytest.approx(fixed.sum_of_squares, rel=1e-9)
    size = start.size
    g = np.zeros((size, 3))
    xy = result.unknowns.place_xy_m()
    columns = start.place_column(np.arange(10))
    g[columns, 0] = g[columns + 1, 1] = 1
    g[columns, 2], g[columns + 1, 2] = xy[:, 1], -xy[:, 0]
    g[[2, 5, 8, 11], 2] = 1
    g[-4:, 2] = [-1, 1, 0, 0]
    part = np.zeros_like(g)
    rows = (columns[:4, None] + [0, 1]).ravel()
    part[rows] = g[rows]
    s = np.eye(size) - g @ np.linalg.solve(part.T @ g, part.T)
    # The other datum's covariance, brought to this network's place first.
    shift = result.unknowns.orientation_rad[0] - fixed.unknowns.orientation_rad[0]
    rotate = np.eye(size)
    for column in columns:
        rotate[column : column + 2, column : column + 2] = turn(np.eye(2), shift).T
    expected = s @ rotate @ whole_covariance(fixed) @ rotate.T @ s.T
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.abs((whole_covariance(result) - expected) / scale).max() < 1e-6
    assert result.station_covariance()[2] == pytest.approx(
        whole_covariance(result)[6:9, 6:9], rel=1e-7, abs=1e-18
    )
    gap = wrap_half(result.unknowns.orientation_rad - fixed.unknowns.orientation_rad - shift)
    assert np.abs(gap).max() < 1e-10
    assert truth.size == size


def test_inner_constraints_need_two_places():
    start, observations = points_only(1)
    one = np.array([False, False, False, False, True])
    said = rf"do not fix position and orientation \(found {start.point[-1]}; expected"
    with pytest.raises(SurveyError, match=said):
        adjust(start, observations, free=FreeNetwork(one))
    with pytest.raises(SurveyError, match="places is"):
        adjust(start, observations, free=FreeNetwork(one[:3]))


def test_a_free_network_that_priors_already_fix_stays_as_it_is():
    _, start, observations = mixed_network(0)
    plain = adjust(start, observations)
    free = adjust(start, observations, free=FreeNetwork(np.ones(10, dtype=bool)))
    assert free.unknowns.vector == pytest.approx(plain.unknowns.vector, abs=1e-12)
    assert whole_covariance(free) == pytest.approx(whole_covariance(plain), rel=1e-9, abs=1e-18)
