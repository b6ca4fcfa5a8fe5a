# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan's outside against building outlines: from bad starts, with what is missing, and with
buildings that look the same when they are turned."""

import math
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.errors import SurveyError
from roomtie.processing.site.fit import Control, Footprint, fit_site
from roomtie.processing.site.footprint import (
    FootprintAmbiguous,
    Prior,
    fit_footprint,
    outline_of,
)
from roomtie.tests.site.site_surveys import network_of, survey_of, truth
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon, box

ANGLED = Polygon([(0, 0), (14, 0), (14, 6), (8, 6), (8, 11), (0, 11)])
SQUARE = box(0, 0, 10, 10)
OBLONG = box(0, 0, 14, 9)
ORIGIN = np.array([601_000.0, 5_300_000.0])


def building(plan, rotation, rng, thickness=0.3, noise_m=0.05):
    """A building's outline on a map: the plan with its outer walls, its corners off a little."""
    ring = np.array(plan.buffer(thickness, join_style="mitre").exterior.coords)[:-1]
    return Polygon(turn(ring, rotation) + ORIGIN + noise_m * rng.standard_normal(ring.shape))


def prior_of(rotation, rng, sigma_m=10.0, sigma_deg=15.0, off=1.0):
    place = ORIGIN + off * sigma_m * rng.uniform(-1, 1, 2)
    turned = rotation + (0.0 if math.isinf(sigma_deg) else off * math.radians(sigma_deg)) * (
        rng.uniform(-1, 1)
    )
    return Prior(*place, turned, sigma_m, math.radians(sigma_deg))


@pytest.mark.parametrize("seed", range(4))
def test_the_outline_is_found_from_ten_metres_and_fifteen_degrees_off(seed):
    rng = np.random.default_rng(seed)
    rotation, thickness = rng.uniform(-np.pi, np.pi), rng.uniform(0.2, 0.5)
    site = building(ANGLED, rotation, rng, thickness)
    fit = fit_footprint(ANGLED, [site], prior_of(rotation, rng), sigma_map_m=0.05)
    # Six corners with 5 cm each: the middle is known to a few centimetres.
    found = turn(np.array(ANGLED.centroid.coords[0]), fit.rotation_rad) + (fit.east_m, fit.north_m)
    true = turn(np.array(ANGLED.centroid.coords[0]), rotation) + ORIGIN
    assert np.hypot(*(found - true)) < 0.10
    assert abs(wrap_half(fit.rotation_rad - rotation)) < math.radians(0.8)
    assert fit.thickness_m == pytest.approx(thickness, abs=0.08)
    assert fit.matched == 1.0 and fit.rms_m < 0.1


def test_stated_errors_are_true():
    """20 maps with corners off by 5 cm, from a near start: the mean square of error over standard
    error, position of the middle and rotation, is 1 within what 60 correlated values allow, and
    not far below: an edge counts as one observation, so the errors are told a little large."""
    squares = []
    for seed in range(20):
        rng = np.random.default_rng(100 + seed)
        rotation = rng.uniform(-np.pi, np.pi)
        site = building(ANGLED, rotation, rng)
        near = prior_of(rotation, rng, sigma_m=0.7, sigma_deg=2.0)
        fit = fit_footprint(ANGLED, [site], near, sigma_map_m=0.05)
        gap = np.array([fit.east_m, fit.north_m, fit.rotation_rad]) - (*ORIGIN, rotation)
        gap[2] = wrap_half(gap[2])
        squares.append(gap @ np.linalg.solve(fit.covariance, gap) / 3.0)
    assert 0.3 < np.mean(squares) < 1.4


def test_a_part_of_the_building_that_was_not_surveyed_does_no_harm():
    """Only the lower wing of the building: nine tenths of its outside have a counterpart."""
    rng = np.random.default_rng(3)
    rotation = 0.7
    site = building(ANGLED, rotation, rng, noise_m=0.02)
    fit = fit_footprint(box(0, 0, 14, 6), [site], prior_of(rotation, rng), sigma_map_m=0.05)
    assert np.hypot(fit.east_m - ORIGIN[0], fit.north_m - ORIGIN[1]) < 0.25
    assert 0.6 < fit.matched < 1.0


@pytest.mark.parametrize(("shape", "ways"), [(SQUARE, 4), (OBLONG, 2)])
def test_a_building_that_turns_into_itself_is_not_decided_without_a_compass(shape, ways):
    rng = np.random.default_rng(9)
    site = building(shape, 0.4, rng, noise_m=0.01)
    unknown = prior_of(0.0, rng, sigma_m=3.0, sigma_deg=math.inf)
    with pytest.raises(FootprintAmbiguous, match=f"fits the footprint in {ways} ways"):
        fit_footprint(shape, [site], unknown, sigma_map_m=0.05)
    # A compass of 15 deg decides, and nothing else is as near.
    fit = fit_footprint(shape, [site], prior_of(0.4, rng, 3.0, 15.0, 0.5), sigma_map_m=0.05)
    assert abs(wrap_half(fit.rotation_rad - 0.4)) < math.radians(1.0)


def test_a_building_without_symmetry_needs_no_compass():
    rng = np.random.default_rng(9)
    site = building(ANGLED, 2.5, rng, noise_m=0.02)
    fit = fit_footprint(ANGLED, [site], prior_of(0.0, rng, 4.0, math.inf), sigma_map_m=0.05)
    assert abs(wrap_half(fit.rotation_rad - 2.5)) < math.radians(0.5)


def test_the_building_next_door_is_not_taken():
    rng = np.random.default_rng(5)
    rotation = -0.6
    site = building(ANGLED, rotation, rng, noise_m=0.02)
    shed = translate(box(0, 0, 13, 7), ORIGIN[0] - 25, ORIGIN[1] - 4)
    fit = fit_footprint(ANGLED, [shed, site], prior_of(rotation, rng), sigma_map_m=0.05)
    assert np.hypot(fit.east_m - ORIGIN[0], fit.north_m - ORIGIN[1]) < 0.1


def test_two_equal_buildings_near_each_other_are_not_decided():
    rng = np.random.default_rng(5)
    site = building(ANGLED, 0.3, rng, noise_m=0.0)
    twin = translate(site, 16.0, 0.0)
    between = Prior(ORIGIN[0] + 8.0, ORIGIN[1], 0.3, 8.0, math.radians(5.0))
    with pytest.raises(FootprintAmbiguous, match="2 ways"):
        fit_footprint(ANGLED, [site, twin], between, sigma_map_m=0.05)


def test_what_does_not_fit_is_said():
    rng = np.random.default_rng(5)
    far = translate(building(ANGLED, 0.3, rng), 500.0, 0.0)
    with pytest.raises(SurveyError, match=r"no building outline lies within .* 4\d\d m away"):
        fit_footprint(ANGLED, [far], prior_of(0.3, rng, 3.0))
    other = translate(rotate(box(0, 0, 14, 11), 45), *ORIGIN)
    with pytest.raises(SurveyError, match="of the plan's outside within"):
        fit_footprint(ANGLED, [other], prior_of(0.0, rng, 1.0, 2.0), sigma_map_m=0.02)


def test_the_outside_of_rooms_takes_inner_walls_in_and_ends_at_the_rooms_faces():
    rooms = [box(0, 0, 4, 3), box(4.15, 0, 9, 3), box(0, 3.2, 9, 6)]
    outline = outline_of(rooms)
    assert outline.symmetric_difference(box(0, 0, 9, 6)).area < 0.01


# in the common fit

OUTSIDE = Polygon([(-9, -7), (13, -7), (13, 3), (4, 3), (4, 9), (-9, 9)])


def footprint_of(true, rng, sigma_m=0.05):
    ring = np.array(OUTSIDE.buffer(0.35, join_style="mitre").exterior.coords)[:-1]
    host = true.host_m(ring) + sigma_m * rng.standard_normal(ring.shape)
    return Footprint([Polygon(host / true.unit_m)], {1: OUTSIDE}, sigma_m)


@pytest.mark.parametrize(
    ("crs", "lonlat"), [("EPSG:32632", (9.6, 48.2)), ("EPSG:2263", (-73.9, 40.7))]
)
def test_a_footprint_decides_where_geotags_and_compasses_are_vague(crs, lonlat):
    rng = np.random.default_rng(1)
    true = truth(crs, lonlat)
    survey = survey_of(
        true, geotag_errors=rng.normal(0, 3, (5, 2)), compass_errors_deg=rng.normal(0, 3, 5)
    )
    (fit,) = fit_site(survey, network_of(true), target_crs=crs, footprint=footprint_of(true, rng))
    assert fit.decides_position.startswith("footprint ends (2 used)")
    assert fit.decides_rotation.startswith("footprint ends (2 used)")
    ends = [e for e in fit.evidence if e.kind == "footprint"]
    assert len(ends) == 2 and all(e.used for e in ends)
    assert "outer walls 0.3" in ends[0].reason
    points = np.array([[0.0, 0.0], [10.0, -5.0]])
    assert fit.to_target(points) * fit.unit_m == pytest.approx(true.host_m(points), abs=0.15)
    assert abs(math.degrees(wrap_half(fit.rotation_rad - true.rotation_rad))) < 0.6


def test_a_compass_bent_by_steel_is_named_against_the_footprint():
    rng = np.random.default_rng(2)
    true = truth()
    survey = survey_of(
        true,
        geotag_errors=rng.normal(0, 2, (5, 2)),
        compass_errors_deg=[1.0, -2.0, 40.0, 2.0, -1.0],
    )
    (fit,) = fit_site(
        survey, network_of(true), target_crs="EPSG:32632", footprint=footprint_of(true, rng)
    )
    assert [e.name for e in fit.evidence if e.kind == "compass" and not e.used] == ["S03"]
    assert all(e.used for e in fit.evidence if e.kind == "footprint")


def test_without_any_compass_the_footprint_gives_the_rotation():
    rng = np.random.default_rng(3)
    true = truth()
    survey = survey_of(true, geotag_errors=rng.normal(0, 1, (5, 2)))
    survey = replace(
        survey,
        captures=tuple(replace(c, magnetic_azimuth_deg=math.nan) for c in survey.captures),
    )
    (fit,) = fit_site(
        survey, network_of(true), target_crs="EPSG:32632", footprint=footprint_of(true, rng)
    )
    assert abs(math.degrees(wrap_half(fit.rotation_rad - true.rotation_rad))) < 0.6


def test_a_map_that_contradicts_control_is_reported():
    """Two control points of 10 mm, and a map half a metre off: the control is followed."""
    rng = np.random.default_rng(4)
    true = truth()
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    targets = {"T1": [-10.0, 4.0], "T2": [12.0, -8.0], "T3": [3.0, 11.0]}
    xy = np.array([true.host_m(np.array(at)) for at in targets.values()])
    footprint = footprint_of(true, rng)
    moved = replace(footprint, buildings=[translate(footprint.buildings[0], 0.6, -0.4)])
    (fit,) = fit_site(
        survey,
        network_of(true, targets=targets),
        target_crs="EPSG:32632",
        control=Control(tuple(targets), xy),
        footprint=moved,
    )
    assert fit.to_target(np.zeros(2)) == pytest.approx(true.host_m(np.zeros(2)), abs=0.05)
    assert not all(e.used for e in fit.evidence if e.kind == "footprint") or any(
        "footprint" in warning for warning in fit.warnings
    )


def test_a_footprint_that_does_not_fit_is_left_out_and_said():
    true = truth()
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    far = Footprint([translate(OUTSIDE, 1e6, 2e6)], {1: OUTSIDE})
    plain = fit_site(survey, network_of(true), target_crs="EPSG:32632")[0]
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632", footprint=far)
    assert any(w.startswith("The footprint is not used: ") for w in fit.warnings)
    assert (fit.east_m, fit.north_m) == (plain.east_m, plain.north_m)
