# SPDX-License-Identifier: GPL-2.0-or-later
"""Identifiers are UUIDs of version 5 (RFC 9562) that depend on the survey and the room alone."""

import uuid

import numpy as np
from roomtie.processing.captures.model import Survey
from roomtie.processing.walls.identity import identify, room_key, room_names, survey_space
from shapely.geometry import box
from simulated import capture_of, loop


def test_survey_space_is_that_of_the_readings():
    walls = loop([(-2, -2), (2, -2), (2, 2), (-2, 2)])
    a, _ = capture_of(walls, (0.0, 0.0), station="A")
    b, _ = capture_of(walls, (0.5, 0.0), station="B")
    assert survey_space(Survey((a, b))) == survey_space(Survey((b, a)))
    assert survey_space(Survey((a, b))) != survey_space(Survey((a,)))
    other, _ = capture_of(walls, (0.5, 0.1), station="B")
    assert survey_space(Survey((a, b))) != survey_space(Survey((a, other)))


def test_identifiers_are_uuids_and_differ():
    space = uuid.UUID("12345678-1234-5678-1234-567812345678")
    ids = identify(space, ["room a", "room b", "room a"])
    assert len(set(ids)) == 3
    assert all(uuid.UUID(i).version == 5 for i in ids)
    assert ids[0] == str(uuid.uuid5(space, "room a"))
    assert identify(space, ["room b"])[0] == ids[1]


def test_a_room_without_station_keeps_its_key_when_it_moves_by_a_tolerance():
    station = np.zeros(2)
    keys = {
        room_key(box(3 + d, 1.3, 6 + d, 4), (), 0, "S1", station) for d in (0.0, 0.02, -0.02, 0.05)
    }
    assert len(keys) == 1
    assert room_key(box(-6, 1, -3, 4), (), 0, "S1", station) not in keys
    north = {room_key(box(d - 1, 2, d + 1, 4), (), 0, "S1", station) for d in (-0.02, 0.0, 0.02)}
    assert len(north) == 1
    inside = room_key(box(0, 0, 1, 1), ("B", "A"), 0, "S1", station)
    assert inside == room_key(box(5, 5, 9, 9), ("A", "B"), 0, "S9", station)


def test_names_number_each_level_from_the_top_left():
    centre = np.array([(0.0, 0.1), (5.0, 0.0), (1.0, 8.0), (0.0, 0.0)])
    order, names = room_names([0, 0, 0, -1], [1, 1, 1, 1], centre)
    assert order == [3, 2, 1, 0] or order == [3, 2, 0, 1]
    assert names == ("-1.01", "0.01", "0.02", "0.03")
