# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan that grew stays where the earlier one lay."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.kept import (
    difference,
    fit_text,
    kept_fits,
    motion_of,
    noted_fit,
    placed_fit,
    through,
)
from roomtie.processing.site.model import Evidence, North, SiteFit
from roomtie.processing.site.site_grid import site_grid_wkt

POINTS = np.array([[0.0, 0.0], [40.0, -3.0], [-12.5, 88.0]])


def fit_at(east=601_602.9, north=6_129_362.7, rotation=0.4, scale=0.9997, network=1, unit=1.0):
    return SiteFit(
        network=network,
        target_crs="EPSG:32631",
        unit_m=unit,
        east_m=east,
        north_m=north,
        rotation_rad=rotation,
        scale=scale,
        covariance=np.diag([0.004, 0.005, 0.0004]) ** 2,
        north=North(0.04, 0.007, "a model", None, 0.02),
        evidence=(Evidence("control", "C1", 0.001, -0.002, np.nan, 0.4, True, ""),),
        decides_position="control points (2 used)",
        decides_rotation="compass",
        datum="none",
    )


@given(
    st.floats(-1e6, 1e7),
    st.floats(-1e6, 1e7),
    st.floats(-3.1, 3.1),
    st.floats(0.99, 1.01),
    st.sampled_from([1.0, 1200 / 3937]),
)
def test_a_motion_and_a_note_say_the_fit(east, north, rotation, scale, unit):
    fit = fit_at(east, north, rotation, scale, unit=unit)
    again = placed_fit(motion_of(fit), fit.target_crs, fit.unit_m, 1)
    assert again.to_target(POINTS) == pytest.approx(fit.to_target(POINTS), abs=1e-6)
    noted = noted_fit(fit_text(fit), 1)
    # The very numbers: held stations come to lie on the same coordinates to the last digit.
    assert np.array_equal(noted.to_target(POINTS), fit.to_target(POINTS))
    assert np.array_equal(noted.covariance, fit.covariance)
    assert noted.decides_rotation == "compass"


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"east_m": "far"}'])
def test_another_note_is_refused(text):
    with pytest.raises(SurveyError, match="survey_notes: the fit of network 3"):
        noted_fit(text, 3)


def test_what_lies_on_a_site_grid_lies_in_the_target_crs():
    fit = fit_at()
    grid = CRS.from_wkt(site_grid_wkt(fit, "Site grid"))
    shift, factor = through(grid, CRS.from_user_input(fit.target_crs), (0j, 1 + 0j))
    expected = motion_of(fit)
    assert abs(shift - expected[0]) < 1e-5 and abs(factor - expected[1]) < 1e-9


def test_a_difference_is_that_at_the_middle_of_the_stations():
    kept = fit_at()
    middle = np.array([30.0, 10.0])
    turned = replace(kept, rotation_rad=kept.rotation_rad + 0.001)
    # About the middle: there it does not move, and the origin does.
    shift = (kept.to_target(middle) - turned.to_target(middle)) * kept.unit_m
    turned = replace(turned, east_m=turned.east_m + shift[0], north_m=turned.north_m + shift[1])
    found = difference(kept, turned, middle)
    assert (found.east_m, found.north_m) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert found.turned_rad == pytest.approx(0.001)
    moved = replace(kept, east_m=kept.east_m + 3.0, north_m=kept.north_m - 4.0)
    assert "5.000 m (east +3.000 m, north -4.000 m)" in difference(kept, moved, middle).sentence
    # The rotation's error at a lever of 31.6 m, by simulation.
    rng = np.random.default_rng(3)
    draws = rng.multivariate_normal(np.zeros(3), kept.covariance, 4000)
    places = [
        replace(
            kept,
            east_m=kept.east_m + e,
            north_m=kept.north_m + n,
            rotation_rad=kept.rotation_rad + r,
        ).to_target(middle)
        for e, n, r in draws
    ]
    spread = np.sqrt(np.trace(np.cov(np.array(places).T)))
    # 4000 draws tell a standard deviation to about 1 %; four of these.
    assert found.sigma_position_m == pytest.approx(spread, rel=0.05)


def test_groups_keep_their_place_and_learn_what_is_new():
    was = fit_at(network=4)
    now = replace(fit_at(east=601_700.0), decides_position="geotags", evidence=())
    other = fit_at(network=2, east=601_800.0)
    kept = kept_fits({1: was}, [now, other], [1, 2, 3])
    assert [fit.network for fit in kept] == [1, 2]
    assert np.array_equal(kept[0].to_target(POINTS), was.to_target(POINTS))
    assert kept[0].evidence == () and kept[0].decides_position == "control points (2 used)"
    assert kept[1] is other


def test_a_place_whose_errors_nobody_noted_has_those_of_the_new_fit():
    bare = placed_fit(motion_of(fit_at()), "EPSG:32631", 1.0, 1)
    (kept,) = kept_fits({1: bare}, [fit_at(east=1.0)], [1])
    assert kept.east_m == bare.east_m
    assert np.array_equal(kept.covariance, fit_at().covariance)
    assert kept.decides_rotation == "compass"
    (alone,) = kept_fits({1: bare}, [], [1])
    assert np.isnan(alone.covariance).all() and alone.decides_position == "not known"
