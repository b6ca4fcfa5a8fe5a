# SPDX-License-Identifier: GPL-2.0-or-later
"""Neighbours in angle, for captures in every order."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.model import Kind
from roomtie.processing.captures.sweeps import sweeps_of
from simulated import capture_of, loop

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])


def ring(angle_deg):
    angle = np.asarray(angle_deg, dtype=float)
    capture, _ = capture_of(ROOM, (0, 0), readings=len(angle))
    return replace(capture, angle_deg=angle)


def test_a_full_turn_is_closed():
    (sweep,) = sweeps_of(ring(np.arange(0, 360, 0.5)))
    assert sweep.closed
    place, near, angle = sweep.neighbour(-1)
    assert place[0] == 719
    assert near.all()
    assert angle == pytest.approx(np.radians(-0.5))


def test_part_of_a_turn_is_open():
    (sweep,) = sweeps_of(ring(np.arange(-90, 90.1, 0.5)))
    assert not sweep.closed
    assert sweep.neighbour(-1)[1].tolist() == [False] + [True] * 360
    assert sweep.neighbour(2)[1].tolist() == [True] * 359 + [False] * 2


def test_a_counterclockwise_sweep_is_turned_clockwise():
    (sweep,) = sweeps_of(ring(np.arange(350, -1, -1)))
    assert np.all(np.diff(sweep.angle_rad) > 0)
    assert sweep.at.tolist() == list(range(350, -1, -1))


def test_a_sweep_across_zero_does_not_break():
    (sweep,) = sweeps_of(ring(np.arange(200, 500) % 360))
    assert np.all(np.diff(sweep.angle_rad) > 0)


def test_forward_and_back_are_two_sweeps():
    forward = np.arange(1.8, 360.1, 1.8)
    there, back = sweeps_of(ring(np.concatenate([forward, forward[::-1] - 1.8])))
    assert (len(there), len(back)) == (200, 200)
    assert set(there.at) == set(range(200))
    assert there.closed
    assert back.closed
    assert np.all(np.diff(back.angle_rad) > 0)


def test_several_turns_one_way_are_one_open_sweep():
    (sweep,) = sweeps_of(ring(np.arange(0, 1080, 1.0) % 360))
    assert len(sweep) == 1080
    assert not sweep.closed
    assert sweep.neighbour(1)[1].sum() == 1079


def test_rows_in_no_order_are_sorted():
    angle = np.random.default_rng(1).permutation(np.arange(0, 360, 1.0))
    (sweep,) = sweeps_of(ring(angle))
    assert sweep.closed
    assert angle[sweep.at].tolist() == list(range(360))


def test_missing_readings_part_neighbours():
    angle = np.delete(np.arange(0, 360, 1.0), [50, 100, 101, 102])
    (sweep,) = sweeps_of(ring(angle))
    near = sweep.neighbour(1)[1]
    assert near[49]  # one lost reading is bridged
    assert not near[98]
    assert near.sum() == len(angle) - 1


def test_only_ring_readings_count():
    capture = ring(np.arange(0, 360, 1.0))
    kind = capture.kind.copy()
    kind[:5] = Kind.TARGET
    (sweep,) = sweeps_of(replace(capture, kind=kind))
    assert sweep.at.tolist() == list(range(5, 360))
    assert sweeps_of(replace(capture, kind=np.full(360, int(Kind.TARGET)))) == []


def test_repeated_angles_are_no_turn_of_the_beam():
    (sweep,) = sweeps_of(ring(np.repeat(np.arange(0, 360, 1.0), 2)))
    assert len(sweep) == 720
    assert np.all(np.diff(sweep.angle_rad) >= 0)
