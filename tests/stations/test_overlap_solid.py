# SPDX-License-Identifier: GPL-2.0-or-later
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.connect_sight import sight_nats
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.overlap_solid import (
    BEHIND_M,
    BESIDE_RAD,
    FEWEST_BESIDE,
    solid,
)
from simulated import capture_of, loop, ring_of
from simulated_rays import Surface, capture_among, cast

ROOM = loop([(0, 0), (5, 0), (5, 4), (0, 4)])
POST = loop([(2.9, 2.4), (3.3, 2.4), (3.3, 2.8), (2.9, 2.8)])[:, ::-1]
NEAR, BESIDE = (2.5, 3.2, 0.3), (1.2, 1.0, -0.8)
"""The first looks squarely at the window, which sends much back there, the second aslant."""


def windowed():
    """A room with a window of 1.6 m in one wall, and walls far outside."""
    walls = loop([(0, 0), (5, 0), (5, 4), (3.3, 4), (1.7, 4), (0, 4)])
    yard = loop([(-9, -9), (14, -9), (14, 16), (-9, 16)])
    surface = np.full(len(walls) + len(yard), int(Surface.WALL))
    surface[3], surface[len(walls) :] = int(Surface.GLASS), int(Surface.OUTSIDE)
    return np.concatenate([walls, yard]), surface


def taken(pose, seed=0, readings=1600):
    walls, surface = windowed()
    rng = np.random.default_rng(seed)
    capture, _ = capture_among(walls, surface, pose, rng, readings=readings)
    return flag_readings(capture)


def on_pane(capture, pose):
    """Which readings came back from the window."""
    walls, surface = windowed()
    distance, hit = cast(walls, np.array(pose[:2]), capture.angle_rad + pose[2])
    there = np.abs(capture.distance_m - distance) < 0.02
    return there & capture.usable_ring & (surface[hit] == Surface.GLASS)


@pytest.mark.parametrize("seed", range(3))
def test_readings_on_a_pane_are_told(seed):
    capture = taken(NEAR, seed)
    pane, firm = on_pane(capture, NEAR), solid(capture)
    walls = capture.usable_ring & ~pane & (capture.distance_m < 6.0)
    assert pane.sum() > 40 and (~firm)[pane].mean() > 0.7
    # Outliers of the simulation stand among the walls' readings, too.
    assert firm[walls].mean() > 0.98


def test_walls_edges_and_what_stands_in_a_room_are_solid():
    """A post of 0.4 m has something behind it on both sides, and hides that from its middle."""
    capture, hit = capture_of(np.concatenate([ROOM, POST]), NEAR[:2], rng=np.random.default_rng(3))
    firm = solid(capture)
    assert firm[hit < len(ROOM)].all() and (hit >= len(ROOM)).sum() > 50
    assert firm[hit >= len(ROOM)].all()


@pytest.mark.parametrize("seed", range(4))
def test_a_pane_says_little_against_the_true_pose_and_much_speaks_against_a_wrong_one(seed):
    views = [view_of(c, fit_faces(c)) for c in (taken(NEAR, seed), taken(BESIDE, seed + 1))]
    truth = between(np.array(NEAR), np.array(BESIDE))[None]
    told = sight_nats(*views, truth)[0]
    assert told > -3.0
    assert sight_nats(*views, truth + [[0.6, -0.4, 0.0]])[0] < -50.0
    # Were all readings taken for solid, the second would look through what the first measured.
    before = [replace(view, solid=np.ones_like(view.solid)) for view in views]
    assert sight_nats(*before, truth)[0] < told - 5.0


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from([5, 9, 40, 360]), st.booleans())
def test_what_is_past_on_both_sides_is_not_solid(seed, count, turned):
    """The same asked one by one."""
    rng = np.random.default_rng(seed)
    distance = rng.choice([2.0, 2.1, 5.0], count) + 0.01 * rng.random(count)
    distance[rng.random(count) < 0.1] = np.nan
    angle = np.arange(count) * (360.0 / count)
    order = rng.permutation(count) if turned else np.arange(count)
    firm = solid(ring_of(angle[order], distance[order], station="A"))
    back = np.flatnonzero(np.isfinite(distance))
    if len(back) < 2 * FEWEST_BESIDE + 1:
        assert firm.all()
        return
    step = np.median(np.diff(np.radians(angle[back])))
    beside = min(max(int(BESIDE_RAD / step), FEWEST_BESIDE), len(back) // 2)
    for place, k in enumerate(back):
        near = distance[back[np.arange(place - beside, place)]].max()
        after = distance[back[np.arange(place + 1, place + beside + 1) % len(back)]].max()
        assert firm[order == k][0] == (min(near, after) <= distance[k] + BEHIND_M)
    assert firm[~np.isfinite(distance[order])].all()
