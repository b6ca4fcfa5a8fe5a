# SPDX-License-Identifier: GPL-2.0-or-later
"""The fit against scipy's least squares, and its tests against their definition."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.least_squares import solve
from roomtie.processing.site.observations import GEOTAG
from roomtie.processing.site.start import start
from roomtie.tests.site.simulated_coverage import wrong_geotag
from roomtie.tests.site.simulated_evidence import draw
from scipy.optimize import least_squares


def everything(observations):
    return np.ones(len(observations), dtype=bool)


@pytest.mark.parametrize("seed", range(4))
def test_scipy_finds_the_same(seed):
    """scipy.optimize.least_squares on the same observations, whitened by the Cholesky factor of the
    covariance at the solution; shared errors as parameters with an observation of zero each."""
    rng = np.random.default_rng(seed)
    o, _ = draw(rng, geotags=5, controls=2, bearings=4)
    ours = solve(o, everything(o))
    root = np.linalg.cholesky(o.covariance(ours.parameters[2]))
    reference = o.host_m[0]
    local = replace(o, host_m=o.host_m - reference)
    prior = np.array([o.sigma_declination_rad, o.sigma_datum_m, o.sigma_datum_m])

    def residuals(p):
        rest = local.misclosure(*p[:3])
        tagged = np.repeat([k == GEOTAG for k in o.kind[: o.positions]], 2)
        rest[: 2 * o.positions][tagged] -= np.tile(p[4:], tagged.sum() // 2)
        rest[2 * o.positions :] -= p[3]
        return np.concatenate([np.linalg.solve(root, rest), p[3:] / prior])

    at = ours.parameters - [*reference, 0, 0, 0, 0]
    scale = np.sqrt(np.diagonal(ours.covariance))
    theirs = least_squares(
        residuals, at + 0.3 * scale * rng.normal(size=6), x_scale=scale,
        xtol=1e-15, ftol=1e-15, gtol=1e-15,
    )  # fmt: skip
    # The iteration ends at 1e-5 of a standard error; the derivatives of scipy are numerical.
    assert np.abs((theirs.x - at) / scale).max() < 1e-4
    covariance = np.linalg.inv(theirs.jac.T @ theirs.jac)
    assert covariance == pytest.approx(ours.covariance, rel=1e-3, abs=1e-6 * covariance.max())


@settings(max_examples=30, deadline=None)
@given(
    st.integers(0, 10**6), st.integers(1, 5), st.integers(0, 3), st.integers(1, 5),
    st.booleans(), st.booleans(),
)  # fmt: skip
def test_a_residuals_test_is_that_of_predicting_it_from_the_others(
    seed, geotags, controls, bearings, free_compass, free_geotags
):
    """Baarda's w of an observation equals the standardised difference between the observation and
    its prediction from all others (Cook and Weisberg 1982, deleted residuals, with known variance);
    computed here by leaving it out. Small errors, so that the rotation is straight."""
    rng = np.random.default_rng(seed)
    o, _ = draw(
        rng, geotags, controls, bearings,
        geotag_sigma_m=2e-3, control_sigma_m=1e-3, bearing_sigma_deg=5e-3,
        sigma_declination_deg=1e-3, sigma_datum_m=1e-3, station_sigma_m=4e-4,
        orientation_sigma_deg=1e-3,
    )  # fmt: skip
    # Shared errors are left free only where something else holds rotation and position, also when
    # one of the controls is left out.
    held = controls >= 3
    options = {"free_compass": free_compass and held, "free_geotags": free_geotags and held}
    whole = solve(o, everything(o), **options)
    item = int(rng.integers(len(o)))
    without = everything(o)
    without[item] = False
    positions = without[: o.positions].sum()
    if positions < 2:
        return
    left = solve(o, without, **options)
    # As far as anything but the free prior checks it at all.
    if np.isnan(whole.standardised[item]) or whole.redundancy[item] < 1e-3:
        return
    # Where the positions stand close together the rotation is loose, and leaving one out moves the
    # point of linearisation: a few thousandths were seen.
    assert left.standardised[item] == pytest.approx(whole.standardised[item], rel=1e-2, abs=1e-2)


@pytest.mark.parametrize("seed", [136, 832, 1898, 2254])
def test_a_fit_that_a_wrong_geotag_makes_flat_settles(seed):
    """Five geotags, one off by 40 to 150 m, the bearing left free: near the start the sum of
    squares is curved the wrong way, where steps of Gauss and Newton creep."""
    o, _ = wrong_geotag(*drawn(seed, 5, 0, 1, geotag_sigma_m=4.0))
    found = solve(o, everything(o), free_compass=True)
    sums = [total(o, found.parameters[2] + turned) for turned in (-0.05, 0.0, 0.05)]
    assert sums[1] < min(sums[0], sums[2])


def drawn(seed, *counts, **errors):
    rng = np.random.default_rng(seed)
    return rng, draw(rng, *counts, **errors)[0]


def total(o, rotation):
    """The least weighted sum of squares of geotags at a rotation, with the weights of those alone:
    plan errors are of millimetres."""
    off = o.host_m - o.scale * turn(o.plan_m, rotation)
    spread = np.diag(np.repeat(o.sigma[: o.positions] ** 2, 2)) + np.kron(
        np.ones((o.positions, o.positions)), np.eye(2) * o.sigma_datum_m**2
    )
    weight = np.linalg.inv(spread)
    ones = np.tile(np.eye(2), (o.positions, 1))
    mean = np.linalg.solve(ones.T @ weight @ ones, ones.T @ weight @ off.ravel())
    rest = off.ravel() - ones @ mean
    return rest @ weight @ rest


def test_redundancies_add_up_to_the_degrees_of_freedom():
    """Rows minus parameters, where the shared errors' own observations count with theirs."""
    o, _ = draw(np.random.default_rng(5), 5, 3, 5, sigma_declination_deg=0.0, sigma_datum_m=0.0)
    solution = solve(o, everything(o))
    rows = np.bincount(o.item_of_row)
    assert (solution.redundancy * rows).sum() == pytest.approx(rows.sum() - 3, abs=1e-9)


def test_shares_of_the_sum_of_squares_are_chi_square():
    o, _ = draw(np.random.default_rng(6), 5, 3, 5)
    solution = solve(o, everything(o))
    weight = np.linalg.inv(o.covariance(solution.parameters[2]))
    total = solution.residual @ weight @ solution.residual
    assert solution.chi_square.sum() == pytest.approx(total, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_start_withstands_outliers(seed):
    """A third of the observations far off: the start is within 20 degrees of the truth still."""
    rng = np.random.default_rng(seed)
    o, true = draw(rng, 6, 0, 6, size_m=60.0)
    host, bearing = o.host_m.copy(), o.bearing_rad.copy()
    host[:2] += [[150.0, -80.0], [-90.0, 120.0]]
    bearing[:2] += np.radians([70.0, 180.0])
    o = replace(o, host_m=host, bearing_rad=wrap_half(bearing))
    assert abs(wrap_half(start(o, everything(o)) - true[2])) < np.radians(20)


def test_bearings_across_south_do_not_average_to_north():
    """Rotations of 179 and -179 degrees mean 180, not 0."""
    o, _ = draw(np.random.default_rng(7), 1, 0, 2)
    o = replace(o, bearing_rad=np.radians([179.0, -179.0]), sigma=np.array([5.0, 0.05, 0.05]))
    assert abs(np.degrees(solve(o, everything(o)).parameters[2])) == pytest.approx(180, abs=0.6)


def test_nothing_to_tell_the_rotation_is_an_error():
    o, _ = draw(np.random.default_rng(8), 1, 0, 1, sigma_declination_deg=0.0)
    use = everything(o)
    use[1] = False
    o = replace(o, plan_m=np.zeros((1, 2)))
    with pytest.raises(SurveyError, match="does not fix"):
        solve(o, use)
