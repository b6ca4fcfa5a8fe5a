# SPDX-License-Identifier: GPL-2.0-or-later
"""Errors of the instrument that a file states are taken out, and said."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.instrument_errors import (
    InstrumentErrors,
    free,
    stated_errors,
    told,
    unfree,
)
from roomtie.processing.captures.reading import import_captures
from simulated import capture_of, loop

ROOM = loop([(0, 0), (5.2, 0), (5.2, 3.9), (3.1, 3.9), (3.1, 4.6), (0, 4.6)])
HEAD = "# angle_unit: deg\n# distance_unit: m\n# rotation: {}\n"

errors = st.builds(
    InstrumentErrors, st.floats(-0.05, 0.05), st.floats(-0.05, 0.05), st.floats(-1e-3, 1e-3)
)


@given(errors)
def test_there_and_back(known):
    capture, _ = capture_of(ROOM, (2.0, 1.5), 0.3, readings=120)
    freed = free(capture, known)
    back = unfree(freed, known)
    assert np.allclose(back.xy_m, capture.xy_m, atol=1e-12)
    assert np.allclose(freed.as_read_m, capture.slope_distance_m, atol=1e-12)
    assert stated_errors(freed) == known


def capture_in(folder, text):
    path = folder / "room.csv"
    path.write_text(text)
    return import_captures(path).captures[0]


@pytest.mark.parametrize("rotation", ["clockwise", "counterclockwise"])
def test_a_beam_to_the_right_of_the_axis(tmp_path, rotation):
    """By hand: 3 m ahead along the zero direction, 10 mm to the right of it, whichever way the
    angles run."""
    text = HEAD.format(rotation) + "# axis_eccentricity_mm: 10\nangle,distance\n0,3\n90,2\n"
    capture = capture_in(tmp_path, text)
    assert capture.xy_m[0] == pytest.approx([0.010, 3.0], abs=1e-12)
    side = 1.0 if rotation == "clockwise" else -1.0
    assert capture.xy_m[1] == pytest.approx([side * 2.0, -side * 0.010], abs=1e-12)


def test_angles_that_grow_too_much(tmp_path):
    """100 ppm too much: what reads 90.009 is 90 degrees, to the second order."""
    text = HEAD.format("clockwise") + "# angle_scale_ppm: 100\nangle,distance\n90.009,3\n1,\n"
    capture = capture_in(tmp_path, text)
    assert capture.angle_deg[0] == pytest.approx(90.0, abs=1e-5)
    assert capture.angle_deg[1] == pytest.approx(
        0.9999, abs=1e-12
    )  # no return: scaled all the same


def test_what_is_taken_out_is_said_with_its_effect(tmp_path):
    text = (
        HEAD.format("clockwise")
        + "# distance_zero_mm: 12\n# axis_eccentricity_mm: -3\n# angle_scale_ppm: 50\n"
        + "angle,distance\n"
        + "".join(f"{a},3\n" for a in range(0, 360, 2))
    )
    capture = capture_in(tmp_path, text)
    (sentence,) = [r.sentence for r in capture.remarks if r.check == "instrument"]
    assert "distance zero error 12.00 mm (12.00 mm along the beam at 5 m)" in sentence
    assert "axis eccentricity -3.00 mm (3.00 mm across the beam at 5 m)" in sentence
    # 50 ppm of a full turn at 5 m: 2 pi 5 m 50e-6 = 1.57 mm.
    assert "angle scale 50 ppm (1.57 mm across the beam after a full turn at 5 m)" in sentence


def test_nothing_is_said_of_errors_that_are_none():
    assert told(InstrumentErrors()) == []
