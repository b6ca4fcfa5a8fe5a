# SPDX-License-Identifier: GPL-2.0-or-later
"""All checks of a capture together: on the project's example, on data made elsewhere, on scraps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from roomtie.processing.captures.checks import COVERAGE, check_capture
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag
from roomtie.processing.captures.noise import Noise, noise_in
from roomtie.processing.captures.reading import import_captures
from simulated import capture_of, loop
from simulated_faults import before_pane, with_distance

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])
NOISE = Noise(0.002, 0.03, 0.002, 0.03)


def alarms(survey):
    return [
        (capture.station, remark.sentence)
        for capture in survey.captures
        for remark in capture.remarks
        if remark.check not in COVERAGE
    ]


def flagged(survey):
    flags = (Flag.MOVED, Flag.PASSER_BY, Flag.THROUGH_GLASS, Flag.REFLECTION)
    flags += (Flag.TILTED, Flag.DUPLICATE)
    return sum(int(np.isin(capture.flag, flags).sum()) for capture in survey.captures)


def test_no_false_alarm_on_the_example(example_survey):
    survey = import_captures(example_survey / "captures")
    assert alarms(survey) == []
    assert flagged(survey) == 0
    assert survey.warnings == ()


@pytest.mark.parametrize("name", ["duplex-level-1", "flat-six-stations"])
def test_no_false_alarm_on_data_made_elsewhere(name, shared_data):
    survey = import_captures(shared_data(name))
    assert alarms(survey) == []
    assert flagged(survey) == 0
    if name == "duplex-level-1":
        # Its windows send nothing back.
        told = {c.station: [r.sentence for r in c.remarks] for c in survey.captures}
        assert told["S08"] == ["Nothing came back from 8.8 to 23.6 deg (14.8 deg wide)."]
        assert told["S03"] == []


def test_checking_again_changes_nothing():
    capture = flag_readings(before_pane(np.random.default_rng(1), 0.5)[0])
    capture = replace(capture, tilt_deg=3.0, moved=True, compass_calibrated=False)
    (noise,) = noise_in([capture])
    once = check_capture(capture, noise)
    assert {remark.check for remark in once.remarks} >= {"level", "movement", "compass", "glass"}
    twice = check_capture(once, noise)
    np.testing.assert_array_equal(twice.flag, once.flag)
    assert twice.remarks[: len(once.remarks)] == once.remarks


def test_the_sense_of_the_turn_and_its_beginning_change_no_flag():
    capture = before_pane(np.random.default_rng(1), 0.5)[0]
    expected = check_capture(flag_readings(capture), NOISE).flag
    assert (expected == Flag.THROUGH_GLASS).sum() > 10
    for order in (np.arange(1600)[::-1], np.roll(np.arange(1600), 400)):
        turned = with_distance(capture, capture.distance_m[order], capture.angle_deg[order])
        flags = check_capture(flag_readings(turned), NOISE).flag
        np.testing.assert_array_equal(flags == Flag.THROUGH_GLASS, expected[order] == 7)


@given(
    st.lists(
        st.tuples(
            st.floats(-360, 360),
            st.one_of(st.floats(1e-4, 1e5), st.just(float("nan")), st.just(2.0)),
        ),
        max_size=90,
    )
)
@example([(0.0, float("nan")), (262.0, 2.0), (262.0, 2.0), (0.0, 1.0)])
def test_scraps_are_no_trouble(rows):
    """Any rows at all: the readings keep what they have but the flag, nothing else is raised."""
    capture, _ = capture_of(ROOM, (0, 0), readings=360)
    angle = np.array([a for a, _ in rows], dtype=float)
    capture = with_distance(capture, np.array([d for _, d in rows], dtype=float), angle)
    with np.errstate(all="raise", under="ignore"):
        found = check_capture(flag_readings(capture), NOISE)
    np.testing.assert_array_equal(found.distance_m, capture.distance_m)
    assert len(found.flag) == len(rows)
    lost = np.isnan(capture.distance_m)
    assert (found.flag[lost] == Flag.NO_RETURN).all()


@pytest.mark.parametrize("seed", range(18))
def test_rings_of_nonsense_are_no_trouble(seed):
    """Rings that jump about, come again, are round or coarse: dense enough for every check."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(100, 300))
    angle = [np.sort(rng.uniform(0, 360, n)), np.arange(n) * 1.8 % 360, rng.uniform(0, 360, n)]
    distance = [np.exp(rng.uniform(-6, 6, n)), np.full(n, 2.0), np.round(rng.uniform(1, 4, n), 1)]
    capture, _ = capture_of(ROOM, (0, 0), readings=360)
    gone = rng.random(n) < (0.3 if seed % 2 else 0.0)
    distance = np.where(gone, np.nan, distance[seed // 3 % 3])
    capture = with_distance(capture, distance, angle[seed % 3])
    with np.errstate(all="raise", under="ignore"):
        found = check_capture(flag_readings(capture), NOISE)
    assert (found.flag[gone] == Flag.NO_RETURN).all()


@pytest.mark.parametrize("readings", [0, 1, 2, 5, 12, 49, 100])
def test_short_rings(readings):
    capture, _ = capture_of(ROOM, (0, 0), readings=max(readings, 1))
    capture = with_distance(capture, capture.distance_m[:readings], capture.angle_deg[:readings])
    found = check_capture(flag_readings(capture), NOISE)
    assert [r for r in found.remarks if r.check not in COVERAGE] == []
