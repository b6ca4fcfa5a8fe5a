# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations.axes import _length_within, axes_of, quarter

ANGLES = st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=40)


@given(ANGLES, st.floats(0.001, 0.5))
def test_the_length_near_each_direction_is_that_of_all_pairs(angles, reach):
    angle = np.array(angles)
    length = 0.5 + np.arange(len(angle)) % 7
    away = np.abs(quarter(angle[:, None] - angle))
    found = _length_within(angle, length, reach)
    # Rounding decides about what lies at the very limit, a few 1e-15 rad off.
    least = ((away < reach - 1e-12) * length).sum(axis=1)
    most = ((away < reach + 1e-12) * length).sum(axis=1)
    assert (found >= least - 1e-9).all() and (found <= most + 1e-9).all()


def test_most_length_decides_across_the_cut():
    """Directions to both sides of 45 degrees, where quarter turns begin anew, are near."""
    square = np.radians([44.8, 45.2, 135.3, -45.1])
    others = np.radians([10.0, 10.5, 20.0])
    angle = np.concatenate([others, square])
    found = axes_of(angle, np.full(7, 2.0), np.full(7, 1e-3))
    assert abs(quarter(found.azimuth_rad - np.radians(45.0))) < np.radians(0.2)
    assert (found.weight[:3] == 0).all() and (found.weight[3:] > 0).all()
