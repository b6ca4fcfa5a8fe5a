# SPDX-License-Identifier: GPL-2.0-or-later
"""Pins and notches of a few centimetres that the crossings of lines leave."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.walls.arrangement import arrange
from roomtie.processing.walls.arrangement_pieces import Pieces
from roomtie.processing.walls.rooms_outline import outlines
from roomtie.processing.walls.rooms_trifles import TRIFLE_M2, without_trifles
from shapely.geometry import box


def cut_by(lines):
    lines = np.array(lines, dtype=float)
    count = len(lines)
    none = np.zeros((count, 2), dtype=np.int64)
    pieces = Pieces(lines, none[:, 0], none, np.zeros((count, 2)), np.ones(count))
    return arrange(pieces, np.zeros((1, 2)))


def cells_in(arrangement, shape):
    return shapely.contains(shape, shapely.point_on_surface(arrangement.cells))


ROOM = box(0, 0, 5, 4)
WALLS = [[(-1, 0), (6, 0)], [(-1, 4), (6, 4)], [(0, -1), (0, 5)], [(5, -1), (5, 5)]]


def square_at(x, y, side):
    """Lines around a square that cross what is near them."""
    return [
        *([(x - 0.5, at), (x + 0.5 + side, at)] for at in (y, y + side)),
        *([(at, y - 0.5), (at, y + 0.5 + side)] for at in (x, x + side)),
    ]


@pytest.mark.parametrize("sticks_out", [True, False])
def test_a_pin_goes(sticks_out):
    pin = box(2.0, 4.0, 2.02, 4.04) if sticks_out else box(2.0, 3.96, 2.02, 4.0)
    x0, y0, x1, y1 = pin.bounds
    lines = [[(x0, 3.5), (x0, 4.5)], [(x1, 3.5), (x1, 4.5)], [(1.9, y0), (2.1, y0)]]
    arrangement = cut_by([*WALLS, *lines, [(1.9, y1), (2.1, y1)]])
    shape = ROOM.union(pin) if sticks_out else ROOM.difference(pin)
    rooms = np.where(cells_in(arrangement, shape), 0, -1)
    (before,) = outlines(arrangement, rooms)
    (after,) = outlines(arrangement, without_trifles(arrangement, rooms))
    assert before.length == pytest.approx(18.08) and after.length == pytest.approx(18.0)
    assert len(after.exterior.coords) == 5


def test_a_pin_of_several_cells_goes_from_its_tip():
    lines = [[(2.0, 3.5), (2.0, 4.5)], [(2.03, 3.5), (2.03, 4.5)]]
    lines += [[(1.9, y), (2.1, y)] for y in (4.05, 4.1, 4.15)]
    arrangement = cut_by([*WALLS, *lines])
    rooms = np.where(cells_in(arrangement, ROOM.union(box(2.0, 4.0, 2.03, 4.15))), 0, -1)
    (after,) = outlines(arrangement, without_trifles(arrangement, rooms))
    assert after.equals(shapely.normalize(ROOM))


def test_what_is_larger_and_corners_and_steps_stay():
    niche = box(2.0, 4.0, 2.06, 4.06)
    assert niche.area > TRIFLE_M2
    cut = [[(4.97, -0.5), (5.5, 0.03)], [(4.95, -0.5), (5.0, 0.05)], [(4.95, 0), (5.05, 0.05)]]
    arrangement = cut_by([*WALLS, *square_at(2.0, 4.0, 0.06), *cut, [(3, 3.98), (3, 4.02)]])
    for shape in (ROOM.union(niche), ROOM):
        rooms = np.where(cells_in(arrangement, shape), 0, -1)
        np.testing.assert_array_equal(without_trifles(arrangement, rooms), rooms)


def test_a_neck_stays():
    """It holds the room together, though two thirds of its outline are wall."""
    lines = [[(2.48, -0.5), (2.48, 4.5)], [(2.52, -0.5), (2.52, 4.5)]]
    lines += [[(2.4, 2.0), (2.6, 2.0)], [(2.4, 2.01), (2.6, 2.01)]]
    arrangement = cut_by([*WALLS, *lines])
    wall = box(2.48, 0, 2.52, 4).difference(box(2.48, 2.0, 2.52, 2.01))
    rooms = np.where(cells_in(arrangement, ROOM.difference(wall)), 0, -1)
    np.testing.assert_array_equal(without_trifles(arrangement, rooms), rooms)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_boundaries_get_shorter_and_rooms_stay_in_one_piece(seed):
    rng = np.random.default_rng(seed)
    lines = list(WALLS)
    for _ in range(6):
        x, y = rng.uniform((0, 0), (5, 4))
        lines += square_at(x, y, rng.uniform(0.01, 0.08))
    arrangement = cut_by(lines)
    inside = cells_in(arrangement, ROOM)
    rooms = np.where(inside, np.where(rng.random(len(inside)) < 0.8, 0, -1), -1)
    whole = shapely.union_all(arrangement.cells[rooms == 0])
    after = without_trifles(arrangement, rooms)
    again = shapely.union_all(arrangement.cells[after == 0])
    assert again.length <= whole.length + 1e-9
    assert len(shapely.get_parts(again)) <= len(shapely.get_parts(whole))
    np.testing.assert_array_equal(without_trifles(arrangement, after), after)
