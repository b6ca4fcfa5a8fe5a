# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.walls.corners import closed
from simulated_walls import walls_of


def test_ends_near_their_intersection_are_drawn_to_it():
    drawn = closed(walls_of([[(0, 0.03), (0, 2)], [(0.04, 2.02), (3, 2.02)]]))
    np.testing.assert_allclose(drawn[0], [(0, 0.03), (0, 2.02)], atol=1e-12)
    np.testing.assert_allclose(drawn[1], [(0, 2.02), (3, 2.02)], atol=1e-12)
    assert (drawn[0, 1] == drawn[1, 0]).all()


def test_what_runs_over_a_corner_is_cut_back():
    drawn = closed(walls_of([[(0, 0), (0, 2.05)], [(-0.04, 2), (3, 2)]]))
    assert drawn[0, 1] == pytest.approx((0, 2))
    assert drawn[1, 0] == pytest.approx((0, 2))


def test_the_nearest_ends_join_and_each_only_once():
    # Two partition faces 6 cm apart run against one wall.
    drawn = closed(
        walls_of([[(0, 0), (2, 0)], [(2.01, 0.01), (2.01, 2)], [(2.07, 2), (2.07, 0.02)]])
    )
    assert drawn[0, 1] == pytest.approx((2.01, 0))
    assert drawn[1, 0] == pytest.approx((2.01, 0))
    assert drawn[2, 1] == pytest.approx((2.07, 0.02))


def test_a_face_that_runs_against_another_is_drawn_to_it():
    from_free_side = walls_of([[(2, 0), (-2, 0)], [(0, 2), (0, 0.04)]])
    assert from_free_side.normal[0] == pytest.approx((0, 1))
    assert closed(from_free_side)[1, 1] == pytest.approx((0, 0))
    from_behind = walls_of([[(-2, 0), (2, 0)], [(0, 2), (0, 0.04)]])
    assert closed(from_behind)[1, 1] == pytest.approx((0, 0.04))


def test_far_ends_parallel_faces_and_other_levels_stay():
    for walls in (
        walls_of([[(0, 0), (0, 2)], [(0.2, 2.2), (3, 2.2)]]),
        walls_of([[(0, 0), (2, 0)], [(2.01, 0.001), (4, 0.001)]]),
        walls_of([[(0, 0), (0, 2)], [(0.04, 2.02), (3, 2.02)]], level=[0, 1]),
        walls_of([[(0, 0), (0, 2)], [(0.04, 2.02), (3, 2.02)]], network=[1, 2]),
    ):
        np.testing.assert_allclose(closed(walls), walls.drawn_m, atol=1e-12)


def test_no_face_is_turned_or_moved():
    rng = np.random.default_rng(0)
    for _ in range(50):
        start = rng.uniform(0, 2, (12, 2))
        walls = walls_of(np.stack([start, start + rng.normal(0, 1, (12, 2))], axis=1))
        drawn = closed(walls)
        off = np.einsum("iej,ij->ie", drawn - walls.centre_m[:, None], walls.normal)
        assert np.abs(off).max() < 1e-9
        assert np.hypot(*(drawn - walls.drawn_m).reshape(-1, 2).T).max() <= 0.1 + 1e-9
