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
