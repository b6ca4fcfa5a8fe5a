# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import shapely
from closed_rooms import SHARE, with_closed_rooms
from roomtie.processing.stations.connect_frames import moved
from simulated_buildings import simulated_building


def test_nobody_outside_sees_into_a_closed_room_and_its_own_captures_see_all():
    survey, truth = simulated_building(700, rooms=8)
    closed = with_closed_rooms(survey, truth, 700)
    (plan,) = truth.storeys
    rooms = plan.rooms[: len(plan.rooms) - plan.halls]
    seen = np.zeros((len(rooms), 2), dtype=int)
    for which, taken in enumerate((survey, closed)):
        for capture, pose, own in zip(taken.captures, truth.pose, truth.room):
            at = moved(pose, capture.xy_m[capture.usable_ring])
            for k, room in enumerate(rooms):
                if own != k:
                    inside = room.buffer(-0.1)
                    seen[k, which] += shapely.contains_xy(inside, at[:, 0], at[:, 1]).sum()
    shut = (seen[:, 1] == 0) & (seen[:, 0] > 0)
    assert 1 <= shut.sum() <= round(SHARE * len(rooms))
    assert (seen[~shut, 1] == seen[~shut, 0]).all()
    lost = [
        (was.usable_ring & ~now.usable_ring).any()
        for was, now in zip(survey.captures, closed.captures)
    ]
    assert any(lost) and not all(lost)
