# SPDX-License-Identifier: GPL-2.0-or-later
"""What stands at the ends of gaps, and what it is worth."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.arrangement_pieces import Piece, Pieces
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.openings_jambs import HUNG_M, Gap, jamb_at
from simulated_walls import walls_of

NOTHING_SEEN = FreeSpace(())
GAP = Gap(
    np.array([1.0, 0.0]),
    np.array([1.9, 0.0]),
    np.array([0.0, -1.0]),
    (0, 1),
    np.nan,
    "open",
    np.nan,
)
"""In a wall along x whose free side is below."""


def at_start(*ends, sigma_m=0.001):
    """What stands at the start of the gap, given faces with their free sides to the right."""
    ends = np.array([[(0.0, 0.0), (1.0, 0.0)], *ends], dtype=float)
    count = len(ends)
    pieces = Pieces(
        ends_m=ends,
        kind=np.full(count, Piece.BACKED),
        wall=np.column_stack([np.arange(count)] * 2),
        from_wall_m=np.zeros((count, 2)),
        backed_m=np.ones(count),
    )
    walls = walls_of(ends, sigma_normal_rad=0.0, sigma_offset_m=sigma_m)
    return jamb_at(GAP, 0, walls, pieces, NOTHING_SEEN)


def test_a_jamb_square_to_its_wall_is_worth_what_its_face_is():
    jamb = at_start([(1.0, 0.0), (1.0, 0.2)])
    assert (jamb.sign, jamb.depth_m) == (1, pytest.approx(0.2))
    assert jamb.sigma_m == pytest.approx(0.001)


def test_a_jamb_off_square_is_worth_less():
    jamb = at_start([(1.0, 0.0), (1.02, 0.2)])
    assert jamb.sign == 1
    assert jamb.sigma_m == pytest.approx(np.hypot(0.001, 0.01), rel=0.02)


def test_a_jamb_with_the_leaf_behind_it_may_be_off_by_how_that_hangs():
    jamb = at_start([(1.0, 0.0), (1.0, 1.1)])
    assert jamb.sign == -1
    assert jamb.sigma_m == pytest.approx(np.hypot(0.001, HUNG_M))


def test_a_wall_that_passes_the_end_of_a_gap_aslant_is_no_jamb():
    assert at_start([(0.1, -1.8), (1.9, 1.8)]).sign == -1


def test_a_leaf_that_stands_open_before_the_wall_tells_nothing():
    assert at_start([(1.0, -0.9), (1.0, 0.04)]).sign == 0
