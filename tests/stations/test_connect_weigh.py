# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.face_model import Faces
from roomtie.processing.stations.connect_frames import apart, between
from roomtie.processing.stations.connect_weigh import (
    misfit,
    refined,
    wall_nats,
    walls_of,
)
from simulated import capture_of, loop
from surveyed import POSES, faces_of, survey

ALONE = np.zeros((1, 3))


@pytest.fixture(scope="module")
def faces():
    return faces_of(survey(seed=71))


def room(off_m, seed, stand=(1.2, 1.4), turn=0.4):
    """The walls of an L-shaped room of which two are built `off_m` elsewhere, as one capture sees
    them."""
    corners = [(0, 0), (5 + off_m, 0), (5 + off_m, 2), (3, 2), (3, 4 + off_m), (0, 4 + off_m)]
    capture, _ = capture_of(loop(corners), stand, turn, rng=np.random.default_rng(seed))
    from roomtie.processing.captures.faces import fit_faces

    return walls_of([fit_faces(capture)], ALONE)


def test_the_true_pose_has_evidence(faces):
    truth = between(POSES[2], POSES[3])[None]
    one, two = walls_of([faces[2]], ALONE), walls_of([faces[3]], ALONE)
    pose, covariance = refined(one, two, truth + [[0.01, -0.01, 0.002]])
    shift, turn = apart(pose[0], truth[0])
    assert shift < 0.003 and turn < np.radians(0.05)
    assert np.sqrt(covariance[0, 0, 0]) < 0.005
    nats, walls = wall_nats(one, two, pose)
    assert nats[0] > 10 and walls[0] >= 4
    assert misfit(one, two, pose[0]) < 1.5


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_room_built_alike_is_told_from_the_same_room(seed):
    """Two rooms whose walls stand 12 mm elsewhere: their best fit has less evidence than that of
    two captures of one room, by several nats."""
    here = room(0.0, seed)
    again, alike = room(0.0, seed + 10, (2.0, 1.2), -1.0), room(0.012, seed + 20, (2.0, 1.2), -1.0)
    start = between((1.2, 1.4, 0.4), (2.0, 1.2, -1.0))[None]
    evidence = []
    for other in (again, alike):
        pose, _ = refined(here, other, start)
        evidence.append(float(wall_nats(here, other, pose)[0][0]))
    assert evidence[0] > 12.0
    assert evidence[0] > evidence[1] + 4.0


def test_a_wall_that_lies_badly_is_not_excused_by_a_piece_beside_it():
    """A wall 9 mm out of place speaks against the pose, also where a short piece fits as well as
    its uncertain direction lets it."""

    def wall(offset_m, length_m, sigma_rad, sigma_m=1e-3):
        half = length_m / 2
        return Faces(
            centre_m=np.array([[0.0, 2.0 + offset_m]]),
            normal_rad=np.array([np.pi]),
            sigma_normal_rad=np.array([sigma_rad]),
            sigma_offset_m=np.array([sigma_m]),
            span_m=np.array([[-half, half]]),
            end=np.zeros((1, 2), dtype=np.int64),
            readings=np.array([100]),
            rms_m=np.array([2e-3]),
            face_of_reading=np.empty(0, dtype=np.int64),
            line_of_reading=np.empty(0, dtype=np.int64),
        )

    there = walls_of([wall(0.0, 2.0, 3e-4)], ALONE)
    off = wall(0.009, 1.5, 3e-4)
    alone = wall_nats(walls_of([off], ALONE), there, ALONE)[0][0]
    assert alone == -4.0
    piece = wall(-0.006, 0.2, np.radians(0.8), 0.005)
    beside = walls_of([off, piece], np.zeros((2, 3)))
    assert beside.lines == 2
    assert wall_nats(beside, there, ALONE)[0][0] == alone
    assert wall_nats(walls_of([piece], ALONE), there, ALONE)[0][0] > 0.0


def test_a_wall_counts_once_however_many_captures_see_it(faces):
    once = walls_of([faces[2]], ALONE)
    thrice = walls_of([faces[2]] * 3, np.zeros((3, 3)))
    assert thrice.lines == once.lines
    other = walls_of([faces[3]], ALONE)
    pose = between(POSES[2], POSES[3])[None]
    assert wall_nats(thrice, other, pose)[0] == pytest.approx(wall_nats(once, other, pose)[0])


def test_rough_walls_tell_less(faces):
    one, two = walls_of([faces[2]], ALONE), walls_of([faces[3]], ALONE)
    pose = between(POSES[2], POSES[3])[None]
    assert wall_nats(one, two, pose, 3.0)[0] < wall_nats(one, two, pose)[0]
