# SPDX-License-Identifier: GPL-2.0-or-later
"""Directions that were not measured, and those that nothing came back from."""

import numpy as np
import pytest
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.gaps import check_gaps
from simulated import capture_of, loop
from simulated_faults import with_distance

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])


def told(capture):
    return [remark.sentence for remark in check_gaps(flag_readings(capture))]


def ring(keep=None, lost=None, readings=1600):
    capture, _ = capture_of(ROOM, (0, 0), readings=readings)
    distance = capture.distance_m.copy()
    if lost is not None:
        distance[lost(capture.angle_deg)] = np.nan
    kept = np.ones(readings, dtype=bool) if keep is None else keep(capture.angle_deg)
    return with_distance(capture, distance[kept], capture.angle_deg[kept])


def test_a_full_ring_has_no_gap():
    for readings in (30, 360, 1600):
        assert told(ring(readings=readings)) == []


def test_missing_rows_are_told_with_place_and_width():
    (sentence,) = told(ring(keep=lambda a: (a < 20.1) | (a > 50.1)))
    assert sentence == "Nothing was measured from 20.0 to 50.2 deg (30.2 deg wide)."


def test_a_gap_across_the_zero_direction():
    (sentence,) = told(ring(keep=lambda a: (a > 9.9) & (a < 345.1)))
    assert "from 344.9 to 10.1 deg (25.2 deg wide)" in sentence


def test_a_wide_stretch_without_return_is_told_and_a_narrow_one_is_not():
    (sentence,) = told(ring(lost=lambda a: (a > 100) & (a < 112)))
    assert sentence == "Nothing came back from 99.9 to 112.0 deg (12.1 deg wide)."
    assert told(ring(lost=lambda a: (a > 100) & (a < 104))) == []


def test_rows_that_are_missing_are_not_told_twice():
    sentences = told(ring(keep=lambda a: (a < 60) | (a > 90), lost=lambda a: (a > 40) & (a < 100)))
    assert len(sentences) == 2
    assert "Nothing was measured from 59.9 to 90.2 deg (30.4 deg wide)" in sentences[0]
    # From 40 to 60 and from 90 to 100.
    assert "Nothing came back from 39.8 to 100.1 deg (29.9 deg wide)" in sentences[1]


def test_the_widest_are_named_and_the_rest_counted():
    def lost(a):
        return ((a % 40) < 6 + a / 100) & (a < 320)

    (sentence,) = told(ring(lost=lost))
    assert "in 5 narrower stretches (" in sentence
    assert sentence.index("from 279") < sentence.index("from 239")


@pytest.mark.parametrize(("every", "word"), [(2, "50 %"), (4, None)])
def test_the_share_without_return(every, word):
    sentences = told(ring(lost=lambda a: np.arange(len(a)) % every == 0))
    assert (word is None and sentences == []) or sentences == [
        f"{word} of the readings brought no return."
    ]


def test_half_a_turn_is_one_gap():
    (sentence,) = told(ring(keep=lambda a: a <= 180))
    assert "180.0 deg wide" in sentence


def test_too_few_readings_are_no_ring():
    assert told(ring(keep=lambda a: a < 2)) == []
