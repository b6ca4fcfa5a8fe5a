# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest
from dirty_flats import alike_rooms, dirty_survey
from roomtie.processing.errors import Cancelled
from roomtie.processing.progress import Progress
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_groups import Groups, compass_of
from roomtie.processing.stations.connect_readings import ALIKE, ReadingsConnector
from roomtie.processing.stations.overlap_field import field_of, refined, verdict
from roomtie.processing.stations.target_surfaces import surfaces_of
from roomtie.processing.stations.targets import sightings_of
from simulated import loop


def connector_of(survey):
    sightings = sightings_of(survey)
    groups = Groups.apart(
        survey.names,
        sightings,
        surfaces_of(survey, sightings.name),
        compass_of(survey.captures, True),
    )
    fields = [field_of(capture) for capture in survey.captures]
    return ReadingsConnector(fields, groups, np.zeros(len(survey), dtype=np.int64))


ROOM = loop(
    [(0, 0), (4.2, 0), (4.2, 2.1), (5.9, 2.1), (5.9, 5.2), (1.1, 5.2), (1.1, 3.4), (0, 3.4)]
)


def test_refined_poses_come_back_to_the_truth():
    taken, true = dirty_survey(ROOM, [(1.6, 1.4), (4.1, 4.1)], seed=3)
    first, second = (field_of(capture) for capture in taken.captures)
    expected = between(true[0], true[1])
    start = expected + np.array([[0.10, -0.08, 0.04]])
    pose, matrix = refined(first, second, start, (0.15, 0.10, 0.07, 0.07))
    shift, turn = apart(pose[0], expected)
    # Walls are off by 4 cm each and the scales by 1 %: 6 cm over some metres in common.
    assert shift < 0.12 and turn < np.radians(2.0)
    assert (np.linalg.eigvalsh(matrix[0]) > 0).all()
    there, away = verdict(
        first, second, np.stack([pose[0], start[0] + (0.9, 0.0, 0.0)]), 0.07
    ).score_m
    assert there > 2.0 and away < 0.5 * there


def test_rooms_that_look_the_same_are_not_joined():
    taken, _ = dirty_survey(*alike_rooms(), seed=1)
    connector = connector_of(taken)
    assert connector.join() == []
    assert set(connector.groups.group) == set(range(4))
    assert connector.relative_poses() == []
    assert {reason for *_, reason in connector.undecided()} == {ALIKE}


def test_cancelling_stops_the_search():
    taken, _ = dirty_survey(*alike_rooms(), seed=2)
    calls = iter(range(100))
    with pytest.raises(Cancelled):
        connector_of(taken).join(Progress(cancelled=lambda: next(calls) > 5))
