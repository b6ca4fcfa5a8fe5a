# SPDX-License-Identifier: GPL-2.0-or-later
"""Outlines keep shared vertices and lose the others."""

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from roomtie.processing.walls.arrangement import arrange
from roomtie.processing.walls.arrangement_pieces import Pieces
from roomtie.processing.walls.rooms_edges import components
from roomtie.processing.walls.rooms_outline import outlines, segments, straightened
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


@settings(max_examples=40, deadline=None)
@example(0, 10, 2)  # two holes that touch in a point
@given(st.integers(0, 10**6), st.integers(3, 14), st.integers(1, 5))
def test_rooms_that_touch_have_the_same_vertices_whatever_the_lines_and_the_rooms(
    seed, lines, rooms
):
    """Any lines, and any rooms made of their cells: valid, apart, and closed on each other."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform(-5, 5, (lines, 2, 2))
    pieces = Pieces(
        ends,
        np.zeros(lines, dtype=np.int64),
        np.zeros((lines, 2), dtype=np.int64),
        np.zeros((lines, 2)),
        np.ones(lines),
    )
    arrangement = arrange(pieces, np.zeros((1, 2)))
    owner = rng.integers(-1, rooms, len(arrangement.cell))
    same = (arrangement.left >= 0) & (arrangement.right >= 0)
    same[same] &= owner[arrangement.left[same]] == owner[arrangement.right[same]]
    label = components(arrangement, owner >= 0, same)
    polygons = outlines(arrangement, label)
    assert len(polygons) == label.max(initial=-1) + 1
    for room, polygon in enumerate(polygons):
        assert polygon.is_valid
        # a vertex that is straight to a micrometre may have gone
        cells = arrangement.area_m2[label == room].sum()
        assert polygon.area == pytest.approx(cells, abs=1e-5)
    for a, b in combinations(polygons, 2):
        if not a.intersects(b):
            continue
        assert a.intersection(b).area < 1e-9
        corners = [shapely.get_coordinates(p) for p in (a, b)]
        for own, other, there in ((corners[0], b, corners[1]), (corners[1], a, corners[0])):
            met = shapely.distance(shapely.points(own), other.boundary) < 1e-9
            shared = {tuple(corner) for corner in own[met]}
            assert shared <= {tuple(corner) for corner in there}
