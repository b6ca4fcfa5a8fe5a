# SPDX-License-Identifier: GPL-2.0-or-later
"""Repeated readings, against readings that were measured again."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.duplicates import content_key, repeated_readings
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag
from simulated import capture_of, loop
from simulated_faults import seen_from, there_and_back, with_distance

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])


def ring(seed=1, readings=400, digits=4):
    capture, _ = capture_of(ROOM, (0, 0), 0.3, rng=np.random.default_rng(seed), readings=readings)
    return with_distance(capture, np.round(capture.distance_m, digits))


def again(capture, rows):
    return with_distance(capture, capture.distance_m[rows], capture.angle_deg[rows])


def test_copied_rows_are_flagged_once_each():
    rows = np.concatenate([np.arange(100), [99, 99], np.arange(100, 400)])
    found = flag_readings(again(ring(), rows))
    assert np.flatnonzero(found.flag == Flag.DUPLICATE).tolist() == [100, 101]


def test_a_turn_that_is_there_twice():
    found = flag_readings(again(ring(), np.r_[0:400, 0:400]))
    assert (found.flag[:400] != Flag.DUPLICATE).all()
    assert (found.flag[400:] == Flag.DUPLICATE).all()


@pytest.mark.parametrize("digits", [4, 3])
def test_a_turn_that_was_measured_twice(digits):
    rng = np.random.default_rng(2)
    angle = np.tile(np.arange(400) * 0.9, 2)
    capture = seen_from(ROOM, np.zeros((800, 2)), 0.0, angle, rng)
    capture = with_distance(capture, np.round(capture.distance_m, digits))
    assert not repeated_readings(capture).any()


def test_coarse_distances_come_again_without_being_copies():
    """Centimetres from an instrument of 2 mm: most are the same on the way back."""
    capture = there_and_back(ROOM, (0, 0), (0, 0), np.random.default_rng(3), 200)
    capture = with_distance(capture, np.round(capture.distance_m, 2))
    order = np.argsort(capture.angle_deg, kind="stable")
    same = np.diff(capture.distance_m[order])[::2] == 0
    assert same.mean() > 0.5
    assert not repeated_readings(capture).any()


def test_sighted_targets_may_come_again():
    capture = again(ring(), np.r_[0:400, 0])
    kind = capture.kind.copy()
    kind[[0, 400]] = 1
    assert not repeated_readings(replace(capture, kind=kind)).any()


def test_flagging_again_changes_nothing():
    once = flag_readings(again(ring(), np.r_[0:400, 17]))
    np.testing.assert_array_equal(flag_readings(once).flag, once.flag)


def test_the_key_tells_readings_not_headers():
    one = ring()
    assert content_key(one) != content_key(ring(2))
    zero = replace(one, slope_distance_m=one.slope_distance_m - 0.003, distance_zero_m=0.003)
    for other in (
        replace(one, station="B", angle_deg=-one.angle_deg),
        replace(one, angle_deg=one.angle_deg * 0.9),
        zero,
    ):
        assert content_key(other) == content_key(one)
    assert content_key(again(one, np.arange(399))) != content_key(one)


def test_captures_of_a_few_or_of_equal_distances_have_no_key():
    assert content_key(again(ring(), np.arange(15))) == b""
    assert content_key(with_distance(ring(), np.full(400, 2.0))) == b""
    assert content_key(with_distance(ring(), np.full(400, np.nan))) == b""
