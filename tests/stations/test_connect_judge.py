# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.connect_groups import Compass
from roomtie.processing.stations.connect_judge import (
    BENT_RAD,
    BENT_SIGMAS,
    MOST_BENT_RAD,
    compass_objection,
)
from surveyed import POSES, prepared, survey


def groups_with(bent_deg, sigma_deg):
    """Two captures with compasses, the second bent."""
    groups, _, _ = prepared(survey(seed=33, sighted={}, readings=100))
    bearing, sigma = np.full((2, len(POSES)), np.nan)
    bearing[:2] = POSES[:2, 2] + np.radians([9.0, 9.0 + bent_deg])
    sigma[:2] = np.radians(sigma_deg)
    groups.compass = Compass(bearing, sigma)
    return groups


@pytest.mark.parametrize("sigma_deg", [0.5, 3.0, 10.0])
def test_steel_bends_a_compass_so_far_and_its_own_error_comes_on_top(sigma_deg):
    own = np.sqrt(2.0) * sigma_deg
    limit = min(np.degrees(BENT_RAD) + BENT_SIGMAS * own, np.degrees(MOST_BENT_RAD))
    pose = between(POSES[0], POSES[1])
    for side in (-1, 1):
        assert compass_objection(groups_with(side * (limit - 0.5), sigma_deg), 0, 1, pose) == ""
        told = compass_objection(groups_with(side * (limit + 0.6), sigma_deg), 0, 1, pose)
        assert told == f"the compasses differ from it by {limit + 0.6:.0f} deg"


def test_a_right_angle_is_never_steel_however_vague_the_compasses():
    groups = groups_with(90.0, 40.0)
    assert "differ from it by 90 deg" in compass_objection(
        groups, 0, 1, between(POSES[0], POSES[1])
    )


def test_without_a_compass_nothing_is_said():
    assert compass_objection(groups_with(0.0, 3.0), 0, 2, np.zeros(3)) == ""
