# SPDX-License-Identifier: GPL-2.0-or-later
"""The site grid is a CRS whose transformation to the target is the fit, to a micrometre."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.fit import fit_site
from roomtie.processing.site.model import North, SiteFit
from roomtie.processing.site.site_grid import plan_crs_wkt, site_grid_wkt
from roomtie.tests.site.site_surveys import network_of, survey_of, truth

BOUND = (
    "+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +x_0=3500000 +y_0=0 +ellps=bessel "
    "+towgs84=598.1,73.7,418.2,0.202,0.045,-2.455,6.7 +units=m +no_defs +type=crs"
)
PLACES = [
    ("EPSG:32632", (9.6, 48.2)),
    ("EPSG:2193", (174.8, -41.3)),
    ("EPSG:2263", (-73.9, 40.7)),
    ("EPSG:2048", (18.6, -34.0)),
    ("EPSG:5514", (14.4, 50.1)),
    ("EPSG:31467", (9.0, 48.0)),
    ("EPSG:27572", (2.3, 48.9)),
    ("EPSG:3031", (10.0, -75.0)),
    (BOUND, (9.2, 48.0)),
]
POINTS = np.array([[0.0, 0.0], [123.0, -77.0], [1000.0, 2000.0], [-50.0, 0.25]])


def fit_at(crs, lonlat):
    true = truth(crs, lonlat)
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    return fit_site(survey, network_of(true), target_crs=crs)[0]


def transform(source, target, points):
    change = Transformer.from_crs(source, target, always_xy=True)
    return np.stack(change.transform(*np.asarray(points, float).T), axis=-1)


@pytest.mark.parametrize(("crs", "lonlat"), PLACES)
def test_to_the_target_it_is_the_fit(crs, lonlat):
    fit = fit_at(crs, lonlat)
    wkt = site_grid_wkt(fit, "Site grid of Test")
    host = transform(wkt, fit.target_crs, POINTS)
    assert host * fit.unit_m == pytest.approx(fit.to_target(POINTS) * fit.unit_m, abs=1e-6)
    assert transform(fit.target_crs, wkt, host) == pytest.approx(POINTS, abs=1e-6)


@pytest.mark.parametrize(("crs", "lonlat"), PLACES)
def test_from_longitude_and_latitude_the_same_datum_shift_is_taken(crs, lonlat):
    """The plan's origin lies at the place of the survey: a site grid that lost the change of datum
    would be off by tens or hundreds of metres. Within the few millimetres that going there and back
    with a grid or a Helmert transformation costs."""
    wkt = site_grid_wkt(fit_at(crs, lonlat), "Site grid")
    assert transform("EPSG:4326", wkt, [lonlat])[0] == pytest.approx([0.0, 0.0], abs=0.02)


def test_it_is_a_derived_projected_crs_in_metres_by_method_9624():
    wkt = site_grid_wkt(fit_at("EPSG:2263", (-73.9, 40.7)), 'Town hall, "north"')
    crs = CRS.from_wkt(wkt)
    assert wkt.startswith("DERIVEDPROJCRS[")
    assert 'ID["EPSG",9624]' in wkt
    assert crs.name == 'Town hall, "north"'
    assert [axis.unit_name for axis in crs.axis_info] == ["metre", "metre"]
    # The base carries no identifier, or a host would put the registered one in its place.
    assert "2263" not in wkt
    assert CRS.from_wkt(crs.to_wkt("WKT2_2019")) == crs


def test_distances_in_the_site_grid_are_true_distances():
    """100 m of the plan are 100 m x combined factor on the grid."""
    fit = fit_at("EPSG:32632", (9.6, 48.2))
    wkt = site_grid_wkt(fit, "Site grid")
    a, b = transform(wkt, fit.target_crs, [[0.0, 0.0], [60.0, 80.0]])
    assert math.hypot(*(b - a)) == pytest.approx(100 * fit.scale, abs=1e-6)


@settings(max_examples=20, deadline=None)
@example(1e-5, 1.0, 4e5, 4e6)
@example(math.acos(0.9 + 5e-10), 1.0, 5e5, 5e6)
@given(
    st.floats(-math.pi, math.pi), st.floats(0.995, 1.005), st.floats(4e5, 6e5),
    st.floats(4e6, 6e6),
)  # fmt: skip
def test_any_rotation_scale_and_place(rotation, scale, east, north):
    nothing = North(math.nan, math.nan, "", None, 0.0)
    fit = SiteFit(
        1, "EPSG:2193", 1.0, east + 1.2e6, north, rotation, scale, np.eye(3), nothing, (), "", ""
    )
    host = transform(site_grid_wkt(fit, "Any"), "EPSG:2193", POINTS)
    # PROJ rounds factors by up to 1e-9: 3 micrometres at the farthest point, 2.2 km away
    assert host == pytest.approx(fit.to_target(POINTS), abs=4e-6)


def test_where_the_projection_ends_it_says_so():
    nothing = North(math.nan, math.nan, "", None, 0.0)
    far = SiteFit(1, "EPSG:32632", 1.0, 5e8, 9e8, 0.0, 1.0, np.eye(3), nothing, (), "", "")
    with pytest.raises(SurveyError, match="No site grid"):
        site_grid_wkt(far, "Far")


def test_a_plan_that_lies_nowhere_yet():
    crs = CRS.from_wkt(plan_crs_wkt('Plan "A"'))
    assert crs.is_engineering
    assert crs.name == 'Plan "A"'
    assert [(a.direction, a.unit_name) for a in crs.axis_info] == [
        ("east", "metre"), ("north", "metre"),
    ]  # fmt: skip
