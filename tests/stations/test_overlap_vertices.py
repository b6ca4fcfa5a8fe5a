# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import apart, between, moved
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.overlap_refine import refine, refine_faces
from roomtie.processing.stations.overlap_vertices import vertex_shifts, vertices_of
from simulated import loop
from surveyed import POSES, STOREY, faces_of, survey

GATES = ((0.15, 0.07), (0.08, 0.05), (0.04, 0.03), (0.04, 0.03))

DOORWAY = loop(
    [
        (0, 0), (6, 0), (6, 2), (3.5, 2), (3.5, 2.3), (9, 2.3), (9, 6), (-1, 6), (-1, 2.3),
        (2.6, 2.3), (2.6, 2), (0, 2),
    ]
)  # fmt: skip
"""A hall below, a room above, and a doorway 0.9 m wide through a wall of 0.3 m."""


def doorway_views(seed, poses):
    taken = survey(seed=seed, poses=poses, sighted={}, walls=DOORWAY, readings=1600)
    return [view_of(c, fit_faces(c)) for c in taken.captures]


def test_vertices_lie_at_the_corners_of_the_storey():
    taken = survey(seed=2)
    corners = STOREY[:, 0]
    seen = 0
    for pose, capture, faces in zip(POSES, taken.captures, faces_of(taken)):
        vertices = view_of(capture, faces).vertices
        at = moved(pose, vertices.point_m)
        off = np.hypot(*np.moveaxis(at[:, None] - corners, -1, 0)).min(axis=1)
        # An edge lies anywhere on its stretch, up to the root of three of its standard error.
        allowed = np.sqrt(3) * vertices.sigma_along_m + 4 * vertices.sigma_across_m + 0.004
        # Edges of single readings beside a corner may be elsewhere: outliers, rejected readings.
        assert (off < allowed).mean() > 0.85
        seen += int((off < allowed).sum())
    assert seen > 40


def test_no_faces_no_vertices():
    taken = survey(seed=2)
    none = no_faces(len(taken.captures[0]))
    assert len(vertices_of(none, taken.captures[0].angle_rad, none.face_of_reading)) == 0


@pytest.mark.parametrize("seed", range(4))
def test_jambs_fix_the_shift_along_a_wall(seed):
    """Neither station sees a jamb's face that the other sees: they share faces across the doorway
    only, and what fixes the shift along the wall is where the jambs end."""
    poses = np.array([(2.5, 0.6, 0.4), (3.6, 4.4, -2.2)])
    first, second = doorway_views(seed, poses)
    truth = between(*poses)
    start = truth + [0.05, -0.04, 0.01]
    bare = refine_faces(first.faces, second.faces, start[None], GATES)
    found = refine(first, second, start[None], GATES)
    shift, turn = apart(found.pose[0], truth)
    assert shift < 0.02 and turn < np.radians(0.1)
    assert np.sqrt(np.linalg.eigvalsh(bare.covariance[0][:2, :2])[1]) > 0.05
    assert np.sqrt(np.linalg.eigvalsh(found.covariance[0][:2, :2])[1]) < 0.01


def test_both_sides_of_a_jamb_ask_for_the_true_shift():
    poses = np.array([(2.5, 0.6, 0.4), (3.6, 4.4, -2.2)])
    first, second = doorway_views(7, poses)
    truth = between(*poses)
    shifts, votes = vertex_shifts(first.vertices, second.vertices, float(truth[2]), 0.07)
    assert len(shifts) == len(votes)
    assert np.hypot(*(shifts - truth[:2]).T).min() < 0.02
