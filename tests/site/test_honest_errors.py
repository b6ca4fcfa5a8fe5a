# SPDX-License-Identifier: GPL-2.0-or-later
"""Stated standard errors are true: over simulated surveys the truth lies inside them as often as
they promise."""

import numpy as np
import pytest
from roomtie.processing.site.contradictions import judge
from roomtie.tests.site.simulated_coverage import standardised
from roomtie.tests.site.simulated_evidence import draw

SURVEYS = 300


@pytest.fixture(scope="module")
def outcomes():
    """Differences from the truth over `SURVEYS` surveys of all compositions, with every error of
    the model drawn: (rotation, ellipse of the origin, east and north of a corner), standardised."""
    rng = np.random.default_rng(20260318)
    rows = []
    for _ in range(SURVEYS):
        observations, true = draw(
            rng,
            geotags=int(rng.integers(1, 6)),
            controls=int(rng.choice([0, 0, 1, 2, 3])),
            bearings=int(rng.integers(1, 6)),
            bearing_sigma_deg=rng.uniform(1.0, 5.0),
            geotag_sigma_m=rng.uniform(1.0, 8.0),
        )
        _, solution = judge(observations, ("",) * len(observations))
        rows.append(standardised(solution.parameters[:3], solution.fit_covariance, true))
    return np.array(rows)


@pytest.mark.parametrize(
    ("column", "bound"),
    [(0, 1.96), (1, 2.448), (2, 1.96), (3, 1.96)],
    ids=["rotation", "origin", "corner east", "corner north"],
)
def test_95_percent_of_truths_lie_inside(outcomes, column, bound):
    """93 to 97 %; the sampling error of a share of 0.95 over 300 surveys is 1.3 %;
    `tests/benchmarks/coverage_of_site.py` does the same over thousands, and with blunders."""
    inside = (np.abs(outcomes[:, column]) < bound).mean()
    assert 0.93 <= inside <= 0.97


@pytest.mark.parametrize("column", [0, 2, 3], ids=["rotation", "corner east", "corner north"])
def test_no_bias(outcomes, column):
    """The mean standardised difference is zero within 4 of its standard errors."""
    assert abs(outcomes[:, column].mean()) < 4 / np.sqrt(SURVEYS)


def test_the_declination_does_not_average_out():
    """A hundred good bearings are worth no more than the declination."""
    rng = np.random.default_rng(3)
    observations, _ = draw(
        rng, geotags=1, bearings=100, bearing_sigma_deg=1.0, sigma_declination_deg=0.4
    )
    _, solution = judge(observations, ("",) * len(observations))
    assert np.degrees(np.sqrt(solution.covariance[2, 2])) == pytest.approx(0.4, abs=0.03)


def test_the_change_of_datum_does_not_average_out():
    rng = np.random.default_rng(4)
    observations, _ = draw(rng, geotags=60, bearings=1, geotag_sigma_m=1.0, sigma_datum_m=2.0)
    _, solution = judge(observations, ("",) * len(observations))
    assert np.sqrt(solution.covariance[0, 0]) == pytest.approx(2.0, abs=0.1)
