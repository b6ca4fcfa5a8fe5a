# SPDX-License-Identifier: GPL-2.0-or-later
"""Convergence, scale and the direction of north against published points and against PROJ."""

import csv
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod, Proj, Transformer
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.grid import geographic_to, grid_at, grid_north_rad
from roomtie.processing.site.target_crs import geodetic_part, utm_for

# Latitude, longitude, CRS, convergence (deg), point scale factor, and how many digits are printed.
# Bergen: chrisveness/geodesy, UTM tests (MIT). Melbourne: GeoscienceAustralia/GeodePy, geo2grid
# test (Apache-2.0), printed there with the opposite sign convention of convergence.
PUBLISHED = [
    (60.39135, 5.3249, "EPSG:32632", -3.196281440, 1.000102473211, 5e-10, 5e-11),
    (-37.80740999444, 144.97123365, "EPSG:28355", 1.2439811331, 0.99999287, 5e-9, 5e-9),
]
PLACES = {
    "EPSG:32632": (9.5, 48.0),
    "EPSG:32733": (14.5, -22.0),
    "EPSG:2193": (174.0, -41.0),
    "EPSG:2048": (18.5, -34.0),
    "EPSG:2263": (-74.2, 40.7),
    "EPSG:27700": (-1.5, 52.0),
    "EPSG:2154": (2.0, 48.0),
    "EPSG:5514": (14.4, 50.1),
    "EPSG:31467": (9.5, 48.0),
    "EPSG:2056": (8.0, 47.0),
    "EPSG:28992": (5.2, 52.0),
    "EPSG:3031": (10.0, -75.0),
}


@pytest.mark.parametrize(
    ("latitude", "longitude", "crs", "convergence", "k", "da", "dk"), PUBLISHED
)
def test_published_points(latitude, longitude, crs, convergence, k, da, dk):
    place = grid_at(crs, longitude, latitude, 0.0)
    assert math.degrees(place.convergence_rad) == pytest.approx(convergence, abs=da)
    assert place.point_scale == pytest.approx(k, abs=dk)


def test_published_points_of_the_shared_file(shared_data):
    with open(shared_data("geodesy") / "convergence_and_scale.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= 2
    for row in rows:
        place = grid_at(row["crs"], float(row["longitude_deg"]), float(row["latitude_deg"]), 0.0)
        printed = float(row["grid_convergence_deg"])
        assert math.degrees(place.convergence_rad) == pytest.approx(printed, abs=5e-9)
        assert place.point_scale == pytest.approx(float(row["point_scale_factor"]), abs=5e-9)


@pytest.mark.parametrize("code", PLACES)
def test_factors_are_those_of_proj(code):
    """PROJ's analytic derivatives (``proj_factors``) at the same place of the same datum."""
    longitude, latitude = PLACES[code]
    place = grid_at(code, longitude, latitude, 0.0)
    geodetic = geodetic_part(place.crs)
    own = geographic_to(geodetic, longitude, latitude).transformer.transform(longitude, latitude)
    factors = Proj(place.crs).get_factors(*own)
    assert math.degrees(place.convergence_rad) == pytest.approx(
        factors.meridian_convergence, abs=1e-7
    )
    assert place.meridional_scale == pytest.approx(factors.meridional_scale, abs=1e-9)
    assert place.parallel_scale == pytest.approx(factors.parallel_scale, abs=1e-9)


@pytest.mark.parametrize("code", PLACES)
def test_a_line_on_the_ellipsoid_lands_where_azimuth_and_scale_say(code):
    """Independent of any formula of the grid: 100 m geodesics (GeographicLib, through pyproj) from
    the place, transformed by PROJ, agree in direction and length in host x, y."""
    longitude, latitude = PLACES[code]
    place = grid_at(code, longitude, latitude, 0.0)
    geodetic = geodetic_part(place.crs)
    own = geographic_to(geodetic, longitude, latitude).transformer.transform(longitude, latitude)
    geod: Geod = geodetic.get_geod()
    forward = Transformer.from_crs(geodetic, place.crs, always_xy=True)
    start = np.array(forward.transform(*own)) * place.unit_m
    for azimuth in (0.0, 37.0, 90.0, 200.0):
        lon, lat, _ = geod.fwd(*own, azimuth, 100.0)
        step = np.array(forward.transform(lon, lat)) * place.unit_m - start
        assert np.hypot(*step) == pytest.approx(100 * place.point_scale, abs=2e-4)
        expected = math.radians(azimuth) + place.true_north_rad
        off = (math.atan2(*step) - expected + math.pi) % (2 * math.pi) - math.pi
        assert abs(off) < 2e-6


def test_axes_that_run_west_and_south_turn_north_by_half_a_turn():
    place = grid_at("EPSG:2048", 18.5, -34.0, 0.0)
    assert abs(abs(math.degrees(place.true_north_rad)) - 180) < 1
    assert abs(math.degrees(place.convergence_rad)) < 1
    assert grid_north_rad(place.crs) == pytest.approx(math.pi)


def test_axes_that_run_south_and_east_turn_north_by_a_quarter():
    """Not registered anywhere to our knowledge, but WKT allows it: x south, y east."""
    wkt = CRS.from_epsg(32632).to_wkt("WKT2_2019").split("CS[Cartesian")[0] + (
        'CS[Cartesian,2],AXIS["southing",south,ORDER[1]],AXIS["easting",east,ORDER[2]],'
        'LENGTHUNIT["metre",1]]'
    )
    place = grid_at(wkt, 9.5, 48.0, 0.0)
    usual = grid_at("EPSG:32632", 9.5, 48.0, 0.0)
    assert place.convergence_rad == pytest.approx(usual.convergence_rad, abs=1e-9)
    assert math.degrees(place.true_north_rad) == pytest.approx(
        -90 - math.degrees(usual.convergence_rad), abs=1e-6
    )


def test_feet_are_told_in_metres():
    place = grid_at("EPSG:2263", -74.2, 40.7, 0.0)
    assert place.unit_m == pytest.approx(1200 / 3937, rel=1e-12)
    assert place.point_scale == pytest.approx(1.0, abs=1e-4)


def test_combined_factor_is_point_scale_times_elevation_factor():
    """R / (R + h) with R = sqrt(M N): at latitude 45 deg on GRS 80 M = 6367381.816 m and
    N = 6388838.290 m (the closed formulas; figures computed once by hand)."""
    place = grid_at("EPSG:32632", 9.0, 45.0, 1000.0)
    radius = math.sqrt(6367381.816 * 6388838.290)
    assert place.radius_m == pytest.approx(radius, abs=0.05)
    assert place.scale / place.point_scale == pytest.approx(radius / (radius + 1000), abs=1e-12)
    assert place.scale < place.point_scale
    # On the central meridian the scale factor of UTM is 0.9996 by definition.
    assert place.point_scale == pytest.approx(0.9996, abs=1e-10)
    assert place.convergence_rad == pytest.approx(0.0, abs=1e-10)


@pytest.mark.parametrize(
    ("crs", "lonlat", "words"),
    [
        ("EPSG:4326", (9.0, 48.0), r"geographic.*EPSG:32632"),
        ("EPSG:4978", (5.0, 52.0), r"geocentric.*EPSG:32631"),
        ("EPSG:5773", (5.0, 52.0), r"vertical.*EPSG:32631"),
        ("EPSG:5513", (14.4, 50.1), r"left-handed.*EPSG:5514"),
        ("EPSG:3035", (15.0, 48.0), r"not conformal.*EPSG:32633"),
        ("EPSG:3857", (9.0, 48.0), r"not conformal.*EPSG:32632"),
        ("EPSG:5070", (-100.0, 40.0), r"not conformal.*EPSG:32614"),
        ("EPSG:3408", (0.0, 80.0), r"not conformal.*EPSG:32631"),
        ("EPSG:7423", (9.0, 48.0), r"geographic.*EPSG:32632"),
        ("EPSG:32632", (-81.0, 0.0), r"not defined at.*EPSG:32617"),
        ("EPSG:999999", (9.0, 48.0), r"unknown.*EPSG:32632"),
        ("no such thing", (9.0, 48.0), r"unknown.*EPSG:32632"),
        ('ENGCRS["Plan",EDATUM["Plan"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],'
         'LENGTHUNIT["metre",1]]', (9.0, 48.0), r"not tied to the earth.*EPSG:32632"),
    ],
)  # fmt: skip
def test_what_does_not_do_is_refused_with_a_proposal(crs, lonlat, words):
    with pytest.raises(SurveyError, match=words):
        grid_at(crs, *lonlat, 0.0)


def test_a_compound_crs_gives_its_horizontal_part_and_says_so():
    place = grid_at("EPSG:7415", 5.2, 52.0, 0.0)
    assert place.crs == CRS.from_epsg(28992)
    assert any("horizontal part" in warning for warning in place.warnings)


def test_the_accuracy_of_the_change_of_datum_is_that_of_the_register():
    """As pyproj gives it for the operation that is run, whichever that is here."""
    for code, lonlat in (("EPSG:2056", (8.0, 47.0)), ("EPSG:2263", (-73.9, 40.7))):
        crs = CRS.from_user_input(code)
        datum = geographic_to(crs, *lonlat)
        assert datum.accuracy_m == datum.transformer.accuracy
        assert f"accuracy {datum.accuracy_m:g} m as PROJ states it" in datum.told
    exact = geographic_to(CRS.from_epsg(32632), 9.0, 48.0)
    assert exact.accuracy_m == 0.0 and exact.warnings == ()


def test_the_grid_file_that_a_better_change_of_datum_needs_is_named():
    """The register has an operation by the grid OSTN15 for Great Britain (EPSG 7709 and its
    reverse), 1 m to WGS 84, against 2 m by a Helmert transformation."""
    crs = CRS.from_epsg(27700)
    datum = geographic_to(crs, -1.5, 52.0)
    if "OSTN15" in datum.transformer.definition:
        pytest.skip("PROJ has the grid file here: nothing is missing")
    assert datum.accuracy_m == pytest.approx(2.0)
    (said,) = datum.warnings
    assert "a better one, of accuracy 1 m, needs the grid file uk_os_OSTN15" in said


def test_a_place_outside_the_area_is_warned():
    assert any("outside" in w for w in grid_at("EPSG:32632", 5.3, 60.4, 0.0).warnings)
    assert grid_at("EPSG:32632", 9.0, 48.0, 0.0).warnings == ()
    # New Zealand's area crosses the antimeridian.
    assert grid_at("EPSG:2193", 174.0, -41.0, 0.0).warnings == ()


def test_another_meridian_and_unit_of_angle_do_not_matter():
    """NTF (Paris): longitudes in grads from Paris. The convergence of Lambert II at Paris is near
    zero, and 2.1 deg east of Greenwich is 0.237 deg west of the meridian: (lon - lon0) sin lat0."""
    place = grid_at("EPSG:27572", 2.1, 48.8, 0.0)
    expected = (2.1 - 2.337229167) * math.sin(math.radians(46.8))
    # The datum shift moves the place by some metres in longitude: 0.001 deg.
    assert math.degrees(place.convergence_rad) == pytest.approx(expected, abs=1.5e-3)


@settings(max_examples=25, deadline=None)
@given(st.floats(-179.9, 179.9), st.floats(-79.9, 83.9))
def test_every_utm_zone_is_conformal_and_nearly_true(longitude, latitude):
    place = grid_at(utm_for(longitude, latitude), longitude, latitude, 0.0)
    # 0.9996 in the middle; the widest zones (Svalbard, Norway) reach 6 to 9 deg from it.
    assert 0.9995 < place.point_scale < 1.004
    assert abs(place.meridional_scale - place.parallel_scale) < 1e-7


def test_a_projection_that_proj_cannot_compute_is_refused_with_a_proposal():
    wkt = (
        'PROJCS["of my own",GEOGCS["x",DATUM["x",SPHEROID["x",6378137,298]],'
        'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],'
        'PROJECTION["Unheard_Of"],PARAMETER["a",1],UNIT["metre",1]]'
    )
    with pytest.raises(
        SurveyError, match=r"PROJ cannot compute the target CRS of my own.*EPSG:32631"
    ):
        grid_at(wkt, 4.6, 55.3, 0.0)
