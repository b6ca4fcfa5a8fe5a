# SPDX-License-Identifier: GPL-2.0-or-later
"""How far walls moved since an earlier plan, told only where both were drawn alike."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from roomtie.processing.walls.earlier import EarlierDrawing, EarlierWalls
from roomtie.processing.walls.moves import comparable, wall_moves
from simulated_walls import walls_of

ENDS = np.array([[(0, 0), (0, 3)], [(0, 3), (4, 3)], [(4, 3), (4, 0)]], dtype=float)


def earlier_at(scales, names=("W001", "W002", "W009")):
    """An earlier plan of the three walls at plot scales, each a millimetre per denominator off."""
    count = len(scales) * 3
    scale = np.repeat(scales, 3)
    walls = EarlierWalls(
        tuple(names) * len(scales),
        np.zeros(count, dtype=np.int64),
        np.ones(count, dtype=np.int64),
        scale,
        np.tile(ENDS, (len(scales), 1, 1)) + scale[:, None, None] * 1e-3,
        np.full(count, 0.001),
    )
    return EarlierDrawing(walls, None, None, {})


def plans_at(scales):
    walls = walls_of(ENDS)
    return [SimpleNamespace(walls=replace(walls, plot_scale=scale)) for scale in scales]


def test_the_finest_plot_scale_that_both_have_is_compared():
    earlier, plans = earlier_at([50, 200]), plans_at([20, 50, 200])
    plan = comparable(earlier, plans)
    assert plan is plans[1]
    found = wall_moves(earlier, plan, {1})
    assert found.plot_scale == 50
    assert found.wall == ("W001", "W002")
    assert np.abs(found.offset_m) == pytest.approx(0.05)
    assert (found.new, found.gone) == (("W003",), ("W009",))


def test_where_no_plot_scale_is_common_nothing_is_said_to_have_moved():
    earlier, plans = earlier_at([100]), plans_at([20, 50])
    plan = comparable(earlier, plans)
    assert plan is plans[0]
    found = wall_moves(earlier, plan, {1})
    assert found.plot_scale == 0
    assert found.wall == ("W001", "W002") and np.isnan(found.offset_m).all()


def test_without_plans_there_is_nothing_to_compare():
    assert comparable(earlier_at([50]), []) is None
