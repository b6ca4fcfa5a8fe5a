# SPDX-License-Identifier: GPL-2.0-or-later
"""Outlines keep shared vertices and lose the others."""

import numpy as np
import pytest
from roomtie.processing.walls.rooms_outline import segments, straightened
from roomtie.processing.walls.rooms_seen import unbacked_stretches, united
from shapely.geometry import Polygon


def test_straight_vertices_go_where_they_go_from_all_rooms():
    left = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (2.0, 2.0), (2.0, 3.0), (0.0, 3.0)]
    # the right room has a corner at (2, 2), and passes (2, 1) straight
    right = [(2.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 1.0)]
    a, b = straightened([left, right])
    assert a == [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (2.0, 3.0), (0.0, 3.0)]
    assert b == [(2.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0)]


def test_a_corner_of_one_room_stays_in_the_other():
    # (2, 1) is a corner of the right room and straight in the left one
    left = [(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (2.0, 2.0), (0.0, 2.0)]
    right = [(2.0, 1.0), (4.0, 1.0), (4.0, 2.0), (2.0, 2.0)]
    a, b = straightened([left, right])
    assert (2.0, 1.0) in a
    assert (2.0, 1.0) in b


def test_segments_have_the_room_on_their_left():
    hole = [(1, 1), (1, 2), (2, 2), (2, 1)]
    room = Polygon([(0, 0), (3, 0), (3, 3), (0, 3)], [hole])
    parts = segments(room)
    assert len(parts) == 8
    x, y = parts[..., 0], parts[..., 1]
    # the shoelace formula: shell and hole together enclose the area
    area = 0.5 * np.sum(x[:, 0] * y[:, 1] - x[:, 1] * y[:, 0])
    assert area == pytest.approx(room.area)


def test_intervals():
    made = united(np.array([(3.0, 4.0), (0.0, 1.0), (0.5, 2.0)]))
    assert made.tolist() == [[0.0, 2.0], [3.0, 4.0]]
    assert unbacked_stretches(made, 5.0).tolist() == [[2.0, 3.0], [4.0, 5.0]]
    assert unbacked_stretches(np.empty((0, 2)), 5.0).tolist() == [[0.0, 5.0]]
