# SPDX-License-Identifier: GPL-2.0-or-later
"""Statistics of an adjustment against dense matrices, tables and simulation."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.angles import turn, unit
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.observations import (
    Distances,
    Observations,
    Positions,
    RelativePoses,
    Sightings,
    Unknowns,
)
from roomtie.processing.stations.statistics import (
    ELLIPSE_FACTOR,
    critical_value,
    error_ellipse,
    statistics_of,
    variance_bounds,
)
from scipy.stats import chi2, kstest, multivariate_normal

MM = 1e-3


def simulate(count, seed, tie=True):
    """`count` independent networks of four stations and six targets, each from its own held
    station, with measuring noise of the stated size; and the truth."""
    rng = np.random.default_rng(seed)
    xy = np.array([[0.0, 0.0], [4.0, 0.5], [4.5, 4.0], [0.5, 3.5]])
    targets = np.array([[2, 1], [3, 3], [1, 2.5], [5, 2], [2.5, 5], [-1, 1.0]])
    orientation = np.array([0.0, 1.0, -2.0, 3.0])
    sees = np.array([[0, 1, 2, 5], [0, 1, 3, 2], [1, 3, 4, 2], [2, 4, 1, 5]])
    station = np.repeat(np.arange(4), 4)
    target = sees.ravel()
    difference = targets[target] - xy[station]
    true_angle = np.arctan2(*difference.T) - orientation[station]
    true_distance = np.hypot(*difference.T)
    sigma_angle, sigma_distance = np.radians(0.03), 2 * MM
    n = count
    offset = np.arange(n)[:, None]
    covariance = np.array([[9.0, 3.0, 0.5], [3.0, 16.0, -1.0], [0.5, -1.0, 1.0]]) * MM**2
    relative = np.array([*turn(xy[2] - xy[0], -orientation[0]), orientation[2] - orientation[0]])
    noise = rng.multivariate_normal(np.zeros(3), covariance, n)
    held = np.zeros((4 * n, 3), dtype=bool)
    held[::4] = True
    truth = Unknowns(
        station=tuple(str(i) for i in range(4 * n)),
        station_xy_m=np.tile(xy, (n, 1)),
        orientation_rad=np.tile(orientation, n),
        point=tuple(f"t{i}" for i in range(6 * n)),
        point_xy_m=np.tile(targets, (n, 1)),
        station_held=held,
    )
    shape = (n, 16)
    observations = Observations(
        sightings=Sightings(
            (station + 4 * offset).ravel(),
            (target + 6 * offset + 4 * n).ravel(),
            (true_angle + rng.normal(size=shape) * sigma_angle).ravel(),
            (true_distance + rng.normal(size=shape) * sigma_distance).ravel(),
            sigma_angle,
            sigma_distance,
        ),
        relative_poses=RelativePoses(
            4 * np.arange(n), 4 * np.arange(n) + 2, relative + noise, covariance
        )
        if tie
        else RelativePoses(),
    )
    start = truth.vector + rng.normal(size=truth.size) * 0.02 * ~truth.held
    return truth, truth.with_vector(start), observations


@pytest.fixture(scope="module")
def simulated():
    truth, start, observations = simulate(1200, 42)
    result = adjust(start, observations)
    assert result.converged
    return truth, result, statistics_of(result)


def inside(error, covariance):
    square = np.einsum("ni,ni->n", error, np.linalg.solve(covariance, error[..., None])[..., 0])
    return square <= ELLIPSE_FACTOR**2


def test_error_ellipses_hold_the_truth_in_95_of_100_networks(simulated):
    """1200 independent networks. Within one network stations share errors, so that each station is
    counted over the networks by itself: 95 % with a standard error of 0.6 %."""
    truth, result, _ = simulated
    error = (result.unknowns.station_xy_m - truth.station_xy_m).reshape(-1, 4, 2)
    covariance = result.station_covariance()[:, :2, :2].reshape(-1, 4, 2, 2)
    for station in (1, 2, 3):
        assert 0.93 <= inside(error[:, station], covariance[:, station]).mean() <= 0.97
    error = (result.unknowns.point_xy_m - truth.point_xy_m).reshape(-1, 6, 2)
    covariance = result.point_covariance().reshape(-1, 6, 2, 2)
    for target in range(6):
        assert 0.93 <= inside(error[:, target], covariance[:, target]).mean() <= 0.97
    turn_error = (result.unknowns.orientation_rad - truth.orientation_rad).reshape(-1, 4)
    sigma = np.sqrt(result.station_covariance()[:, 2, 2]).reshape(-1, 4)
    for station in (1, 2, 3):
        good = np.abs(turn_error[:, station]) <= 1.96 * sigma[:, station]
        assert 0.93 <= good.mean() <= 0.97


def test_tests_have_the_size_they_claim(simulated):
    """Standardised residuals are normal, the tie's test and the sums of squares chi-square: by
    Kolmogorov and Smirnov's test on 1200 networks, at 0.1 %."""
    _, result, statistics = simulated
    observations = result.observations
    w = observations.by_item("sightings", statistics.standardised).reshape(1200, 16, 2)
    for row in range(16):
        for component in (0, 1):
            assert kstest(w[:, row, component], "norm").pvalue > 1e-3 / 4
    tie = observations.by_item("relative_poses", statistics.test)[:, 0]
    assert kstest(tie, chi2(3).cdf).pvalue > 1e-3
    rejected = observations.by_item("sightings", statistics.test > statistics.critical).mean()
    assert rejected == pytest.approx(0.001, abs=0.0006)
    # One number for all networks: degrees of freedom add up.
    assert result.degrees_of_freedom == 1200 * (16 * 2 + 3 - (3 * 3 + 6 * 2))
    assert statistics.passes
    assert statistics.reference_variance == pytest.approx(1.0, abs=0.03)


def test_redundancies_are_those_of_the_dense_matrices():
    """Qvv P from the definition, with numerical derivatives and a dense inverse."""
    _, start, observations = simulate(1, 3)
    result = adjust(start, observations)
    statistics = statistics_of(result)
    free = ~start.held
    x = result.unknowns.vector

    def residual(values):
        at = result.unknowns.with_vector(values)
        return adjust(at, observations, max_iterations=0).residual

    h = 1e-6
    a = np.column_stack(
        [(residual(x + h * e) - residual(x - h * e)) / (2 * h) for e in np.eye(len(x))[free]]
    )
    sigma = observations.rows * [0.0]
    q = np.zeros((len(sigma), len(sigma)))
    at = observations.rows_of("sightings")
    s = np.stack([observations.sightings.sigma_rad, observations.sightings.sigma_m], 1).ravel()
    q[at, at] = np.diag(s**2)
    at = observations.rows_of("relative_poses")
    q[at, at] = observations.relative_poses.covariance[0]
    p = np.linalg.inv(q)
    qvv = q - a @ np.linalg.inv(a.T @ p @ a) @ a.T
    assert statistics.redundancy == pytest.approx(np.diag(qvv @ p), abs=1e-6)
    assert statistics.redundancy.sum() == pytest.approx(result.degrees_of_freedom, abs=1e-9)
    w = result.residual / np.sqrt(np.diag(qvv))
    assert statistics.standardised == pytest.approx(w, abs=1e-5)
    v, block = result.residual[at], qvv[at, at]
    assert statistics.test[at] == pytest.approx(v @ np.linalg.solve(block, v), rel=1e-5)
    assert statistics.control[at] == pytest.approx(
        np.linalg.eigvals(block @ p[at, at]).real.min(), abs=1e-6
    )
    scalar = observations.rows_of("sightings")
    assert statistics.control[scalar] == pytest.approx(statistics.redundancy[scalar])
    # Minimal detectable bias of a scalar observation: 4.13 sigma / sqrt(r).
    expected = 4.132 * s / np.sqrt(statistics.redundancy[scalar])
    assert statistics.detectable[scalar] == pytest.approx(expected, rel=2e-4)


def test_the_minimal_detectable_bias_is_detected_with_its_power():
    """A bias of that size planted in one observation of each of 600 networks is found in 80 %."""
    _, start, observations = simulate(600, 11)
    clean = statistics_of(adjust(start, observations))
    for kind, row, field in (("sightings", 5, "distance_m"), ("relative_poses", 0, "pose")):
        group = getattr(observations, kind)
        values = getattr(group, field).copy()
        size = observations.by_item(kind, clean.detectable)[row, 1]
        if kind == "sightings":
            values[row::16] += size
        else:
            values[:, 1] += size
        planted = replace(observations, **{kind: replace(group, **{field: values})})
        found = statistics_of(adjust(start, planted))
        failing = planted.by_item(kind, found.test > found.critical)[:, -1]
        failing = failing[row::16] if kind == "sightings" else failing
        assert failing.mean() == pytest.approx(0.80, abs=0.057)  # 3.5 standard errors


def test_critical_values_of_the_tables():
    """Chi-square tables, and Baarda's noncentrality 17.07 for 0.1 % and 80 %."""
    assert critical_value(3) == pytest.approx(16.27, abs=5e-3)
    assert critical_value(1) == pytest.approx(3.29**2, abs=6e-3)
    assert chi2.ppf(0.95, 2) ** 0.5 == pytest.approx(ELLIPSE_FACTOR, abs=5e-4)
    lower, upper = variance_bounds(10)
    assert (lower * 10, upper * 10) == pytest.approx((3.247, 20.483), abs=1e-3)
    assert variance_bounds(0) == (1.0, 1.0)


def test_the_prediction_error_of_an_observation_left_out_is_its_w():
    """The residual of an observation that took no part, over the error of its prediction, is the
    standardised residual that it has when it takes part."""
    _, start, observations = simulate(1, 9)
    every = statistics_of(adjust(start, observations))
    for row in (0, 7, 20, 31):
        used = observations.all_used()
        used[row] = False
        without = statistics_of(adjust(start, observations, used=used))
        assert abs(without.standardised[row]) == pytest.approx(
            abs(every.standardised[row]), abs=2e-3
        )
        assert np.isnan(without.redundancy[row])
    used = observations.all_used()
    used[observations.rows_of("relative_poses")] = False
    without = statistics_of(adjust(start, observations, used=used))
    assert without.test[-1] == pytest.approx(every.test[-1], rel=2e-3)


def test_an_observation_that_nothing_controls():
    """A point fixed by one sighting only: no redundancy, no test, no detectable bias."""
    unknowns = Unknowns(
        station=("A",),
        station_xy_m=np.zeros((1, 2)),
        orientation_rad=np.zeros(1),
        point=("t",),
        point_xy_m=np.array([[1.0, 2.0]]),
        station_held=np.ones((1, 3), dtype=bool),
    )
    observations = Observations(sightings=Sightings([0], [1], [0.4], [3.0], 1e-3, 2 * MM))
    result = adjust(unknowns, observations)
    statistics = statistics_of(result)
    assert result.unknowns.point_xy_m[0] == pytest.approx(3.0 * unit(0.4), abs=1e-12)
    assert statistics.redundancy == pytest.approx([0, 0], abs=1e-9)
    assert (statistics.test == 0).all() and np.isinf(statistics.detectable).all()
    assert (statistics.degrees_of_freedom, statistics.reference_variance) == (0, 1.0)
    assert statistics.passes


def test_a_weighted_control_point_is_tested_with_two_degrees_of_freedom():
    unknowns = Unknowns(
        point=("a", "b"),
        point_xy_m=np.array([[0.0, 0.0], [3.0, 0.0]]),
    )
    observations = Observations(
        distances=Distances([0], [1], [3.01], 1 * MM),
        positions=Positions(
            [0, 1], [[0.0, 0.0], [3.0, 0.0]], np.array([[4.0, 1.0], [1.0, 4.0]]) * MM**2
        ),
    )
    statistics = statistics_of(adjust(unknowns, observations))
    at = observations.rows_of("positions")
    assert statistics.degrees_of_freedom == 1
    assert statistics.critical[at] == pytest.approx(13.816, abs=1e-3)  # chi-square table, 2 d.o.f.
    # One misclosure only: all tests see the same 10 mm over its error sqrt(1 + 4 + 4) mm.
    assert statistics.test[at] == pytest.approx(100 / 9, rel=1e-3)
    assert statistics.test[0] == pytest.approx(10 / 3, rel=1e-3)
    assert statistics.control[at] == pytest.approx(0, abs=1e-6)


def test_error_ellipse():
    """Axes and azimuth from eigenvectors, and 95 % of a sample inside."""
    rng = np.random.default_rng(5)
    a = rng.normal(size=(50, 2, 2))
    covariance = a @ np.swapaxes(a, 1, 2)
    major, minor, azimuth = error_ellipse(covariance)
    values, vectors = np.linalg.eigh(covariance)
    assert major == pytest.approx(2.448 * np.sqrt(values[:, 1]))
    assert minor == pytest.approx(2.448 * np.sqrt(values[:, 0]))
    along = np.abs(np.einsum("ni,ni->n", unit(azimuth), vectors[:, :, 1]))
    assert along == pytest.approx(np.ones(50), abs=1e-9)
    assert ((azimuth >= 0) & (azimuth <= np.pi)).all()
    sample = multivariate_normal(cov=covariance[0], seed=1).rvs(20_000)
    local = np.column_stack([sample @ unit(azimuth[0]), sample @ unit(azimuth[0] + np.pi / 2)])
    held = (local[:, 0] / major[0]) ** 2 + (local[:, 1] / minor[0]) ** 2 <= 1
    assert held.mean() == pytest.approx(0.95, abs=0.006)
    # East-west uncertainty only: the major axis points east.
    assert error_ellipse(np.diag([4.0, 1.0]))[2] == pytest.approx(np.pi / 2)
