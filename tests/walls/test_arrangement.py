# SPDX-License-Identifier: GPL-2.0-or-later
"""Arrangements of random lines: what every planar subdivision must hold."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.walls import arrangement_cut
from roomtie.processing.walls.arrangement import FRAME_M, Seen, arrange
from roomtie.processing.walls.arrangement_cut import edge_prices, inside_cells, wall_lengths
from roomtie.processing.walls.arrangement_pieces import Piece, Pieces


def pieces_of(ends, kind=None, backed_m=None):
    ends = np.asarray(ends, dtype=float)
    count = len(ends)
    return Pieces(
        ends_m=ends,
        kind=np.zeros(count, dtype=np.int64) if kind is None else np.asarray(kind),
        wall=np.zeros((count, 2), dtype=np.int64),
        from_wall_m=np.zeros((count, 2)),
        backed_m=np.ones(count) if backed_m is None else np.asarray(backed_m),
    )


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 12))
def test_cells_tile_the_frame_and_edges_know_their_sides(seed, count):
    rng = np.random.default_rng(seed)
    pieces = pieces_of(rng.uniform(-5, 5, (count, 2, 2)))
    arrangement = arrange(pieces, np.zeros((1, 2)))
    every = np.concatenate([pieces.ends_m.reshape(-1, 2), [(0.0, 0.0)]])
    sides = every.max(axis=0) - every.min(axis=0) + 2 * FRAME_M
    assert arrangement.area_m2.sum() == pytest.approx(sides[0] * sides[1])
    cells = np.array(arrangement.cell, dtype=object)
    a, b = arrangement.node_m[arrangement.edge].swapaxes(0, 1)
    length = arrangement.edge_length_m
    long = length > 1e-3
    to_left = np.column_stack([a[:, 1] - b[:, 1], b[:, 0] - a[:, 0]]) / length[:, None]
    for side, sign in ((arrangement.left, 1), (arrangement.right, -1)):
        at = arrangement.middle_m + sign * 1e-7 * to_left
        inner = long & (side >= 0)
        assert shapely.contains_xy(cells[side[inner]], at[inner, 0], at[inner, 1]).all()
    # an edge lies on each piece that it is said to lie on
    lines = shapely.linestrings(pieces.ends_m)
    e, p = arrangement.piece.T
    assert shapely.distance(lines[p], shapely.points(arrangement.middle_m[e])).max(initial=0) < 1e-6


@pytest.mark.parametrize(
    ("backed_m", "price_m"), [([1.5, 1.0], 0.04), ([3.0, 1.0], 0.40), ([1.0, 3.0], 0.40)]
)
def test_behind_what_is_longer_than_furniture_it_is_dear_to_be_inside(backed_m, price_m):
    """Two faces on the lower side of a square of 1 m look down, out of it; the longer counts."""
    sides = [
        [(0, 0), (1, 0)],
        [(0, 0), (1, 0)],
        [(1, 0), (1, 1)],
        [(1, 1), (0, 1)],
        [(0, 1), (0, 0)],
    ]
    kind = [Piece.BACKED] * 2 + [Piece.EXTENSION] * 3
    pieces = pieces_of(sides, kind, [*backed_m, 1.0, 1.0, 1.0])
    arrangement = arrange(pieces, np.array([(0.5, 0.5)]))
    (square,) = np.flatnonzero(~arrangement.frame)
    before, behind = wall_lengths(arrangement, pieces)
    assert before[square] == 0.0 and behind[square] == pytest.approx(price_m)
    (below,) = np.flatnonzero(before)
    assert before[below] == pytest.approx(1.0) and behind[below] == 0.0


@pytest.mark.parametrize("seed", range(6))
def test_the_cut_is_the_cheapest_labelling(seed):
    """Against every labelling of a small arrangement."""
    rng = np.random.default_rng(seed)
    grid = [[(0, t), (3, t)] for t in (0, 1, 2, 3)] + [[(t, 3), (t, 0)] for t in (0, 1, 2, 3)]
    kind = rng.choice([Piece.BACKED, Piece.CLOSURE, Piece.EXTENSION], 8)
    pieces = pieces_of(grid, kind)
    arrangement = arrange(pieces, np.array([(1.5, 1.5)]))
    count = len(arrangement.cell)
    free = np.where(arrangement.frame, 0.0, rng.choice([0.0, 0.1, 0.9], count))
    seen = Seen(free, np.zeros(count), np.where(free > 0, 0.0, rng.choice([0, 1], count)))
    passed = rng.random((len(arrangement.edge), 2)) < 0.1
    prices = if_left, if_right = edge_prices(arrangement, pieces, passed)
    assert (if_left[passed[:, 0]] == arrangement.edge_length_m[passed[:, 0]]).all()
    inside = inside_cells(arrangement, pieces, seen, prices)
    before, behind = wall_lengths(arrangement, pieces)
    gain = arrangement.area_m2 * free + arrangement_cut.BEFORE_GAIN_M * before
    loss = arrangement.area_m2 * (
        arrangement_cut.UNSEEN_PRICE * (1 - free) + arrangement_cut.FAR_PRICE * seen.far
    )
    loss += behind

    def total(label):
        left = np.where(arrangement.left >= 0, label[arrangement.left], False)
        right = np.where(arrangement.right >= 0, label[arrangement.right], False)
        crossing = if_left[left & ~right].sum() + if_right[right & ~left].sum()
        return gain[~label].sum() + loss[label].sum() + crossing

    inner = np.flatnonzero(~arrangement.frame)
    assert len(inner) == 9
    best = np.inf
    for code in range(2 ** len(inner)):
        label = np.zeros(count, dtype=bool)
        label[inner] = [(code >> k) & 1 for k in range(len(inner))]
        best = min(best, total(label))
    assert not inside[arrangement.frame].any()
    # capacities are rounded to a billionth of the whole
    assert total(inside) == pytest.approx(best, abs=1e-5)
