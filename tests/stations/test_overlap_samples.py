# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.overlap import agreement, view_of
from roomtie.processing.stations.overlap_samples import CLOSED_M, samples_of
from simulated import capture_of, loop

HALL = (1.0, 1.0, 0.3)


def hall(door):
    """A hall and a room beyond its long wall, joined by a doorway 0.9 m wide at `door`."""
    return loop(
        [
            (0, 0), (16, 0), (16, 2), (door + 0.9, 2), (door + 0.9, 2.2), (door + 3, 2.2),
            (door + 3, 5), (door - 2, 5), (door - 2, 2.2), (door, 2.2), (door, 2), (0, 2),
        ]
    )  # fmt: skip


def taken(pose, walls, seed=0, readings=1600):
    rng = np.random.default_rng(seed)
    capture, _ = capture_of(walls, pose[:2], pose[2], rng=rng, readings=readings)
    return capture, fit_faces(capture)


def placed(samples, pose):
    """The samples in the plan."""
    s, c = np.sin(pose[2]), np.cos(pose[2])
    return samples.point_m @ np.array([[c, -s], [s, c]]) + pose[:2]


def test_a_face_that_goes_on_past_a_far_door_was_not_seen_there():
    capture, faces = taken(HALL, hall(11.0))
    samples = samples_of(faces, capture.xy_m)
    at = placed(samples, HALL)
    wall = np.abs(at[:, 1] - 2.0) < 0.02
    opening = wall & (at[:, 0] > 11.0) & (at[:, 0] < 11.9)
    assert opening.any() and not samples.seen[opening].any()
    # What lies near enough to be read densely was seen.
    assert samples.seen[np.hypot(*samples.point_m.T) < 5.0].mean() > 0.9


def test_looking_through_a_door_says_nothing_against_the_wall_it_is_in():
    """The station in the room looks through the doorway, past which a face of the hall goes on."""
    walls, room = hall(11.0), (11.4, 3.6, -1.2)
    first, second = (view_of(*taken(pose, walls, k)) for k, pose in enumerate((HALL, room)))
    assert agreement(first, second, between(HALL, room)[None], 0.015, 0.07).through_m[0] < 0.05


@settings(max_examples=25, deadline=None)
@given(st.floats(2.5, 12.0), st.sampled_from([200, 400, 1600]), st.integers(0, 5))
def test_what_was_seen_lies_between_readings(door, readings, seed):
    """The same asked one by one."""
    capture, faces = taken(HALL, hall(door), seed, readings)
    samples = samples_of(faces, capture.xy_m)
    assert np.allclose(np.bincount(samples.face, samples.length_m), faces.length_m)
    for k in range(len(samples.face)):
        f = samples.face[k]
        own = capture.xy_m[faces.face_of_reading == f] - faces.centre_m[f]
        at = np.sort(own @ faces.direction[f])
        here = float((samples.point_m[k] - faces.centre_m[f]) @ faces.direction[f])
        before, after = at[at < here], at[at >= here]
        seen = len(before) and len(after) and after[0] - before[-1] <= CLOSED_M
        assert bool(seen) == samples.seen[k]


def test_no_faces_have_no_samples():
    samples = samples_of(no_faces(5), np.zeros((5, 2)))
    assert len(samples.face) == len(samples.seen) == 0
