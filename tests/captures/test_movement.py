# SPDX-License-Identifier: GPL-2.0-or-later
"""Movement during a turn, put in and found again; none where there was none."""

from dataclasses import replace

import numpy as np
import pytest
from checked import checked, without_lag
from roomtie.processing.captures.faces_fit import ReadingNoise
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.captures.movement import fit_shift, seam_step
from roomtie.processing.captures.turns import compare, only, turns_in
from simulated import capture_of, loop
from simulated_faults import SIGMA_M, SIGMA_RAD, kicked, room, seen_from, there_and_back

NOISE = ReadingNoise(SIGMA_M, SIGMA_RAD)
SQUARE = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])


def said(capture):
    return [remark for remark in capture.remarks if remark.check == "movement"]


def vector(rng, length_m):
    azimuth = rng.uniform(0, 2 * np.pi)
    return length_m * np.array([np.sin(azimuth), np.cos(azimuth)])


@pytest.mark.parametrize("lag_deg", [0.0, 3.0])
def test_a_shift_between_two_sweeps_is_fitted_within_its_error(lag_deg):
    """Against the shift put in: the error in standard errors has two degrees of freedom."""
    chi2 = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        walls, origin = room(rng)
        shift = vector(rng, 0.02)
        capture = there_and_back(walls, origin, shift, rng, 400, lag_deg)
        (capture,) = without_lag(Survey((flag_readings(capture),))).captures
        one, two = (turn for turn in only(turns_in(capture), capture.usable) if len(turn) > 100)
        found = fit_shift(compare(one, two), NOISE)
        # The vector is in the frame of the walls, the fit in that of the instrument.
        assert found.length_m == pytest.approx(0.02, abs=0.001)
        off = found.length_m - 0.02
        chi2.append((off / found.sigma_m) ** 2)
    # Mean of 6 squares of one degree of freedom: 1 with a standard error of 0.58.
    assert 0.05 < np.mean(chi2) < 2.8


def test_sweeps_from_two_places_are_told_and_flagged():
    told = flagged = alarms = 0
    for seed in range(4):
        rng = np.random.default_rng(100 + seed)
        walls, origin = room(rng)
        small = checked(there_and_back(walls, origin, vector(rng, 0.010), rng, 400, 2.0))
        large = checked(there_and_back(walls, origin, vector(rng, 0.035), rng, 400))
        still = checked(there_and_back(walls, origin, (0, 0), rng, 400, 2.0))
        told += bool(said(small)) + bool(said(large))
        # Half of the readings are left: those of one set-up.
        flagged += 350 <= (large.flag == Flag.MOVED).sum() <= 400
        alarms += bool(said(still)) or (still.flag == Flag.MOVED).any()
        assert not (small.flag == Flag.MOVED).any()
    assert told == 8
    assert flagged == 4
    assert alarms == 0


def test_the_sentence_has_the_figure_and_asks_for_another_measurement():
    rng = np.random.default_rng(1)
    (remark,) = said(checked(there_and_back(SQUARE, (0.1, 0.2), (0.012, 0.0), rng)))
    assert "shifted by 12 mm (standard error 0." in remark.sentence
    assert remark.again


def test_a_wall_across_the_seam_shows_a_kick_along_its_normal_only():
    rng = np.random.default_rng(2)
    across = kicked(SQUARE, (0, 0), (0.0, 0.02), rng, begun_deg=5.0)
    along = kicked(SQUARE, (0, 0), (0.02, 0.0), rng, begun_deg=5.0)
    turned = kicked(SQUARE, (0, 0), (0.0, 0.0), rng, turned_deg=1.0, begun_deg=30.0)
    (remark,) = said(checked(across))
    assert "stepped by 20 mm" in remark.sentence or "stepped by 19 mm" in remark.sentence
    assert said(along) == []
    # 3 m away, 30 degrees off the normal: 1 degree turns the wall by 3.5 m sin 30 pi / 180.
    step = seam_step(turns_in(turned)[0], NOISE)
    assert step.step_m == pytest.approx(3 / np.cos(np.pi / 6) * 0.5 * np.pi / 180, abs=0.004)


def test_kicks_anywhere_and_no_false_alarm():
    """Found where a straight wall runs across the seam and the kick is not along it; over 100 rooms
    0.57 of 10 mm, 0.79 of 40 mm."""
    found = alarms = 0
    for seed in range(7):
        rng = np.random.default_rng(300 + seed)
        walls, origin = room(rng)
        found += bool(said(checked(kicked(walls, origin, vector(rng, 0.03), rng, 800))))
        alarms += bool(said(checked(kicked(walls, origin, (0, 0), rng, 800))))
    assert found >= 4
    assert alarms == 0


def test_a_turn_that_runs_on_is_compared_with_its_beginning():
    rng = np.random.default_rng(4)
    angle = np.arange(0, 700, 0.3)
    second = (angle >= 360)[:, None]
    still = seen_from(SQUARE, np.zeros((len(angle), 2)), 0.0, angle % 360, rng)
    assert said(checked(still)) == []
    moved = seen_from(SQUARE, second * np.array([0.01, 0.0]), 0.0, angle % 360, rng)
    (remark,) = said(checked(moved))
    assert "shifted by 10 mm" in remark.sentence


def test_a_corner_or_a_recess_at_the_seam_is_no_step():
    rng = np.random.default_rng(5)
    for begun in (45.0, 44.5):
        turned = np.full(1600, np.radians(begun))
        angle = np.arange(1600) * 0.225
        corner = seen_from(
            loop([(-2, -2), (2, -2), (2, 2), (-2, 2)]), np.zeros((1600, 2)), turned, angle, rng
        )
        assert said(checked(corner)) == []


def test_what_the_instrument_reports_is_held_against_the_readings():
    rng = np.random.default_rng(6)
    capture, _ = capture_of(SQUARE, (0, 0), 0.2, rng=rng)
    (remark,) = said(checked(replace(capture, moved=True)))
    assert "reports that it was moved" in remark.sentence
    assert "closes within" in remark.sentence
    assert remark.again
    assert said(checked(replace(capture, moved=False))) == []
    kick = replace(kicked(SQUARE, (0, 0), (0.0, 0.02), rng, begun_deg=5.0), moved=True)
    (remark,) = said(checked(kick))
    assert "as the instrument itself reports" in remark.sentence
    few, _ = capture_of(SQUARE, (0, 0), readings=20)
    (remark,) = said(checked(replace(few, moved=True)))
    assert "closes" not in remark.sentence
