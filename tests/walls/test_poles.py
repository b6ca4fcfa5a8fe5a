# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.walls.faces import find_walls
from roomtie.processing.walls.poles import poles
from simulated import capture_of, loop
from simulated_walls import network_of

ROOM = loop([(0, 0), (4, 0), (4, 3), (0, 3)])


def box(x, y, w, h):
    return loop([(x, y), (x, y + h), (x + w, y + h), (x + w, y)])


def seen(*things, stand=(1.0, 1.0)):
    segments = np.concatenate([ROOM, *things])
    capture, hit = capture_of(segments, stand, rng=np.random.default_rng(1), readings=2400)
    return capture, hit


def hit_by(capture, hit, mask):
    faces = fit_faces(capture)
    result = set()
    for k in np.flatnonzero(mask):
        result.add(int(np.bincount(hit[faces.face_of_reading == k]).argmax()))
    return result


@pytest.mark.parametrize("place", [(1.9, 1.7), (2.2, 0.97), (0.5, 1.8)])
def test_a_leg_is_a_pole_with_both_sides_that_are_seen(place):
    capture, hit = seen(box(*place, 0.08, 0.08))
    small = poles(fit_faces(capture))
    assert hit_by(capture, hit, small) <= {4, 5, 6, 7}
    assert small.any()
    assert hit_by(capture, hit, ~small) == {0, 1, 2, 3}


def test_a_pillar_is_none():
    capture, hit = seen(box(1.9, 1.7, 0.25, 0.25))
    assert not poles(fit_faces(capture)).any()
    assert len(hit_by(capture, hit, np.ones(len(fit_faces(capture)), dtype=bool))) == 6


def test_the_end_of_a_thin_wall_is_none():
    capture, _ = seen(box(2.0, 1.2, 2.0, 0.08))
    assert not poles(fit_faces(capture)).any()


def test_a_capture_without_faces_has_no_poles():
    assert len(poles(no_faces(10))) == 0


def test_readings_on_a_leg_are_clutter_and_nothing_else_is():
    capture, hit = seen(box(1.9, 1.7, 0.08, 0.08))
    survey = Survey((capture,))
    walls, flagged = find_walls(
        survey, [fit_faces(capture)], network_of(["A"], [(1.0, 1.0)], [0.0])
    )
    assert len(walls) == 4  # the walls go on behind the leg
    clutter = flagged.captures[0].flag == Flag.CLUTTER
    assert clutter.sum() > 20
    assert (hit[clutter] >= 4).all()
    assert (flagged.captures[0].flag[~clutter] == capture.flag[~clutter]).all()
