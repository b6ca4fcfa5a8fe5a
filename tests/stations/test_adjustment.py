# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment against truth and scipy's own least squares, and what cannot be solved."""

from dataclasses import replace

import numpy as np
import pytest
from plane_networks import (
    MM,
    dense_jacobian,
    independent_residuals,
    mixed_network,
    whole_covariance,
)
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.observations import (
    Azimuths,
    Distances,
    Observations,
    RelativePoses,
    Unknowns,
)
from roomtie.processing.stations.statistics import statistics_of
from scipy.optimize import least_squares


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_scipy_least_squares(seed):
    truth, start, observations = mixed_network(seed)
    result = adjust(start, observations)
    free = ~start.held
    function = independent_residuals(start, observations)
    peer = least_squares(
        function,
        start.vector[free],
        jac="3-point",
        x_scale="jac",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    assert result.converged
    assert result.unknowns.vector[free] == pytest.approx(peer.x, rel=0, abs=1e-9)
    assert result.sum_of_squares == pytest.approx(2 * peer.cost, rel=1e-10)
    # Covariance from the peer's numerical Jacobian.
    covariance = np.linalg.inv(peer.jac.T @ peer.jac)
    columns = np.flatnonzero(free)
    sigma = np.sqrt(np.diag(covariance))
    difference = (result.covariance(columns) - covariance) / np.outer(sigma, sigma)
    assert np.abs(difference).max() < 1e-6
    # And the truth lies within a few standard errors.
    assert np.abs((result.unknowns.vector - truth.vector)[free] / sigma).max() < 4.5


def test_held_unknowns_keep_their_value_and_have_no_covariance():
    _, start, observations = mixed_network(1)
    held = start.station_held.copy()
    held[1, 2] = True
    start = replace(start, station_held=held, scalar_held=np.array([False, False, True, False]))
    result = adjust(start, observations)
    assert (result.unknowns.vector[start.held] == start.vector[start.held]).all()
    full = whole_covariance(result)
    assert not full[start.held].any() and not full[:, start.held].any()
    assert (np.linalg.eigvalsh(full[~start.held][:, ~start.held]) > 0).all()
    assert result.station_covariance()[1] == pytest.approx(full[3:6, 3:6], rel=1e-9, abs=1e-18)
    assert result.point_covariance()[2] == pytest.approx(full[16:18, 16:18], rel=1e-9)


def test_order_does_not_matter():
    _, start, observations = mixed_network(3)
    rng = np.random.default_rng(0)
    sightings = observations.sightings
    order = rng.permutation(len(sightings))
    shuffled = replace(
        observations,
        sightings=replace(
            sightings,
            **{
                name: getattr(sightings, name)[order]
                for name in (
                    "station",
                    "to",
                    "angle_rad",
                    "distance_m",
                    "sigma_rad",
                    "sigma_m",
                    "zero",
                )
            },
        ),
    )
    one, two = adjust(start, observations), adjust(start, shuffled)
    assert two.unknowns.vector == pytest.approx(one.unknowns.vector, abs=1e-12)
    again = adjust(start, observations)
    assert (again.unknowns.vector == one.unknowns.vector).all()
    assert (whole_covariance(again) == whole_covariance(one)).all()


def test_leaving_out_rows_is_the_same_as_not_having_them():
    _, start, observations = mixed_network(4)
    used = observations.all_used()
    used[observations.rows_of("relative_poses")] = False
    used[observations.rows_of("azimuths")] = False
    left_out = adjust(start, observations, used=used)
    absent = adjust(
        start, replace(observations, relative_poses=RelativePoses(), azimuths=Azimuths())
    )
    assert left_out.unknowns.vector == pytest.approx(absent.unknowns.vector, abs=1e-12)
    assert left_out.degrees_of_freedom == absent.degrees_of_freedom
    assert left_out.sum_of_squares == pytest.approx(absent.sum_of_squares, rel=1e-10)
    # What is left out is still compared with its prediction.
    residual = observations.by_item("relative_poses", left_out.residual)
    assert np.abs(residual).max() > 0
    half = observations.all_used()
    half[observations.rows_of("relative_poses").start] = False
    with pytest.raises(SurveyError, match="only be used or left out as a whole"):
        adjust(start, observations, used=half)


def test_converges_where_full_steps_diverge():
    """Resection by distances from far off: a plain Gauss-Newton step overshoots."""
    control = np.array([[0.0, 0.0], [10.0, 0.0], [5.0, 0.5]])
    unknown = np.array([5.0, 3.0])
    unknowns = Unknowns(
        point=("a", "b", "c", "p"),
        point_xy_m=np.vstack([control, [40.0, 0.26]]),
        point_held=np.array([[True, True]] * 3 + [[False, False]]),
    )
    distances = np.hypot(*(control - unknown).T)
    observations = Observations(distances=Distances([3, 3, 3], [0, 1, 2], distances, MM))
    jacobian = dense_jacobian(unknowns, observations)
    function = independent_residuals(unknowns, observations)
    start = np.array([40.0, 0.26])
    full = start - np.linalg.lstsq(jacobian, function(start), rcond=None)[0]
    assert np.sum(function(full) ** 2) > np.sum(function(start) ** 2)
    result = adjust(unknowns, observations)
    sums = np.array(result.sums_of_squares)
    assert result.converged
    assert (np.diff(sums) <= 1e-9 * sums[:-1] + 1e-9).all()
    assert result.unknowns.point_xy_m[3] == pytest.approx(unknown, abs=1e-9)


def test_reports_when_it_did_not_converge():
    _, start, observations = mixed_network(0)
    result = adjust(start, observations, max_iterations=1)
    assert not result.converged and result.iterations == 1


def test_stops_when_the_user_asks():
    _, start, observations = mixed_network(0)
    with pytest.raises(Cancelled):
        adjust(start, observations, progress=Progress(cancelled=lambda: True))


def chain(count, held=True):
    """Stations in a row, each tied to the next."""
    one = np.arange(count - 1)
    covariance = np.diag([2 * MM, 2 * MM, 1e-3]) ** 2
    return (
        Unknowns(
            station=tuple(f"s{i}" for i in range(count)),
            station_xy_m=np.column_stack([np.arange(count) * 3.0, np.zeros(count)]),
            orientation_rad=np.zeros(count),
            station_held=np.array([[held] * 3] + [[False] * 3] * (count - 1)),
        ),
        Observations(relative_poses=RelativePoses(one, one + 1, [3.0, 0.0, 0.0], covariance)),
    )


def test_a_network_without_datum_is_refused_by_name():
    unknowns, observations = chain(3, held=False)
    with pytest.raises(SurveyError, match=r"station s0, station s1, station s2 \(rank defect 3\)"):
        adjust(unknowns, observations)


def test_an_unconnected_group_is_refused_by_name():
    unknowns, observations = chain(6)
    used = observations.all_used()
    used[6:9] = False  # between s2 and s3
    with pytest.raises(
        SurveyError, match=r"determine station s3, station s4, station s5 \(rank def"
    ):
        adjust(unknowns, observations, used=used)


def test_unknowns_without_observations_are_refused_by_name():
    unknowns, observations = chain(3)
    more = replace(unknowns, scalar_name=("zero error",), scalar=np.zeros(1), scalar_held=None)
    with pytest.raises(SurveyError, match="determine zero error"):
        adjust(more, observations)
    more = replace(unknowns, point=("nail",), point_xy_m=np.array([[5.0, 5.0]]), point_held=None)
    with pytest.raises(SurveyError, match="determine point nail"):
        adjust(more, observations)
    one = replace(observations, distances=Distances([0], [3], [7.0], MM))
    with pytest.raises(SurveyError, match=r"determine point nail \(rank defect 1\)"):
        adjust(more, one)


def test_a_long_open_traverse_is_weak_but_determined():
    """400 stations hanging on one: the pivots get small, yet nothing is undetermined. The last
    station's error follows from propagating the chain's covariance."""
    unknowns, observations = chain(400)
    result = adjust(unknowns, observations)
    n = 399
    across = np.sqrt(n * (2 * MM) ** 2 + np.sum((3.0 * 1e-3 * np.arange(n)) ** 2))
    along = 2 * MM * np.sqrt(n)
    sigma = np.sqrt(np.diag(result.station_covariance()[-1]))
    assert sigma == pytest.approx([along, across, 1e-3 * np.sqrt(n)], rel=1e-6)


def test_bad_input_is_told_in_one_sentence():
    unknowns, observations = chain(3)
    same = replace(unknowns, station_xy_m=np.zeros((3, 2)))
    with pytest.raises(SurveyError, match="have the same approximate position"):
        adjust(same, Observations(distances=Distances([0], [1], [1.0], MM)))
    with pytest.raises(
        SurveyError, match="Item 0 of distances: to is 5, but the network has 3 plac"
    ):
        adjust(unknowns, Observations(distances=Distances([0], [5], [1.0], MM)))
    with pytest.raises(SurveyError, match="goes from station s1 to itself"):
        adjust(unknowns, Observations(distances=Distances([1], [1], [1.0], MM)))
    bad = RelativePoses([0], [1], [[3.0, 0.0, 0.0]], np.diag([1.0, 1.0, -1.0]))
    with pytest.raises(SurveyError, match="not positive definite"):
        adjust(unknowns, replace(observations, relative_poses=bad))
    skew = np.eye(3)
    skew[0, 1] = 0.5
    bad = RelativePoses([0], [1], [[3.0, 0.0, 0.0]], skew)
    with pytest.raises(SurveyError, match="not symmetric"):
        adjust(unknowns, replace(observations, relative_poses=bad))
    lost = replace(unknowns, orientation_rad=np.array([0.0, np.nan, 0.0]))
    with pytest.raises(SurveyError, match="station s1 are not finite"):
        adjust(lost, observations)
    with pytest.raises(SurveyError, match="used is"):
        adjust(unknowns, observations, used=np.ones(2, dtype=bool))


def test_a_network_with_nothing_to_solve_is_only_compared():
    """All points held: the residual is what the coordinates say, with the observation's error."""
    held = Unknowns(
        point=("a", "b"),
        point_xy_m=np.array([[0.0, 0.0], [3.0, 4.0]]),
        point_held=np.ones((2, 2), dtype=bool),
    )
    result = adjust(held, Observations(distances=Distances([0], [1], [5.01], 2 * MM)))
    assert result.converged and result.degrees_of_freedom == 1
    assert result.residual == pytest.approx([-0.01])
    assert not whole_covariance(result).any() and not result.point_covariance().any()
    assert statistics_of(result).standardised == pytest.approx([-5.0])
    assert adjust(Unknowns(), Observations()).degrees_of_freedom == 0
