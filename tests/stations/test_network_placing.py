# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups that nothing connects, drawn apart."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations.network_placing import CLEARANCE_M, clear_shift


def meets(box, other, shift):
    low, high = box[:2] + shift, box[2:] + shift
    return bool(((low < other[2:] + CLEARANCE_M) & (high > other[:2] - CLEARANCE_M)).all())


side = st.floats(0.5, 20.0)
place = st.floats(-40.0, 40.0).map(lambda value: round(value, 1))
boxes = st.builds(
    lambda x, y, wide, high: np.array([x, y, x + wide, y + high]), place, place, side, side
)
directions = st.sampled_from([0.0, 0.5, np.pi / 2, np.pi, 4.0, -np.pi / 2]).map(
    lambda angle: np.round([np.cos(angle), np.sin(angle)], 12)
)


@given(boxes, st.lists(boxes, max_size=12), st.tuples(place, place), directions)
def test_the_least_shift_that_meets_nothing(box, others, wanted, away):
    wanted = np.array(wanted)
    shift = clear_shift({0: box}, [{0: other} for other in others], wanted, away)
    distance = float((shift - wanted) @ away)
    assert np.allclose(shift, wanted + distance * away, atol=1e-9)
    assert distance >= 0.0
    assert not any(meets(box, other, shift) for other in others)
    # Nearer there is no room.
    for nearer in np.arange(0.0, distance - 1e-3, 0.016):
        assert any(meets(box, other, wanted + nearer * away) for other in others)


def test_other_storeys_do_not_matter():
    box = np.array([0.0, 0.0, 4.0, 3.0])
    shift = clear_shift({1: box}, [{0: box}, {2: box}], np.zeros(2), np.array([1.0, 0.0]))
    assert shift.tolist() == [0.0, 0.0]
    shift = clear_shift({1: box, 2: box}, [{2: box}], np.zeros(2), np.array([0.0, -1.0]))
    assert np.allclose(shift, [0.0, -(3.0 + CLEARANCE_M)], atol=1e-5)
