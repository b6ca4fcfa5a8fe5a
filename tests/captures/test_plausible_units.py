# SPDX-License-Identifier: GPL-2.0-or-later
"""Units that the readings contradict, through the readers that take them as told."""

import numpy as np
import pytest
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.plausible_units import check_units
from simulated import capture_of, loop

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])


def told(length=1.0, turn=360.0, angle_unit="deg", distance_unit="m", walls=ROOM, readings=400):
    """The remarks on a file that holds a ring in some units and declares others."""
    capture, _ = capture_of(walls, (0, 0), readings=readings)
    rows = "\n".join(
        f"{a / 360.0 * turn:.6f},{d * length:.4f}"
        for a, d in zip(capture.angle_deg, capture.distance_m)
    )
    text = (
        f"# angle_unit: {angle_unit}\n# distance_unit: {distance_unit}\n# rotation: clockwise\n"
        f"angle,distance\n{rows}\n"
    )
    (read,) = read_capture_text(text, name="A.csv").captures
    return [remark.sentence for remark in check_units(flag_readings(read))]


@pytest.mark.parametrize(
    ("length", "declared", "words"),
    [
        (1000.0, "m", ("2.", "km", "millimetres read as metres (2.")),
        (100.0, "m", ("centimetres read as metres (2.",)),
        (1 / 0.0254, "m", ("inches read as metres (2.",)),
        (1.0, "mm", ("metres read as millimetres (2.",)),
        (1.0, "cm", ("metres read as centimetres (2.",)),
    ],
)
def test_a_wrong_unit_of_length_is_named(length, declared, words):
    (sentence,) = told(length, distance_unit=declared)
    for word in words:
        assert word in sentence
    assert "import again" in sentence


@pytest.mark.parametrize(
    ("length", "declared"),
    [(1.0, "m"), (100.0, "cm"), (1000.0, "mm"), (1 / 0.3048, "ft"), (1 / 0.3048, "m"), (10.0, "m")],
)
def test_right_units_and_what_one_room_cannot_tell(length, declared):
    assert told(length, distance_unit=declared) == []


@pytest.mark.parametrize(
    ("turn", "declared", "words"),
    [
        (2 * np.pi, "deg", "radians read as degrees"),
        (2 * np.pi, "gon", "radians read as gon"),
        (360.0, "gon", "degrees read as gon"),
    ],
)
@pytest.mark.parametrize("readings", [120, 1600])
def test_a_wrong_unit_of_angle_is_named(turn, declared, words, readings):
    (sentence,) = told(turn=turn, angle_unit=declared, readings=readings)
    assert words in sentence


@pytest.mark.parametrize(("turn", "unit"), [(360, "deg"), (400, "gon"), (2 * np.pi, "rad")])
def test_right_angles(turn, unit):
    assert told(turn=turn, angle_unit=unit) == []


@pytest.mark.parametrize("span", [5.0, 90.0, 180.0, 300.0, 330.0])
def test_parts_of_a_turn_are_right(span):
    assert told(turn=span) == []


def test_a_warehouse_and_a_cupboard_are_right():
    assert told(walls=loop([(-60, -40), (50, -40), (50, 30), (-60, 30)])) == []
    assert told(walls=loop([(-0.3, -0.3), (0.3, -0.3), (0.3, 0.3), (-0.3, 0.3)])) == []
