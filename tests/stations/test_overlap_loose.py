# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import between, composed, inverse, moved
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.overlap_loose import inverse_jacobian, loose_equations
from scipy.optimize import least_squares
from surveyed import POSES, survey


@pytest.fixture(scope="module")
def captured():
    taken = survey(seed=2, poses=POSES[2:4], sighted={})
    return taken.captures, [fit_faces(capture) for capture in taken.captures]


def test_the_derivative_of_the_inverse_is_that_of_differences():
    pose = np.array([[1.0, 2.0, 0.7], [-3.0, 0.5, -2.1]])
    exact = inverse_jacobian(pose, inverse(pose))
    for column, step in enumerate(1e-6 * np.eye(3)):
        numeric = (inverse(pose + step) - inverse(pose - step)) / 2e-6
        assert np.abs(exact[:, :, column] - numeric).max() < 1e-7


def test_readings_alone_reach_the_least_squares_pose(captured):
    """All readings of one capture taken as loose: their steps end where scipy's point-to-line fit
    of the same readings does."""
    captures, (first, second) = captured
    truth = between(*POSES[2:4])
    points = captures[1].xy_m[second.face_of_reading >= 0][::5]
    pose = truth[None] + [[0.004, -0.003, 0.001]]
    none = np.empty((0, 2))
    for _ in range(8):
        matrix, push = loose_equations(first, second, (none, points), pose, 0.03, (2e-3, 2e-3))
        pose = pose + np.linalg.solve(matrix, push[..., None])[..., 0]
    at = moved(pose[0], points)
    across = np.einsum("fj,nfj->nf", first.normal, at[:, None] - first.centre_m)
    t = np.einsum("fj,nfj->nf", first.direction, at[:, None] - first.centre_m)
    inside = (t > first.span_m[:, 0]) & (t < first.span_m[:, 1])
    station = np.einsum("fj,fj->f", first.normal, pose[0, :2] - first.centre_m) > 0
    away = np.where(inside & station, np.abs(across), np.inf)
    near = away.min(axis=1) < 0.006
    face = away.argmin(axis=1)[near]

    def residual(p):
        off = moved(p, points[near]) - first.centre_m[face]
        return np.einsum("ij,ij->i", first.normal[face], off) / 0.002

    reference = least_squares(residual, truth).x
    # scipy's fit neither weights the faces' own errors nor takes large residuals down.
    assert np.abs(pose[0] - reference)[:2].max() < 0.002
    assert abs(pose[0, 2] - reference[2]) < 3e-4
    assert np.abs(composed(inverse(truth), pose[0]))[:2].max() < 0.003


def test_both_ways_say_the_same(captured):
    captures, (first, second) = captured
    truth = between(*POSES[2:4])[None]
    points = [c.xy_m[f.face_of_reading >= 0][::7] for c, f in zip(captures, (first, second))]
    none = np.empty((0, 2))
    start = truth + [[0.003, 0.002, -0.001]]
    steps = []
    for loose in ((points[0], none), (none, points[1])):
        matrix, push = loose_equations(first, second, loose, start, 0.03, (2e-3, 2e-3))
        steps.append(start[0] + np.linalg.solve(matrix[0], push[0]))
    assert np.abs(steps[0] - steps[1])[:2].max() < 0.003
    assert abs(steps[0][2] - steps[1][2]) < 5e-4


def test_mixed_readings_count_little(captured):
    """Readings 25 mm off the faces hardly move the pose that good ones give."""
    captures, (first, second) = captured
    truth = between(*POSES[2:4])[None]
    on = np.flatnonzero(second.face_of_reading >= 0)[::5]
    good = captures[1].xy_m[on]
    bad = good[::4] * (1 - 0.025 / np.hypot(*good[::4].T))[:, None]
    none = np.empty((0, 2))
    found = []
    for points in (good, np.concatenate([good, bad])):
        pose = truth
        for _ in range(4):
            matrix, push = loose_equations(first, second, (none, points), pose, 0.03, (2e-3, 2e-3))
            pose = pose + np.linalg.solve(matrix, push[..., None])[..., 0]
        found.append(pose[0])
    assert np.abs(found[0] - found[1])[:2].max() < 0.001


def test_loose_readings_are_those_on_no_face(captured):
    captures, faces = captured
    view = view_of(captures[0], faces[0])
    assert 0 < len(view.loose_m) < 0.2 * len(captures[0])
