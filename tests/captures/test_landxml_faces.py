# SPDX-License-Identifier: GPL-2.0-or-later
"""Observations in both faces against published figures and against the geometry itself."""

from math import asin, atan2, cos, degrees, pi, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landxml_files import Shot, Stand, landxml
from roomtie.processing.captures.landxml import read_landxml
from roomtie.processing.captures.landxml_faces import average_faces
from roomtie.processing.captures.landxml_observation import Observation

NAN = float("nan")


def observation(circle, zenith, slope=5.0, reversed_=False, target="T"):
    level = (0.0, 0.0, 0.0)
    return Observation(target, circle, zenith, slope, NAN, NAN, reversed_, 0.0, level, 1)


def dms(degree, minute, second):
    return degree + minute / 60 + second / 3600


def read(shots, angular="decimal degrees", **more):
    text = landxml([Stand("s", "S", tuple(shots), **more)], angular=angular)
    (capture,) = read_landxml(text.encode(), name="t.xml").captures
    return capture


def remarks(capture, check):
    return [r for r in capture.remarks if r.check == check]


def test_a_published_zenith_angle():
    """Ghilani and Wolf, Elementary Surveying, problem in chapter 8: the average zenith angle of
    three direct and three reversed readings. By hand: the direct ones have the mean 87-45-08, the
    reversed ones 272-14-50 1/3, which is 87-45-09 2/3; their mean is 87-45-08.83, half the sum
    less 360 degrees is -0.83 seconds."""
    direct = [dms(87, 45, s) for s in (4, 12, 8)]
    turned = [dms(272, 14, s) for s in (50, 49, 52)]
    shots = [Shot("T", 10.0, z, 100.0, True) for z in direct]
    shots += [Shot("T", 190.0, z, 100.0, False) for z in turned]
    capture = read(shots, "decimal dd.mm.ss")
    assert capture.zenith_deg[0] == pytest.approx(dms(87, 45, 8 + 5 / 6), abs=1e-9)
    (sighting,) = average_faces(
        [observation(10.0, z) for z in direct]
        + [observation(190.0, z, reversed_=True) for z in turned]
    )
    assert 3600 * sighting.index_deg == pytest.approx(-5 / 6, abs=1e-6)


def readings_of(azimuth, elevation, error, index):
    """Circle readings (deg) of an instrument whose line of sight stands off the normal to its
    tilting axis by an angle to the right, for both faces: from the geometry of the axes alone.

    The sight is (sin c, cos c cos e, cos c sin e) in the frame that turns with the circle, x along
    the tilting axis; e is the tilt. The target's elevation fixes e, its azimuth the circle.
    """
    tilt = asin(sin(elevation) / cos(error))
    found = []
    for face in (tilt, pi - tilt):
        circle = azimuth - atan2(sin(error), cos(error) * cos(face))
        found.append((degrees(circle) % 360, (90 - degrees(face) + index) % 360))
    return found


@given(st.floats(0, 2 * pi), st.floats(-1.2, 1.2), st.floats(-5e-4, 5e-4), st.floats(-0.02, 0.02))
def test_the_mean_of_both_faces_is_free_of_the_instruments_errors(azimuth, elevation, c, i):
    (h1, z1), (h2, z2) = readings_of(azimuth, elevation, c, i)
    (sighting,) = average_faces([observation(h1, z1), observation(h2, z2, reversed_=True)])
    apart = (sighting.circle_deg - degrees(azimuth) + 180) % 360 - 180
    assert apart == pytest.approx(0, abs=1e-9)
    # A tilted line of sight reaches the target's height at another tilt, by c^2 / 2 tan e.
    assert sighting.zenith_deg == pytest.approx(90 - degrees(elevation), abs=3e-5)
    assert sighting.index_deg == pytest.approx(i, abs=1e-9)
    # To the right is less on the circle in the direct face; c / sin z is its first term.
    assert sighting.collimation_deg == pytest.approx(-degrees(c), rel=1e-3, abs=1e-7)


def test_means_across_the_circles_zero():
    (sighting,) = average_faces([observation(359.999, 90), observation(180.003, 270, 5.0, True)])
    assert sighting.circle_deg == pytest.approx(0.001)
    assert sighting.collimation_deg == pytest.approx(-0.002)


def test_unequal_counts_do_not_weigh_the_faces():
    shots = [observation(10.002, 90.0), observation(10.002, 90.0)]
    shots += [observation(190.0, 270.0, 5.002, True)]
    (sighting,) = average_faces(shots)
    assert sighting.circle_deg == pytest.approx(10.001)
    assert sighting.slope_m == pytest.approx(5.001)
    assert (sighting.direct, sighting.reversed_) == (2, 1)


def pair(target, circle, zenith, slope, c=0.0, i=0.0, longer=0.0):
    return [
        Shot(target, circle + c, zenith + i, slope, True),
        Shot(target, (circle + 180 - c) % 360, 360 - zenith + i, slope + longer, False),
    ]


def test_the_instruments_errors_and_their_spread_are_reported():
    shots = pair("A", 10, 90, 5, 0.004, 0.002) + pair("B", 100, 90, 5, 0.006, 0.002, 0.001)
    capture = read(shots)
    (found,) = remarks(capture, "two faces")
    assert not found.again
    assert found.sentence == (
        "Sighted in both faces and averaged: all targets; horizontal collimation +0.0050 deg, "
        "spread 0.0020 deg, index error +0.0020 deg, spread 0.0000 deg, distances differ by up to "
        "1.0 mm."
    )
    assert capture.angle_deg == pytest.approx([10, 100], abs=1e-9)
    assert len(capture) == 2


def test_the_standard_error_of_a_mean_is_less():
    one, two = read([Shot("A", 10, 90.0, 5)]), read(pair("A", 10, 90, 5))
    assert two.angle_sigma_deg == pytest.approx(one.angle_sigma_deg / 2**0.5)


def test_a_pair_that_does_not_fit_the_others_is_to_be_sighted_again():
    good = pair("A", 10, 90, 5, 0.004) + pair("B", 80, 85, 5, 0.004) + pair("C", 99, 95, 5, 0.004)
    assert not any(r.again for r in read(good).remarks)
    bad = read(good + pair("D", 200, 90, 5, 0.03)).remarks
    (found,) = [r for r in bad if r.again]
    # One pointing at 5 m is worth 0.0059 deg; half a difference of two 0.0042, times 3.29.
    assert "collimation from D is +0.0300 deg" in found.sentence
    assert "0.0137 deg (3.29 standard errors)" in found.sentence


def test_distances_that_differ_between_the_faces():
    fine, far = pair("A", 10, 90, 5, longer=0.009), pair("A", 10, 90, 5, longer=0.010)
    assert not any(r.again for r in read(fine).remarks)
    (found,) = [r for r in read(far).remarks if r.again]
    assert "differ by 10.0 mm" in found.sentence


def test_an_instrument_out_of_adjustment():
    shots = pair("A", 10, 90, 5, 0.05) + pair("B", 100, 90, 5, 0.05) + [Shot("C", 50, 90.0, 4)]
    (found,) = remarks(read(shots), "instrument")
    assert found.again
    assert "+0.0500 deg" in found.sentence and "the sightings of C in one face are not" in (
        found.sentence
    )


def test_repeated_sightings_that_are_of_two_targets():
    capture = read([Shot("A", 10, 90.0, 5), Shot("A", 12, 90.0, 5)])
    (found,) = remarks(capture, "repeated sightings")
    assert found.again and "differ by 2.0000 deg" in found.sentence


def test_one_face_stays_as_it_is_and_is_said():
    capture = read([Shot("A", 200.0, 275.0, 5, False), Shot("B", 30.0, 80.0, 4, True)])
    assert capture.angle_deg == pytest.approx([20, 30])
    assert capture.zenith_deg == pytest.approx([85, 80])
    (found,) = remarks(capture, "one face")
    assert "B (direct) and A (reversed, and reduced to direct)" in found.sentence


def test_the_zenith_tells_the_face_where_nothing_else_does():
    capture = read([Shot("A", 200.0, 275.0, 5, None), Shot("A", 20.0, 85.0, 5, None)])
    assert capture.angle_deg == pytest.approx([20])
    assert capture.zenith_deg == pytest.approx([85])


def test_another_height_of_the_target_is_another_sighting():
    shots = [Shot("A", 20.0, 85.0, 5, height=1.0), Shot("A", 20.0, 80.0, 5, height=1.5)]
    assert len(read(shots)) == 2


def test_vertical_lines_of_sight_do_no_harm():
    capture = read([Shot("A", 20.0, 0.0, 5, True), Shot("B", 20.0, 180.0, 5, True)])
    assert capture.distance_m == pytest.approx([0, 0], abs=1e-12)


def test_the_reduction_is_that_of_the_line_of_sight():
    (capture,) = [read([Shot("A", 0.0, 60.0, 8.0)])]
    assert capture.distance_m[0] == pytest.approx(8.0 * sin(radians(60)))
