# SPDX-License-Identifier: GPL-2.0-or-later
"""Gaps between walls in one plane."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.arrangement_collinear import through_walls
from roomtie.processing.walls.arrangement_pieces import Piece, Pieces


def pieces_of(gap, walls):
    """A closure, and backed pieces with their free sides to the right."""
    count = 1 + len(walls)
    return Pieces(
        ends_m=np.array([gap, *walls], dtype=float),
        kind=np.array([Piece.CLOSURE] + [Piece.BACKED] * len(walls)),
        wall=np.column_stack([np.arange(count)] * 2),
        from_wall_m=np.zeros((count, 2)),
        backed_m=np.ones(count),
    )


@pytest.mark.parametrize(
    ("walls", "through"),
    [
        # the two walls of a corridor, which look at each other
        ([[(0.6, -3.0), (0.6, 3.0)], [(2.0, 3.0), (2.0, -3.0)]], True),
        # the front and the back of something that stands free in the gap
        ([[(0.6, 0.4), (0.6, -0.4)], [(1.4, -0.4), (1.4, 0.4)]], False),
        # the sides of a cupboard before the wall
        ([[(0.6, 0.0), (0.6, -0.5)], [(1.4, -0.5), (1.4, 0.0)]], False),
    ],
)
def test_a_gap_leads_out_of_one_wall_and_into_another_where_a_corridor_lies_between(walls, through):
    pieces = pieces_of([(0.0, 0.0), (2.6, 0.0)], walls)
    assert through_walls(pieces)[0] == through


def told_by_all(pieces):
    """The same question, all backed pieces asked about every gap."""

    class Every:
        def __getattr__(self, name):
            return getattr(pieces, name)

        def __len__(self):
            return len(pieces)

        def backed_near(self, *_):
            return pieces.backed

    return through_walls(Every())


@pytest.mark.parametrize("seed", range(20))
def test_only_what_is_near_a_gap_decides(seed):
    """Walls of a few directions, many of them about a corner's size from the gaps."""
    rng = np.random.default_rng(seed)
    count = 160
    start = np.round(rng.uniform(0.0, 6.0, (count, 2)), 1) + rng.normal(size=(count, 2)) * 0.03
    azimuth = rng.integers(0, 4, count) * np.pi / 2 + rng.normal(size=count) * 0.2
    length = rng.uniform(0.2, 3.0, count)
    end = start + length[:, None] * np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    pieces = Pieces(
        ends_m=np.stack([start, end], axis=1),
        kind=rng.choice([Piece.BACKED, Piece.CLOSURE], count, p=[0.3, 0.7]),
        wall=np.column_stack([np.arange(count)] * 2),
        from_wall_m=np.zeros((count, 2)),
        backed_m=np.ones(count),
    )
    found = through_walls(pieces)
    assert 5 < found.sum() < count
    np.testing.assert_array_equal(found, told_by_all(pieces))
