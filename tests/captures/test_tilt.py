# SPDX-License-Identifier: GPL-2.0-or-later
"""Level: as reported, and in the walls of tilted rings."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.checks import check_capture
from roomtie.processing.captures.faces_fit import ReadingNoise
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag
from roomtie.processing.captures.noise import noise_in
from roomtie.processing.captures.tilt import skew_deg
from roomtie.processing.captures.turns import only, turns_in
from simulated import capture_of, loop
from simulated_faults import SIGMA_M, SIGMA_RAD, tilted

HALL = loop([(-4, -3), (16, -3), (16, 5), (-4, 5)])
ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])
NOISE = ReadingNoise(SIGMA_M, SIGMA_RAD)


def checked(capture):
    capture = flag_readings(capture)
    (noise,) = noise_in([capture])
    return check_capture(capture, noise)


def level(capture):
    return [remark for remark in capture.remarks if remark.check == "level"]


def test_readings_stay_usable_where_the_tilt_says_less_than_their_noise():
    capture, _ = capture_of(HALL, (0, 0), 0.2, rng=np.random.default_rng(1))
    found = checked(replace(capture, tilt_deg=2.0))
    # 3 sigma of 2 mm are reached at 6 mm / (1 - cos 2 deg) = 9.85 m.
    np.testing.assert_array_equal(found.flag == Flag.TILTED, capture.distance_m > 9.8494)
    reported, flagged = level(found)
    assert "tilted by 2 deg" in reported.sentence
    assert "readings beyond 9.8 m may be more than 6 mm too long" in flagged.sentence
    assert reported.again and flagged.again


@pytest.mark.parametrize("tilt_deg", [0.0, -1.1, 1.1, np.nan])
def test_level_enough(tilt_deg):
    capture, _ = capture_of(HALL, (0, 0), 0.2, rng=np.random.default_rng(2))
    found = checked(replace(capture, tilt_deg=tilt_deg))
    assert level(found) == []
    assert not (found.flag == Flag.TILTED).any()


def test_readings_with_their_own_zenith_are_reduced_already():
    capture, _ = capture_of(HALL, (0, 0), 0.2, rng=np.random.default_rng(2))
    zenith = np.full(len(capture), 88.0)
    found = checked(replace(capture, zenith_deg=zenith, tilt_deg=3.0))
    assert not (found.flag == Flag.TILTED).any()


@pytest.mark.parametrize("tilt_deg", [5.0, 8.0])
@pytest.mark.parametrize("towards", [45.0, 135.0, 20.0])
def test_the_walls_of_a_tilted_ring_are_askew_by_half_the_square(tilt_deg, towards):
    """Two walls at right angles, stretched by 1 / cos t in the direction b from one of them, meet
    at 90 deg - (t^2 / 2) sin 2b, to second order."""
    rng = np.random.default_rng(3)
    capture = tilted(ROOM, (0.2, 0.1), tilt_deg, np.radians(towards), rng)
    capture = flag_readings(capture)
    skew, sigma = skew_deg(only(turns_in(capture), capture.usable)[0], NOISE)
    expected = np.degrees(np.radians(tilt_deg) ** 2 / 2) * np.sin(np.radians(2 * towards))
    assert abs(skew) == pytest.approx(abs(expected), abs=4 * sigma + 0.01)
    assert sigma < 0.08


def test_a_tilt_that_the_walls_show_is_told_unless_it_is_reported():
    rng = np.random.default_rng(4)
    capture = tilted(ROOM, (0.2, 0.1), 8.0, np.radians(45.0), rng)
    (remark,) = level(checked(capture))
    assert "miss a right angle by 0.5" in remark.sentence
    assert "tilted by 8 deg" in remark.sentence
    assert not remark.again
    assert "stood tilted by 8 deg" in level(checked(replace(capture, tilt_deg=8.0)))[0].sentence


def test_what_the_walls_cannot_show():
    """A small tilt; one along a wall; a building out of square by more than any set-up is."""
    rng = np.random.default_rng(5)
    for walls, tilt_deg, towards in ((ROOM, 3.0, 45.0), (ROOM, 8.0, 0.0), (ROOM, 0.0, 0.0)):
        capture = tilted(walls, (0.2, 0.1), tilt_deg, np.radians(towards), rng)
        assert level(checked(capture)) == []
    askew = loop([(-2, -2), (3, -2), (3.3, 3), (-1.7, 3)])
    assert level(checked(capture_of(askew, (0, 0), rng=rng)[0])) == []
