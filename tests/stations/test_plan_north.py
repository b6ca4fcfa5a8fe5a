# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.plan_north import (
    building_axis_rad,
    nearest_axis_rad,
    plan_north_rad,
)
from simulated import capture_of, loop
from surveyed import POSES, faces_of, survey


def test_the_axis_is_that_of_the_walls():
    faces = faces_of(survey(seed=7))
    for turn in (0.0, 0.4, 1.5, -2.0):
        axis = building_axis_rad(faces, POSES[:, 2] + turn)
        off = (axis - turn + np.pi / 4) % (np.pi / 2) - np.pi / 4
        assert abs(off) < np.radians(0.02)


def test_an_oblique_wing_does_not_turn_the_axis():
    """A plan with a side 3.7 degrees out of square: a mean would be off by a degree."""
    slope = np.tan(np.radians(3.7))
    walls = loop([(0, 0), (8, 0), (8, 5), (4, 5), (0, 5 + 4 * slope)])
    capture, _ = capture_of(walls, (3, 2), 0.0, rng=np.random.default_rng(1))
    axis = building_axis_rad([fit_faces(capture)], np.zeros(1))
    off = (axis + np.pi / 4) % (np.pi / 2) - np.pi / 4
    assert abs(off) < np.radians(0.2)


@given(st.floats(0, np.pi / 2), st.floats(-10, 10))
def test_the_nearest_axis_is_within_45_degrees(axis, azimuth):
    found = nearest_axis_rad(axis, azimuth)
    assert abs(found - azimuth) <= np.pi / 4 + 1e-9
    quarter = (found - axis) / (np.pi / 2)
    assert quarter == pytest.approx(round(quarter), abs=1e-6)


def test_north_by_compass_and_without():
    # The frame's +y has magnetic azimuth 100: magnetic north lies at -100 in it.
    assert plan_north_rad(0.0, np.radians(100.0), 0.0) == pytest.approx(-np.pi / 2)
    assert plan_north_rad(np.radians(5), None, np.radians(80)) == pytest.approx(np.radians(95))
    assert plan_north_rad(None, None, 0.3) == pytest.approx(0.3)


def test_no_faces_no_axis():
    assert building_axis_rad([no_faces(10)], np.zeros(1)) is None
    assert building_axis_rad([], np.zeros(0)) is None
