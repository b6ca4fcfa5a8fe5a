# SPDX-License-Identifier: GPL-2.0-or-later
"""The whole fit: from captures, network and control to east, north, rotation and their errors."""

import json
import math
from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.captures.model import Survey
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress
from roomtie.processing.site.fit import (
    Control,
    RotationUnknown,
    far_corner_sigma,
    fit_site,
)
from roomtie.processing.stations.model import Status
from roomtie.tests.site.site_surveys import capture, network_of, survey_of, truth

TARGETS = {"T1": [-10.0, 4.0], "T2": [12.0, -8.0], "T3": [3.0, 11.0]}
ZEROS, NONE = np.zeros((5, 2)), np.full(5, np.nan)
PLACES = [
    ("EPSG:32632", (9.6, 48.2)),
    ("EPSG:32733", (14.5, -22.0)),
    ("EPSG:2193", (174.8, -41.3)),
    ("EPSG:2048", (18.6, -34.0)),
    ("EPSG:2263", (-73.9, 40.7)),
    ("EPSG:5514", (14.4, 50.1)),
    ("EPSG:27700", (-1.5, 52.0)),
    ("EPSG:2154", (2.0, 48.0)),
    ("EPSG:3031", (10.0, -75.0)),  # polar stereographic, both axes along meridians
    ("EPSG:3413", (-30.0, 82.0)),
    ("EPSG:32661", (40.0, 86.0)),  # UPS
    ("EPSG:3375", (102.5, 3.5)),  # rectified skew orthomorphic: oblique Mercator
    ("EPSG:2056", (8.0, 47.0)),  # Swiss oblique Mercator
    ("EPSG:28992", (5.2, 52.0)),  # oblique stereographic
    ("EPSG:31467", (9.5, 48.0)),  # Gauss-Kruger, northing first
    ("EPSG:7405", (-1.5, 52.0)),  # compound
    ("EPSG:2225", (-123.5, 41.0)),  # US survey feet
    ("EPSG:6344", (-93.0, 45.0)),  # NAD83(2011)
    ("EPSG:27572", (2.1, 48.8)),  # longitudes in grads from Paris
]


def control_of(true, names, error=None):
    xy = np.array([true.host_m(np.array(TARGETS[name])) / true.unit_m for name in names])
    return Control(tuple(names), xy if error is None else xy + error)


def used(fit, kind):
    return [evidence.name for evidence in fit.evidence if evidence.kind == kind and evidence.used]


@pytest.mark.parametrize(("crs", "lonlat"), PLACES)
def test_without_errors_the_truth_comes_back(crs, lonlat):
    """Axes east-north, north-east, west-south, along meridians, feet, oblique projections, a
    compound CRS, change of datum: the plan lands within a millimetre (the datum's inverse is no
    better) and 1e-6 rad of where it is."""
    true = truth(crs, lonlat)
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    (fit,) = fit_site(survey, network_of(true), target_crs=crs)
    points = np.array([[0.0, 0.0], [30.0, -20.0], [-15.0, 40.0]])
    assert fit.to_target(points) * fit.unit_m == pytest.approx(true.host_m(points), abs=2e-3)
    assert abs(wrap_half(fit.rotation_rad - true.rotation_rad)) < 1e-6
    assert fit.scale == pytest.approx(true.scale, abs=1e-10)
    assert fit.unit_m == true.unit_m
    assert all(evidence.used for evidence in fit.evidence)


def test_the_bearing_is_reduced_by_declination_and_convergence():
    """By hand: magnetic azimuth 30 deg, declination D, convergence c: grid azimuth 30 + D - c;
    minus the plan orientation of the zero direction."""
    true = truth(stations=1)
    survey = Survey(
        (
            capture(
                "S01", magnetic_azimuth_deg=30.0, longitude_deg=9.6, latitude_deg=48.2,
                captured_at=datetime(2026, 3, 18), ellipsoidal_height_m=300.0,
            ),
        )
    )  # fmt: skip
    network = network_of(true, orientation_rad=np.array([math.radians(12.0)]))
    (fit,) = fit_site(survey, network, target_crs="EPSG:32632")
    north = fit.north
    expected = 30.0 + math.degrees(north.declination_rad - north.convergence_rad) - 12.0
    assert math.degrees(fit.rotation_rad) == pytest.approx(expected, abs=1e-8)
    # Defaults: 3 deg for a bearing, 5 m for a geotag (common practice); datum WGS 84: exact.
    sigma = np.sqrt(np.diagonal(fit.covariance))
    assert sigma[:2] == pytest.approx([5.0, 5.0], abs=1e-6)
    expected = math.hypot(3.0, math.degrees(north.sigma_declination_rad))
    assert math.degrees(sigma[2]) == pytest.approx(expected, abs=1e-6)
    assert north.on == date(2026, 3, 18)
    assert north.model == "WMM2025"


def test_an_uncalibrated_compass_is_weakened():
    true = truth()
    survey = survey_of(
        true, geotag_errors=ZEROS, compass_errors_deg=[10.0, 0.0, 0.0, 0.0, 0.0],
        header={0: {"compass_calibrated": False}},
    )  # fmt: skip
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632")
    assert abs(math.degrees(fit.rotation_rad - true.rotation_rad)) < 0.3
    weakened = next(e for e in fit.evidence if e.kind == "compass" and e.name == "S01")
    assert "not calibrated" in weakened.reason
    assert weakened.used


def test_a_bent_compass_is_rejected_through_the_adjusted_orientations():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=[1.0, -2.0, 35.0, 2.0, -1.0])
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632")
    assert used(fit, "compass") == ["S01", "S02", "S04", "S05"]
    assert math.degrees(fit.rotation_rad - true.rotation_rad) == pytest.approx(0.0, abs=0.1)
    assert any("S03" in warning and "local attraction" in warning for warning in fit.warnings)
    assert fit.decides_rotation.startswith("compass bearings (4 used)")
    assert fit.decides_position.startswith("geotags (5 used)")


def test_control_points_decide_where_there_are_two():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS + 3.0, compass_errors_deg=np.full(5, 2.0))
    network = network_of(true, targets=TARGETS)
    (fit,) = fit_site(
        survey, network, target_crs="EPSG:32632", control=control_of(true, ["T1", "T2"])
    )
    assert fit.decides_position == "control points (2 used)"
    assert fit.decides_rotation == "control points (2 used)"
    assert fit.to_target(np.zeros(2)) == pytest.approx(true.origin_m, abs=1e-4)
    # 10 mm a point and 3 mm a target over 25.06 m: rotation within sqrt(2) * 10.44 mm / 25.06 m.
    expected = math.sqrt(2 * (0.01**2 + 0.003**2)) / math.hypot(22.0, 12.0)
    assert math.sqrt(fit.covariance[2, 2]) == pytest.approx(expected, rel=0.01)


def test_control_alone_places_a_survey_without_geotags():
    true = truth()
    network = network_of(true, targets=TARGETS)
    (fit,) = fit_site(
        survey_of(true), network, target_crs="EPSG:32632", control=control_of(true, TARGETS)
    )
    assert fit.to_target(np.zeros(2)) == pytest.approx(true.origin_m, abs=1e-6)
    assert math.isnan(fit.north.declination_rad)
    assert fit.north.on is None


def test_control_in_feet():
    true = truth("EPSG:2263", (-73.9, 40.7))
    network = network_of(true, targets=TARGETS)
    (fit,) = fit_site(
        survey_of(true), network, target_crs="EPSG:2263", control=control_of(true, TARGETS)
    )
    assert fit.to_target(np.zeros(2)) * fit.unit_m == pytest.approx(true.origin_m, abs=1e-6)


def test_nothing_to_place_by_gives_nothing():
    true = truth()
    assert fit_site(survey_of(true), network_of(true), target_crs="EPSG:32632") == ()
    compass_only = survey_of(true, compass_errors_deg=np.zeros(5))
    assert fit_site(compass_only, network_of(true), target_crs="EPSG:32632") == ()


def test_a_position_without_direction_is_refused():
    true = truth(size_m=3.0)
    survey = survey_of(true, geotag_errors=ZEROS)
    with pytest.raises(RotationUnknown, match=r"rotation of network 1 is unknown.*compass bearing"):
        fit_site(survey, network_of(true), target_crs="EPSG:32632")


def test_geotags_alone_turn_the_plan_where_they_spread():
    true = truth(size_m=300.0)
    rng = np.random.default_rng(1)
    survey = survey_of(true, geotag_errors=rng.normal(0, 2, (5, 2)), geotag_sigma_m=2.0)
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632")
    sigma = math.sqrt(fit.covariance[2, 2])
    assert abs(wrap_half(fit.rotation_rad - true.rotation_rad)) < 4 * sigma
    assert fit.decides_rotation == "geotags (5 used)"


def test_a_compass_without_a_date_asks_for_one():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5), when=None)
    with pytest.raises(SurveyError, match=r"needs a date.*S01.*give DATE"):
        fit_site(survey, network_of(true), target_crs="EPSG:32632")
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632", on=date(2026, 3, 18))
    assert fit.north.on == date(2026, 3, 18)
    # Without a compass no date is needed.
    no_compass = survey_of(true, geotag_errors=ZEROS, geotag_sigma_m=0.1, when=None)
    assert len(fit_site(no_compass, network_of(true), target_crs="EPSG:32632")) == 1


def test_height_comes_from_the_captures_else_it_is_zero_and_said():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5), height_m=500.0)
    (known,) = fit_site(survey, network_of(true), target_crs="EPSG:32632")
    (given,) = fit_site(survey, network_of(true), target_crs="EPSG:32632", height_m=0.0)
    # Every 100 m shorten by 15.7 ppm: 1e2 / 6.38e6.
    assert known.scale / given.scale == pytest.approx(1 - 500 / 6.38e6, abs=1e-7)
    flat = Survey(tuple(replace(c, ellipsoidal_height_m=math.nan) for c in survey.captures))
    (unknown,) = fit_site(flat, network_of(true), target_crs="EPSG:32632")
    assert unknown.scale == pytest.approx(given.scale, rel=1e-12)
    assert any("No ellipsoidal height" in warning for warning in unknown.warnings)


def test_two_groups_each_have_their_own_fit():
    true = truth(stations=6)
    survey = survey_of(true, geotag_errors=np.zeros((6, 2)), compass_errors_deg=np.zeros(6))
    # The second group's plan frame is another one: turned and shifted.
    xy, orientation = true.plan_m.copy(), true.orientation_rad.copy()
    xy[3:] = turn(xy[3:], 0.7) + (5.0, -40.0)
    orientation[3:] += 0.7
    network = network_of(true, network=[1, 1, 1, 2, 2, 2], xy_m=xy, orientation_rad=orientation)
    first, second = fit_site(survey, network, target_crs="EPSG:32632")
    assert (first.network, second.network) == (1, 2)
    assert first.to_target(xy[:3]) == pytest.approx(true.host_m(true.plan_m[:3]), abs=1e-4)
    assert second.to_target(xy[3:]) == pytest.approx(true.host_m(true.plan_m[3:]), abs=1e-4)
    assert wrap_half(second.rotation_rad - first.rotation_rad + 0.7) == pytest.approx(0, abs=1e-6)


def test_a_group_without_evidence_is_left_out_and_said():
    true = truth(stations=4)
    errors = np.array([[0.0, 0.0], [0.0, 0.0], [np.nan, np.nan], [np.nan, np.nan]])
    survey = survey_of(true, geotag_errors=errors, compass_errors_deg=np.zeros(4))
    network = network_of(true, network=[1, 1, 2, 2])
    (fit,) = fit_site(survey, network, target_crs="EPSG:32632")
    assert fit.network == 1
    assert any("network 2" in warning for warning in fit.warnings)


def test_a_station_without_ties_is_placed_by_its_own_compass_and_geotag():
    true = truth(stations=4)
    survey = survey_of(true, geotag_errors=np.zeros((4, 2)), compass_errors_deg=np.zeros(4))
    covariance = np.zeros((12, 12))
    covariance[9:, :] = covariance[:, 9:] = np.nan
    network = network_of(
        true, network=[1, 1, 1, 2], covariance=covariance,
        status=(Status.ADJUSTED,) * 3 + (Status.UNCONNECTED,),
    )  # fmt: skip
    first, alone = fit_site(survey, network, target_crs="EPSG:32632")
    assert alone.network == 2
    assert np.isfinite(alone.covariance).all()
    assert [e.name for e in alone.evidence] == ["S04", "S04"]
    placed = alone.to_target(true.plan_m[3])
    assert placed == pytest.approx(true.host_m(true.plan_m[3]), abs=1e-4)
    assert len(first.evidence) == 6


def test_stations_without_ties_are_placed_each_by_itself():
    true = truth(stations=4)
    survey = survey_of(true, geotag_errors=np.zeros((4, 2)), compass_errors_deg=np.zeros(4))
    status = (Status.ADJUSTED,) * 2 + (Status.UNCONNECTED,) * 2
    network = network_of(true, network=[1, 1, 2, 3], status=status)
    fits = fit_site(survey, network, target_crs="EPSG:32632")
    assert [fit.network for fit in fits] == [1, 2, 3]
    assert [len(fit.evidence) for fit in fits] == [4, 2, 2]


def test_a_single_capture_is_placed():
    """A survey of one capture has no tie and no connected group."""
    true = truth(stations=1)
    survey = survey_of(true, geotag_errors=np.zeros((1, 2)), compass_errors_deg=np.zeros(1))
    for status in (Status.HELD, Status.UNCONNECTED):
        network = network_of(true, network=[1], status=(status,))
        (fit,) = fit_site(survey, network, target_crs="EPSG:32632")
        assert fit.to_target(np.zeros(2)) == pytest.approx(true.origin_m, abs=1e-4)


def test_why_nothing_was_placed_is_said():
    said = []
    true = truth()
    fit_site(
        survey_of(true, compass_errors_deg=np.zeros(5)), network_of(true),
        target_crs="EPSG:32632", progress=Progress(said=said.append),
    )  # fmt: skip
    assert any("want of a geotag" in sentence for sentence in said)


@pytest.mark.parametrize(
    ("names", "xy", "sigma", "words"),
    [
        (("X",), [[500000.0, 5300000.0]], None, "none of the names .X."),
        (("T1", "T1"), [[0.0, 0.0], [1.0, 1.0]], None, "T1 occurs more than once"),
        (("T1",), [[np.nan, 0.0]], None, "T1: its coordinates are not finite"),
        (("T1",), [[0.0, 0.0]], [0.0], "T1: a standard error of 0 m"),
        (("T1", "T2"), [[0.0, 0.0]], None, "2 names, 1 coordinate pairs"),
    ],
)
def test_control_that_does_not_do(names, xy, sigma, words):
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    with pytest.raises(SurveyError, match=words):
        fit_site(
            survey, network_of(true, targets=TARGETS), target_crs="EPSG:32632",
            control=Control(names, np.array(xy), *([] if sigma is None else [np.array(sigma)])),
        )  # fmt: skip


def test_control_in_degrees_is_told_from_control_in_metres():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    degrees = Control(("T1", "T2"), np.array([[9.6, 48.2], [9.6003, 48.2001]]))
    with pytest.raises(SurveyError, match=r"km from its geotags; expected .* target CRS"):
        fit_site(
            survey, network_of(true, targets=TARGETS), target_crs="EPSG:32632", control=degrees
        )


def test_a_target_crs_that_does_not_do_is_refused():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    with pytest.raises(SurveyError, match=r"geographic.*EPSG:32632"):
        fit_site(survey, network_of(true), target_crs="EPSG:4326")


def test_the_far_corner_is_worth_what_the_covariance_says():
    """Against a numerical propagation of the covariance through the fit's own formula."""
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    (fit,) = fit_site(survey, network_of(true), target_crs="EPSG:32632")
    points = np.array([[0.0, 0.0], [60.0, -35.0]])
    step = 1e-6
    columns = [
        (replace(fit, **{name: getattr(fit, name) + step}).to_target(points)
         - fit.to_target(points)) / step
        for name in ("east_m", "north_m", "rotation_rad")
    ]  # fmt: skip
    jacobian = np.stack(columns, axis=-1)
    variance = np.einsum("nij,jk,nik->ni", jacobian, fit.covariance, jacobian)
    assert far_corner_sigma(fit, points) == pytest.approx(np.sqrt(variance), rel=1e-3)
    assert far_corner_sigma(fit, points[0]).shape == (2,)
    assert far_corner_sigma(fit, points)[0] == pytest.approx(np.sqrt(fit.covariance.diagonal()[:2]))


def test_a_cancel_is_noticed():
    true = truth()
    survey = survey_of(true, geotag_errors=ZEROS, compass_errors_deg=np.zeros(5))
    with pytest.raises(Cancelled):
        fit_site(survey, network_of(true), target_crs="EPSG:32632", progress=Progress(lambda: True))


def test_the_simulated_storey_of_the_shared_data(shared_data):
    """The site of `duplex-level-1` as its truth states it: plan north 23 deg east of true north at
    the origin; a network made of the true poses, the headers read from the files."""
    folder = shared_data("duplex-level-1")
    told = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    captures, poses = [], []
    for station in told["stations"]:
        header = dict(
            line[1:].split(":", 1)
            for line in (folder / f"{station['station']}.csv").read_text().splitlines()
            if line.startswith("#") and ":" in line
        )
        header = {key.strip(): value.strip() for key, value in header.items()}
        number = {
            key: float(header[key])
            for key in (
                "magnetic_azimuth_deg", "magnetic_azimuth_sigma_deg", "longitude_deg",
                "latitude_deg", "geotag_sigma_m", "ellipsoidal_height_m",
            )
            if key in header
        }  # fmt: skip
        captures.append(
            capture(station["station"], captured_at=datetime.fromisoformat(told["site"]["date"]),
                    **number)
        )  # fmt: skip
        poses.append([station["x"], station["y"], math.radians(station["orientation_deg"])])
    poses = np.array(poses)
    true = truth(stations=len(poses))
    network = replace(
        network_of(true, xy_m=poses[:, :2], orientation_rad=poses[:, 2]),
        station=tuple(c.station for c in captures),
    )
    (fit,) = fit_site(Survey(tuple(captures)), network, target_crs="EPSG:32633")
    sigma = np.sqrt(np.diagonal(fit.covariance))
    true_azimuth = fit.rotation_rad + fit.north.convergence_rad
    off = wrap_half(true_azimuth - math.radians(told["site"]["plan_north_true_azimuth_deg"]))
    assert abs(off) < 3.29 * sigma[2]
    # The truth's declination is that of height 0; ours of the captures' height.
    assert math.degrees(fit.north.declination_rad) == pytest.approx(
        told["site"]["declination_deg"], abs=0.01
    )
