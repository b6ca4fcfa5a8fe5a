# SPDX-License-Identifier: GPL-2.0-or-later
"""How areas and perimeters move with the walls' lines, against polygons built anew from moved
lines."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.walls.arrangement import Arrangement
from roomtie.processing.walls.arrangement_pieces import Pieces
from roomtie.processing.walls.rooms_area import Boundary, sigma_area, sigma_perimeter
from shapely.geometry import Polygon

U_SHAPE = [(0, 0), (6, 0.3), (6, 5), (4.2, 4.8), (4, 2), (2.1, 2.2), (2, 5), (-0.2, 4.7)]


class Weights:
    """Takes the weights of the walls' parameters instead of telling their variance."""

    def variance(self, weights):
        self.taken = weights
        return float(weights @ weights)


def one_room(corners, holes=()):
    """An arrangement of one cell, each edge with a wall of its own, free to the left."""
    rings = [np.array(ring, dtype=float) for ring in (corners, *holes)]
    node = np.concatenate(rings)
    edge, first = [], 0
    for ring in rings:
        at = first + np.arange(len(ring))
        edge.append(np.column_stack([at, np.roll(at, -1)]))
        first += len(ring)
    edge = np.concatenate(edge)
    count = len(edge)
    # a piece has its free side to the right: it runs against its edge
    ends = node[edge][:, ::-1]
    way = ends[:, 1] - ends[:, 0]
    direction = way / np.hypot(*way.T)[:, None]
    arrangement = Arrangement(
        cell=(Polygon(rings[0], rings[1:]),),
        frame=np.zeros(1, dtype=bool),
        node_m=node,
        edge=edge,
        left=np.zeros(count, dtype=np.int64),
        right=np.full(count, -1),
        piece=np.tile(np.arange(count)[:, None], 2),
        forward=np.zeros(count, dtype=bool),
    )
    none = np.zeros(count, dtype=np.int64)
    wall = np.tile(np.arange(count)[:, None], 2)
    pieces = Pieces(ends, none, wall, np.zeros((count, 2)), np.ones(count))
    rng = np.random.default_rng(3)
    walls = Lines(
        # anywhere on the line, as the centroid of readings is
        centre_m=ends[:, 0] + rng.uniform(-0.5, 1.5, count)[:, None] * way,
        normal=direction[:, ::-1] * [1.0, -1.0],
        direction=direction,
    )
    return arrangement, pieces, walls, [len(ring) for ring in rings]


class Lines(SimpleNamespace):
    def __len__(self):
        return len(self.normal)


def moved(walls, counts, change):
    """The room whose walls are moved and turned clockwise by ``change (2W,)``."""
    offset, turn = change[0::2], change[1::2]
    sine, cosine = np.sin(turn), np.cos(turn)
    nx, ny = walls.normal.T
    normal = np.column_stack([nx * cosine + ny * sine, -nx * sine + ny * cosine])
    height = np.sum((walls.centre_m + offset[:, None] * walls.normal) * normal, axis=1)
    rings, first = [], 0
    for count in counts:
        own = first + np.arange(count)
        before = first + (np.arange(count) - 1) % count
        lines = np.stack([normal[before], normal[own]], axis=1)
        heights = np.stack([height[before], height[own]], axis=1)
        rings.append(np.linalg.solve(lines, heights[..., None])[..., 0])
        first += count
    return Polygon(rings[0], rings[1:])


def weights_of(which, arrangement, pieces, walls):
    rooms = np.zeros(1, dtype=np.int64)
    errors = Weights()
    which(Boundary.of(arrangement, pieces, rooms, 0), pieces, walls, errors)
    return errors.taken


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_area_and_perimeter_move_as_the_lines_do(seed):
    rng = np.random.default_rng(seed)
    corners = np.array(U_SHAPE) + rng.uniform(-0.3, 0.3, (len(U_SHAPE), 2))
    hole = np.array([(2.2, 0.8), (2.4, 1.6), (3.7, 1.5), (3.5, 0.9)])
    arrangement, pieces, walls, counts = one_room(corners, [hole])
    change = rng.normal(0, 1, 2 * len(walls)) * np.tile([1e-5, 3e-6], len(walls))
    there, back = moved(walls, counts, change), moved(walls, counts, -change)
    # the normal points into the room: a wall that moves along it takes from the area
    for which, sizes, sign in (
        (sigma_area, (there.area, back.area), -1.0),
        (sigma_perimeter, (there.length, back.length), -1.0),
    ):
        taken = weights_of(which, arrangement, pieces, walls)
        expected = 0.5 * (sizes[0] - sizes[1])
        assert sign * float(taken @ change) == pytest.approx(expected, abs=1e-9)


def test_a_wall_across_a_rectangle_takes_twice_what_it_moves():
    arrangement, pieces, walls, _ = one_room([(0, 0), (5, 0), (5, 4), (0, 4)])
    taken = weights_of(sigma_perimeter, arrangement, pieces, walls)
    assert taken[0::2] == pytest.approx(2.0)


def test_a_room_that_touches_itself_in_a_point():
    """Two triangles of one room that have a corner in common are no longer or shorter for it."""
    corners = [(0, 0), (4, 0), (2, 2), (4, 4), (0, 4), (2, 2)]
    arrangement, pieces, walls, _ = one_room(corners)
    node = arrangement.node_m
    edge = np.where(arrangement.edge == 5, 2, arrangement.edge)
    pinched = Arrangement(**{**vars(arrangement), "edge": edge, "node_m": node})
    taken = weights_of(sigma_perimeter, pinched, pieces, walls)
    apart = []
    for own in (np.array([0, 1, 5]), np.array([2, 3, 4])):
        one, its, lines, _ = one_room(node[edge[own, 0]])
        lines.centre_m = walls.centre_m[own]
        apart.append((own, weights_of(sigma_perimeter, one, its, lines)))
    for own, expected in apart:
        assert taken.reshape(-1, 2)[own] == pytest.approx(expected.reshape(-1, 2), abs=1e-12)
    assert shapely.is_valid(pinched.cell[0]) is np.False_
