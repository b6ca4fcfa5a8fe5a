# SPDX-License-Identifier: GPL-2.0-or-later
"""Coordinates that capture files give, as control."""

from dataclasses import replace

import numpy as np
import pytest
from pyproj import Transformer
from roomtie.processing.captures.model import KnownPoint
from roomtie.processing.site.control import Control
from roomtie.processing.site.fit import fit_site
from roomtie.processing.site.known_points import (
    control_of_known,
    crs_of_known,
    place_of_known,
    with_earlier_control,
)
from roomtie.processing.site.target_crs import middle_of_geotags
from roomtie.tests.site.site_surveys import capture, network_of, survey_of, truth

TARGETS = {"T1": [-10.0, 4.0], "T2": [12.0, -8.0], "T3": [3.0, 11.0]}
TRUE = truth("EPSG:25832", (9.6, 48.2))
NETWORK = network_of(TRUE, targets=TARGETS)
NAN = float("nan")


def known(name, crs="", *, xy=None, station=False, true=TRUE, **more):
    at = TARGETS.get(name) if xy is None else xy
    east, north = true.host_m(np.array(at))
    return KnownPoint(name, east, north, crs=crs, station=station, **more)


def test_points_without_a_system_are_taken_in_the_target_crs():
    control, told = control_of_known([known("T1"), known("T2")], NETWORK, "EPSG:25832")
    assert control.name == ("T1", "T2")
    assert control.xy == pytest.approx(
        np.array([TRUE.host_m(np.array(TARGETS[n])) for n in control.name])
    )
    assert control.sigma_m.tolist() == [0.01, 0.01]
    assert told == (
        "The coordinates in the files of T1 and T2 are control, taken as coordinates of ETRS89 / "
        "UTM zone 32N, as their file names no system.",
    )


def test_the_area_of_a_system_may_be_the_whole_earth():
    true = truth("EPSG:3395", (9.6, 48.2))
    points = [known("T1", true=true)]
    control, told = control_of_known(points, network_of(true, targets=TARGETS), "EPSG:3395")
    assert control is not None, told


def test_points_are_transformed_to_the_target_crs():
    points = [known("T1", "EPSG:25832", sigma_m=0.004), known("T3", "EPSG:25832")]
    control, told = control_of_known(points, NETWORK, "EPSG:25833")
    change = Transformer.from_crs("EPSG:25832", "EPSG:25833", always_xy=True)
    expected = [change.transform(p.east_m, p.north_m) for p in points]
    assert control.xy == pytest.approx(np.array(expected), abs=1e-4)
    assert control.sigma_m.tolist() == [0.004, 0.01]
    assert "transformed from ETRS89 / UTM zone 32N to ETRS89 / UTM zone 33N" in told[0]


def test_feet_of_a_system_in_feet():
    true = truth("EPSG:2263", (-73.9, 40.7))
    network = network_of(true, targets=TARGETS)
    for crs in ("EPSG:2263", ""):
        control, _ = control_of_known([known("T1", crs, true=true)], network, "EPSG:2263")
        feet = true.host_m(np.array(TARGETS["T1"])) / (1200 / 3937)
        assert control.xy[0] == pytest.approx(feet, abs=1e-6)


def test_only_sighted_targets_and_stations_are_control():
    points = [known("T1"), known("Z", xy=[1, 1]), known("S02", xy=TRUE.plan_m[1], station=True)]
    # A point that has a station's name is not the place of that station.
    points.append(known("S03", xy=[5, 5]))
    control, _ = control_of_known(points, NETWORK, "EPSG:25832")
    assert list(zip(control.name, control.station)) == [("T1", False), ("S02", True)]
    none, told = control_of_known(points[1:2], NETWORK, "EPSG:25832")
    assert none is None
    assert "(Z) are of no sighted target and of no station" in told[0]


def test_a_local_system_is_no_control():
    points = [KnownPoint("T1", 1000.0, 2000.0), KnownPoint("T2", 1010.0, 2000.0)]
    control, told = control_of_known(points, NETWORK, "EPSG:25832")
    assert control is None
    assert "they belong to a local system" in told[0]
    here = [known("T1"), known("T2")]
    control, told = control_of_known(here, NETWORK, "EPSG:25832", geotag=(9.6, 49.2))
    assert control is None
    assert "km from the geotags" in told[0]
    assert control_of_known(here, NETWORK, "EPSG:25832", geotag=(9.6, 48.2))[0] is not None


@pytest.mark.parametrize(
    ("crs", "words"),
    [
        ("EPSG:4326", "is not a projected one"),
        ("EPSG:999999", "is not known to PROJ"),
        ('PROJCS["x"]', "is not known to PROJ"),
        ("EPSG:2053", "do not run east and north"),
    ],
)
def test_systems_that_cannot_be_used_are_named(crs, words):
    control, told = control_of_known([known("T1", crs)], NETWORK, "EPSG:25832")
    assert control is None
    assert words in told[0]
    assert crs_of_known([known("T1", crs), known("T2", "EPSG:25832")]) == "EPSG:25832"
    assert crs_of_known([known("T1", crs)]) == ""


def test_a_point_in_two_files():
    twice = [known("T1"), known("T1", xy=[-10.0, 4.5])]
    control, told = control_of_known(twice, NETWORK, "EPSG:25832")
    assert len(control) == 1
    assert any("T1 at two places, 0.500 m apart" in sentence for sentence in told)


def test_no_points_no_words():
    assert control_of_known([], NETWORK, "EPSG:25832") == (None, ())


def test_the_place_of_points_with_a_system():
    assert place_of_known([known("T1", "EPSG:25832")], "EPSG:25832") == pytest.approx(
        TRUE.lonlat, abs=1e-3
    )


def test_the_middle_of_geotags_over_the_antimeridian():
    tags = [(179.9, 0.0), (-179.9, 1.0), (-179.8, 2.0)]
    captures = [
        capture(str(i), longitude_deg=lon, latitude_deg=lat) for i, (lon, lat) in enumerate(tags)
    ]
    assert middle_of_geotags(captures) == pytest.approx((-179.9, 1.0))
    assert middle_of_geotags([capture("A")]) is None


def test_control_is_looked_for_where_the_geotags_are_on_both_sides_of_the_antimeridian():
    """A change of datum for the middle of the numbers, Greenwich, would be off by hundreds of
    metres on Fiji."""
    true = truth("EPSG:3141", (180.0, -17.0), stations=4)
    xy = np.array([true.host_m(np.array(TARGETS[name])) for name in TARGETS])
    survey = survey_of(true, geotag_errors=np.zeros((4, 2)), compass_errors_deg=np.zeros(4))
    sides = (179.99999, -179.99999, -179.99999, 179.99999)
    captures = [replace(c, longitude_deg=side) for c, side in zip(survey.captures, sides)]
    survey = replace(survey, captures=tuple(captures))
    network, control = network_of(true, targets=TARGETS), Control(tuple(TARGETS), xy)
    (fit,) = fit_site(survey, network, target_crs="EPSG:3141", control=control)
    assert abs((fit.north.longitude_deg - true.lonlat[0] + 180.0) % 360.0 - 180.0) < 1e-3
    assert fit.north.latitude_deg == pytest.approx(true.lonlat[1], abs=1e-3)


def test_a_target_and_a_station_place_the_plan():
    control, _ = control_of_known(
        [known("T1"), known("S02", xy=TRUE.plan_m[1], station=True)], NETWORK, "EPSG:25832"
    )
    (fit,) = fit_site(
        survey_of(TRUE), NETWORK, target_crs="EPSG:25832", control=control, height_m=300.0
    )
    assert fit.rotation_rad == pytest.approx(TRUE.rotation_rad, abs=1e-9)
    assert fit.to_target(np.array([3.0, 11.0])) == pytest.approx(
        TRUE.host_m(np.array([3.0, 11.0])), abs=1e-6
    )
    assert {(e.kind, e.name) for e in fit.evidence} == {("control", "T1"), ("control", "S02")}


def test_the_error_of_a_station_goes_into_the_fit():
    """Two stations as control: the fit's covariance is that of the plain formula (independent of
    the code) for two points with errors of control and network added."""
    sigma_control, sigma_network = 0.01, 0.03
    count = len(TRUE.plan_m)
    network = network_of(
        TRUE, targets=TARGETS, covariance=np.kron(np.eye(count), np.diag([1, 1, 0])) * 0.03**2
    )
    points = [known(f"S0{i + 1}", xy=TRUE.plan_m[i], station=True) for i in (1, 2)]
    control, _ = control_of_known(points, network, "EPSG:25832")
    (fit,) = fit_site(
        survey_of(TRUE), network, target_crs="EPSG:25832", control=control, height_m=300.0
    )
    base = np.hypot(*(TRUE.plan_m[2] - TRUE.plan_m[1]))
    across = np.hypot(sigma_control, sigma_network) * np.sqrt(2)
    assert np.sqrt(fit.covariance[2, 2]) == pytest.approx(across / base, rel=1e-3)


def test_one_name_may_be_a_target_and_a_station():
    Control(("A", "A"), np.zeros((2, 2)), station=np.array([True, False]))


def test_control_of_an_earlier_plan_is_used_beside_what_is_new():
    earlier = [
        known("T1", "EPSG:25832", sigma_m=0.003),
        known("T2", "EPSG:25832"),
        known("Z", xy=[1, 1]),
    ]
    anew = Control(("T2", "T3"), np.array([[1.0, 2.0], [3.0, 4.0]]), np.array([0.002, 0.002]))
    both, told = with_earlier_control(anew, earlier, NETWORK, "EPSG:25832")
    assert both.name == ("T2", "T3", "T1")
    assert both.xy[:2].tolist() == [[1.0, 2.0], [3.0, 4.0]]  # what is given anew counts
    assert both.xy[2] == pytest.approx(TRUE.host_m(np.array(TARGETS["T1"])))
    assert both.sigma_m.tolist() == [0.002, 0.002, 0.003]
    assert told == ("Control points of the earlier plan are used again: T1.",)
    alone, _ = with_earlier_control(None, earlier, NETWORK, "EPSG:25832")
    assert alone.name == ("T1", "T2")


def test_control_whose_targets_are_gone_is_said_to_be_none():
    anew = Control(("T3",), np.array([[3.0, 4.0]]))
    same, told = with_earlier_control(anew, [known("Z", xy=[1, 1])], NETWORK, "EPSG:25832")
    assert same is anew
    assert told[0].startswith("Control points of the earlier plan: ") and "Z" in told[0]
