# SPDX-License-Identifier: GPL-2.0-or-later
"""Openings between rooms from the gaps of the wall faces on both sides."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.openings import find_openings
from roomtie.processing.walls.openings_jambs import Gap
from shapely.geometry import box

LOWER, UPPER = box(0, -3, 5, 0), box(0, 0.2, 5, 3)


def gap(kind, y, facing, sigma_m=0.001):
    """A gap of 1 m in the face of a wall along x at height y that faces up (1) or down (-1)."""
    start, end = np.array([[1.0, y], [2.0, y]])
    if facing > 0:
        start, end = end, start
    return Gap(start, end, np.array([0.0, float(facing)]), (0, 0), sigma_m, kind, 0.2)


def openings(*gaps):
    shut = [[np.array([[0.0, 5.0]])] * 4] * 2
    return find_openings(gaps, (LOWER, UPPER), shut, shut, FreeSpace(()))


@pytest.mark.parametrize(
    ("below", "above", "kind"),
    [
        ("doorway", "doorway", "doorway"),
        ("window", "doorway", "window"),
        ("doorway", "window", "window"),
        ("window", "window", "window"),
    ],
)
def test_a_pane_seen_from_one_side_makes_a_window_of_the_gap_in_both_faces(below, above, kind):
    (found,) = openings(gap(below, 0.0, -1), gap(above, 0.2, 1, sigma_m=0.002))
    assert found.kind == kind
    assert {found.room_a, found.room_b} == {0, 1}
    assert found.width_m == pytest.approx(1.0)
    assert found.thickness_m == pytest.approx(0.2)
