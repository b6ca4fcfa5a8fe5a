# SPDX-License-Identifier: GPL-2.0-or-later
"""What stands in a room's corners or before its walls."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.rooms_blocks import blocks
from shapely.affinity import rotate
from shapely.geometry import box as rectangle

STRAIGHT = no_curves(0)
ROOM = rectangle(0, 0, 5, 4)


def areas(outline):
    return [block.area_m2 for block in blocks(outline, STRAIGHT)]


@given(
    width=st.floats(0.1, 2.5),
    depth=st.floats(0.1, 0.6),
    corner=st.booleans(),
    turn=st.floats(-180, 180),
)
def test_what_stands_in_a_corner_or_before_a_wall_is_a_block(width, depth, corner, turn):
    start = 0.0 if corner else 1.2
    outline = ROOM.difference(rectangle(start, -0.1, start + width, depth))
    assert areas(rotate(outline, turn, origin=(0, 0))) == pytest.approx([width * depth])


@pytest.mark.parametrize(
    "outline",
    [
        ROOM,
        # an L: too large and too deep for furniture
        ROOM.difference(rectangle(3, 2.5, 5, 4)),
        # a recess takes nothing from the room
        ROOM.union(rectangle(2, -0.3, 3, 0)),
        # a step of the plaster
        ROOM.difference(rectangle(0, 0, 2, 0.02)),
    ],
)
def test_what_is_no_furniture_is_no_block(outline):
    assert areas(outline) == []


def test_two_cupboards_in_a_row_are_one_block():
    row = rectangle(0, 0, 1, 0.5).union(rectangle(1, 0, 1.8, 0.3))
    assert areas(ROOM.difference(row)) == pytest.approx([0.5 + 0.24])
