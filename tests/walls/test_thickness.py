# SPDX-License-Identifier: GPL-2.0-or-later
"""Thickness of walls whose two faces were seen."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.thickness import wall_thicknesses
from simulated_rooms import network_of, storey, survey_of
from simulated_rooms import walls_of as measured_walls
from simulated_walls import walls_of


def test_two_faces_of_a_wall_give_its_thickness_once():
    # 0.24 m between the faces, whose free sides lie right of start to end: above and below
    walls = walls_of([[(4, 0), (0, 0)], [(1, -0.24), (6, -0.24)]], sigma_offset_m=0.001)
    found = wall_thicknesses(walls)
    assert found.faces.tolist() in ([[0, 1]], [[1, 0]])
    assert found.thickness_m == pytest.approx([0.24])
    assert found.common_m == pytest.approx([3.0])
    least = np.hypot(0.001, 0.001)
    assert least <= found.sigma_m[0] < 3 * least


@pytest.mark.parametrize(
    "second",
    [
        [(0, -0.24), (4, -0.24)][::-1],
        [(4, 1.2), (0, 1.2)],
        [(5, -0.24), (8, -0.24)],
        [(0, -1.3), (4, -1.3)],
        [(0, -0.24), (4, -0.9)],
    ],
    ids=["looks the same way", "free space between", "past each other", "two walls", "aslant"],
)
def test_what_is_no_wall_of_two_faces(second):
    assert len(wall_thicknesses(walls_of([[(4, 0), (0, 0)], second])).faces) == 0
    assert len(wall_thicknesses(walls_of(np.empty((0, 2, 2)))).faces) == 0


def test_thicknesses_of_simulated_storeys_lie_within_their_errors():
    off = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        plan = storey(rng, 2, 2)
        survey, orientation = survey_of(plan, rng)
        network = network_of(survey, plan.stations_m, orientation)
        found = wall_thicknesses(measured_walls(survey, network))
        truth = np.array([door.thickness_m for door in plan.doors])
        assert len(found.faces) >= 4
        gap = found.thickness_m[:, None] - truth
        nearest = np.abs(gap).argmin(axis=1)
        off += (gap[np.arange(len(gap)), nearest] / found.sigma_m).tolist()
    # 24 and more, of which one in twenty may lie beyond
    assert np.mean(np.abs(off) < 1.96) > 0.85
    assert np.median(np.abs(off)) < 1.5
