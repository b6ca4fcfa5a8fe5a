# SPDX-License-Identifier: GPL-2.0-or-later
"""Ways that a boundary makes where nobody saw it."""

import numpy as np
import pytest
from roomtie.processing.walls.rooms_blocks import Block
from roomtie.processing.walls.rooms_detours import hidden_detours_m
from roomtie.processing.walls.rooms_outline import segments
from shapely.geometry import Polygon

NOTCHED = Polygon([(0, 0), (5, 0), (5, 4), (3, 4), (3, 3.4), (2, 3.4), (2, 4), (0, 4)])
BLOCKED = Polygon([(0, 0), (5, 0), (5, 3), (4.2, 3), (4.2, 4), (0, 4)])
ALL = (0.0, np.inf)


def seen(polygon, hidden):
    """All stretches of a boundary as seen but for parts ``{stretch: (from, to)}``."""
    result = []
    for k, (start, end) in enumerate(segments(polygon)):
        length = float(np.hypot(*(end - start)))
        low, high = hidden.get(k, (length, length))
        parts = [(0.0, low), (high, length)]
        result.append(np.array([p for p in parts if p[1] > p[0]]).reshape(-1, 2))
    return result


NONE = [np.empty((0, 2))] * 8


@pytest.mark.parametrize("begin", range(8))
def test_a_notch_that_nobody_saw_is_twice_its_depth_longer(begin):
    """Wherever the ring begins."""
    corners = np.roll(np.asarray(NOTCHED.exterior.coords)[:-1], -begin, axis=0)
    polygon = Polygon(corners)
    of_notch = {(k - begin) % 8: ALL for k in (3, 4, 5)}
    assert hidden_detours_m(polygon, seen(polygon, of_notch), NONE) == pytest.approx([1.2])


def test_what_is_seen_or_straight_or_in_a_corner_is_no_detour():
    assert hidden_detours_m(NOTCHED, seen(NOTCHED, {}), NONE) == []
    assert hidden_detours_m(NOTCHED, seen(NOTCHED, {0: (1.0, 2.0)}), NONE) == []
    # both sides of what stands in a corner: as long as the walls behind it
    hidden = {2: ALL, 3: ALL}
    assert hidden_detours_m(BLOCKED, seen(BLOCKED, hidden), NONE) == pytest.approx([0.0])
    nobody = [np.empty((0, 2))] * 8
    assert hidden_detours_m(NOTCHED, nobody, NONE) == []


def test_an_opening_is_no_detour():
    hidden = {3: ALL, 4: ALL, 5: ALL}
    backed = seen(NOTCHED, hidden)
    closed = [np.array([(0.0, 1.0)]) if k == 4 else np.empty((0, 2)) for k in range(8)]
    # from the wall's end to the opening, over the corner where both would meet, and back
    assert hidden_detours_m(NOTCHED, backed, closed) == pytest.approx([0.0, 0.0])


def test_what_stands_before_a_wall_or_in_a_corner():
    before = np.array([(3.0, 4.0), (3.0, 3.4), (2.0, 3.4), (2.0, 4.0)])
    block = Block(np.array([5.0, 4.0]), before, np.array([0.0, 4.0]), before, 0.6)
    assert block.detour_m == pytest.approx(1.2)
    chain = np.array([(5.0, 3.0), (4.2, 3.0), (4.2, 4.0)])
    outline = np.concatenate([chain, [(5.0, 4.0)]])
    corner = Block(np.array([5.0, 0.0]), chain, np.array([0.0, 4.0]), outline, 0.8)
    assert corner.detour_m == pytest.approx(0.0)
