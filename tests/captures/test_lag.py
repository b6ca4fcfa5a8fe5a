# SPDX-License-Identifier: GPL-2.0-or-later
"""The lag between sweeps there and back, put in and found again."""

from dataclasses import replace

import numpy as np
import pytest
from checked import without_lag
from reading_only import read_captures
from roomtie.processing.captures.lag import sweep_lag_rad
from roomtie.processing.captures.model import Kind, Survey
from roomtie.processing.captures.reading import import_captures
from simulated import capture_of, cast, loop

ROOM = loop([(-2, -2), (3, -2), (3, 3), (0.5, 3), (0.5, 5), (-2, 5)])


def there_and_back(lag_deg, seed=1, readings=400, sigma_m=0.002, walls=ROOM):
    """A clockwise sweep shows angles too large by half the lag, the other ones too small."""
    rng = np.random.default_rng(seed)
    step = 360.0 / readings
    sweep = np.arange(readings) * step
    shown = np.concatenate([sweep, sweep[::-1]])
    true = shown + np.repeat([-lag_deg / 2, lag_deg / 2], readings)
    distance, _ = cast(walls, np.zeros(2), np.radians(true))
    distance = distance + sigma_m * rng.standard_normal(2 * readings)
    capture, _ = capture_of(walls, (0, 0), readings=2 * readings, station=f"S{seed}")
    return replace(capture, angle_deg=shown, distance_m=distance, slope_distance_m=distance), true


@pytest.mark.parametrize("lag_deg", [5.4, -3.0, 0.8, 9.0])
@pytest.mark.parametrize("readings", [200, 800])
def test_a_lag_is_found_and_taken_out(lag_deg, readings):
    pairs = [there_and_back(lag_deg, seed, readings) for seed in (1, 2, 3)]
    survey = without_lag(Survey(tuple(capture for capture, _ in pairs)))
    for capture, (_, true) in zip(survey.captures, pairs):
        # A tenth of the step between readings.
        np.testing.assert_allclose(capture.angle_deg, true, atol=36.0 / readings)
    assert len(survey.warnings) == 1
    assert f"S1, S2 and S3 differ by {abs(lag_deg):.0f}"[:-1] in survey.warnings[0]


def test_no_lag_changes_nothing():
    captures = tuple(there_and_back(0.0, seed)[0] for seed in range(4))
    survey = without_lag(Survey(captures))
    assert survey.captures == captures and survey.warnings == ()
    assert [sweep_lag_rad(capture) for capture in captures] == [0.0] * 4


def test_one_sense_tells_nothing():
    capture, _ = capture_of(ROOM, (0, 0), rng=np.random.default_rng(1))
    assert np.isnan(sweep_lag_rad(capture))
    few, _ = there_and_back(5.0, readings=30)
    assert np.isnan(sweep_lag_rad(few))


def test_round_surroundings_tell_nothing():
    angle = np.radians(np.arange(0, 360, 2))
    tank = loop(3.0 * np.stack([np.sin(angle), np.cos(angle)], axis=-1))
    capture, _ = there_and_back(5.0, walls=tank)
    assert sweep_lag_rad(capture) == 0.0


def test_targets_are_not_turned():
    capture, _ = there_and_back(5.0)
    kind = capture.kind.copy()
    kind[[100, 700]] = Kind.TARGET
    (after,) = without_lag(Survey((replace(capture, kind=kind),))).captures
    assert after.angle_deg[[100, 700]].tolist() == capture.angle_deg[[100, 700]].tolist()
    assert after.angle_deg[101] != capture.angle_deg[101]


def test_a_real_instrument_with_three_steps_of_lag(shared_data):
    """The captures of the flat were swept forward and back in steps of 1.8 deg. As recorded, the
    sweeps differ by decimetres, without the lag by the noise."""
    folder = shared_data("flat-six-stations")
    lags = np.degrees([sweep_lag_rad(capture) for capture in read_captures(folder).captures])
    assert np.all(np.abs(lags - 5.4) < 0.4)
    survey = import_captures(folder)
    assert "differ by 5." in survey.warnings[-1]
    assert np.all(np.abs([sweep_lag_rad(capture) for capture in survey.captures]) < np.radians(0.3))


def test_full_turns_of_one_sense_stay_as_they_are(shared_data):
    folder = shared_data("duplex-level-1")
    for raw, imported in zip(read_captures(folder).captures, import_captures(folder).captures):
        np.testing.assert_array_equal(raw.angle_deg, imported.angle_deg)
