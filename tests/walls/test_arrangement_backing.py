# SPDX-License-Identifier: GPL-2.0-or-later
"""What readings back of a wall face."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.arrangement_backing import supported

SPAN = np.array([0.0, 4.0])


def rows(places, spacing):
    """Readings at places along a face, as far apart as the beam's spacing there."""
    return np.column_stack([places, np.full(len(places), spacing)])


def test_one_lost_reading_is_bridged_and_a_doorway_is_not():
    near = np.arange(0.0, 4.001, 0.02)
    near = near[(np.abs(near - 1.0) > 0.005) & ~((near > 2.0) & (near < 2.9))]
    intervals = supported([rows(near, 0.02)], SPAN)
    assert intervals == pytest.approx(np.array([[0.0, 2.0], [2.9, 4.0]]), abs=0.011)


def test_a_lone_reading_does_not_carry_a_wall_into_a_doorway():
    """A distant station's beam, a third of a metre apart from the next, ended in the doorway."""
    near = np.arange(0.0, 2.001, 0.02)
    stray = np.array([1.6, 1.9, 2.2])
    intervals = supported([rows(near, 0.02), rows(stray, 0.3)], SPAN)
    assert intervals == pytest.approx(np.array([[0.0, 2.0]]), abs=0.001)


def test_a_wall_that_only_a_distant_station_saw_keeps_its_ends():
    intervals = supported([rows(np.arange(0.0, 3.1, 0.3), 0.3)], SPAN)
    assert intervals == pytest.approx(np.array([[0.0, 3.0]]))


def test_a_face_without_readings_of_its_own_is_backed_over_its_span():
    assert supported([], SPAN) == pytest.approx(SPAN[None])
