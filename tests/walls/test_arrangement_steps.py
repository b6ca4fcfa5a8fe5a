# SPDX-License-Identifier: GPL-2.0-or-later
"""Steps of walls that no face shows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.angles import turn
from roomtie.processing.walls.arrangement_steps import WIDEST_STEP_M, find_steps


def steps_of(lines, turned=0.0, taken=()):
    lines = turn(np.asarray(lines, dtype=float), turned)
    return find_steps(lines[:, 0], lines[:, 1], set(taken))


@given(
    ahead=st.floats(-0.02, 0.1),
    across=st.floats(0.005, 0.14),
    side=st.sampled_from([-1.0, 1.0]),
    turned=st.floats(-3.1, 3.1),
)
def test_a_piece_square_to_both_parts_crosses_their_lines(ahead, across, side, turned):
    height = side * across
    steps = steps_of([[(0, 0), (2, 0)], [(2 + ahead, height), (4, height)]], turned)
    assert steps.walls.tolist() == [[0, 1]]
    start, end = turn(steps.ends_m[0], -turned)
    assert start[0] == pytest.approx(end[0]) == pytest.approx(2 + 0.5 * ahead)
    assert side * start[1] < 0.0 and side * end[1] > across


@pytest.mark.parametrize(
    "second",
    [
        [(2.0, 0.001), (4, 0.001)],
        [(2.0, WIDEST_STEP_M + 0.01), (4, WIDEST_STEP_M + 0.01)],
        [(2.3, 0.05), (4, 0.05)],
        [(4, 0.05), (2.0, 0.05)],
        [(2.0, 0.05), (4, 0.65)],
    ],
    ids=["no step", "wide", "a gap between", "looks the other way", "another direction"],
)
def test_what_is_no_step(second):
    assert len(steps_of([[(0, 0), (2, 0)], second]).walls) == 0


def test_a_step_with_a_face_of_its_own_or_in_one_line_wants_no_piece():
    lines = [[(0, 0), (2, 0)], [(2, 0.06), (4, 0.06)], [(2, 0.005), (2, 0.055)]]
    assert len(steps_of(lines).walls) == 0
    assert len(steps_of(lines[:2], taken=[(0, 1)]).walls) == 0
    assert len(steps_of(np.empty((0, 2, 2))).walls) == 0
