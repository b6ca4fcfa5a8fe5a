# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations.connect_frames import between, inverse
from roomtie.processing.stations.connect_sight import MOST_FOR, sight_nats
from roomtie.processing.stations.overlap import view_of
from surveyed import POSES, faces_of, survey


@pytest.fixture(scope="module")
def views():
    taken = survey(seed=71)
    return [view_of(c, f) for c, f in zip(taken.captures, faces_of(taken))]


def test_captures_of_one_room_speak_for_their_true_pose(views):
    truth = between(POSES[2], POSES[3])[None]
    nats = sight_nats(views[2], views[3], truth)[0]
    assert 2.0 < nats <= MOST_FOR
    # It does not matter which of the two is asked first.
    assert sight_nats(views[3], views[2], inverse(truth))[0] == pytest.approx(nats)


def test_a_wrong_pose_is_looked_through(views):
    truth = between(POSES[2], POSES[3])[None]
    wrong = truth + [[1.0, 0.5, 0.0], [0.0, 0.0, 0.5], [-0.6, 0.0, 0.0]]
    assert (sight_nats(views[2], views[3], wrong) < -5.0).all()


def test_captures_that_see_nothing_of_each_other_say_nothing(views):
    far = np.array([[80.0, 0.0, 0.0], [0.0, -90.0, 1.0]])
    assert np.array_equal(sight_nats(views[2], views[3], far), [0.0, 0.0])
