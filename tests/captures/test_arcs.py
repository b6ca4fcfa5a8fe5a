# SPDX-License-Identifier: GPL-2.0-or-later
"""Arcs are found where they are, with a radius whose standard error is true, and nowhere else."""

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.arcs import find_arcs, without_arcs
from roomtie.processing.captures.circles import algebraic_circle, fit_circle
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.faces_fit import noise_of
from scipy.optimize import least_squares
from simulated import capture_of

sys.path.append(str(Path(__file__).resolve().parents[1] / "walls"))
from simulated_curves import APSE, BAY, COLUMN, RECTANGLE, ROUND, arc, capture, ring


def arcs_of(segments, station, rng):
    seen = capture(segments, station, rng)
    return find_arcs(seen, fit_faces(seen))


@pytest.mark.parametrize(
    ("segments", "station", "radius", "hollow"),
    [
        (ring(ROUND), (0.7, 0.4), 3.0, True),
        (ring(ROUND), (0.0, 0.0), 3.0, True),
        (ring(BAY), (3.0, 2.0), 1.5, True),
        (ring(APSE), (2.5, 1.2), 2.5, True),
        (np.concatenate([ring(RECTANGLE), ring(COLUMN)]), (2.0, 1.5), 0.3, False),
    ],
    ids=["round room", "from its centre", "bay", "apse", "column"],
)
def test_the_radius_lies_within_its_stated_error(segments, station, radius, hollow):
    """95 % of 60 fixed draws of each: between 0.86 and all, where chance leaves one in a
    thousand outside; the root mean square of the standardised errors between 0.75 and 1.3."""
    rng = np.random.default_rng(7)
    standardised = []
    for _ in range(60):
        arcs = arcs_of(segments, np.asarray(station) + rng.uniform(-0.2, 0.2, 2), rng)
        assert len(arcs) == 1
        assert bool(arcs.hollow[0]) is hollow
        circle = arcs.circle[0]
        standardised.append((circle.radius_m - radius) / np.sqrt(circle.covariance[2, 2]))
    standardised = np.array(standardised)
    assert np.mean(np.abs(standardised) < 1.96) >= 0.86
    assert 0.75 < np.sqrt(np.mean(standardised**2)) < 1.3


@pytest.mark.parametrize(
    "outline",
    [
        RECTANGLE,
        [(0, 0), (0, 5), *arc((3.5, -620.0), 625.0, -0.0056, 0.0056, 100), (7, 5), (7, 0)],
        [(3 * np.sin(t), 2 * np.cos(t)) for t in np.linspace(0, 2 * np.pi, 2000)[:-1]],
        [(0, 0), (0, 3), (1, 4), (3, 4), (4, 3), (4, 0)],
        [(np.sin(t) * 3, np.cos(t) * 3) for t in np.arange(8) * np.pi / 4],
    ],
    ids=["rectangle", "bowed by 10 mm", "ellipse", "cut corners", "octagon"],
)
def test_what_is_no_circle_stays_as_it_is(outline):
    rng = np.random.default_rng(3)
    middle = np.mean(np.asarray(outline), axis=0)
    for _ in range(10):
        assert len(arcs_of(ring(outline), middle + rng.uniform(-0.5, 0.5, 2), rng)) == 0


def test_faces_of_an_arc_are_no_walls_of_their_own():
    rng = np.random.default_rng(1)
    seen = capture(ring(BAY), (3.0, 2.0), rng)
    faces = fit_faces(seen)
    walls = without_arcs(faces, find_arcs(seen, faces))
    assert walls.sum() == 4
    left = faces.only(walls)
    assert len(left) == 4
    assert set(np.unique(left.face_of_reading)) == {-1, 0, 1, 2, 3}
    np.testing.assert_array_equal(left.length_m, faces.length_m[walls])


def test_the_fit_is_the_geometric_one_of_scipy():
    """The same weights, minimised by scipy's least_squares: within 1e-6 of centre and radius."""
    rng = np.random.default_rng(2)
    seen = capture(ring(APSE), (2.5, 1.2), rng)
    on = find_arcs(seen, fit_faces(seen)).arc_of_reading == 0
    xy, distance, noise = seen.xy_m[on], seen.distance_m[on], noise_of(seen)
    circle = fit_circle(xy, distance, noise)
    sigma = np.sqrt(circle.variance_m2(xy, distance, noise))

    def misfit(p):
        return (np.hypot(xy[:, 0] - p[0], xy[:, 1] - p[1]) - p[2]) / sigma

    peer = least_squares(misfit, [*circle.centre_m + 0.1, 2.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    np.testing.assert_allclose(peer.x, [*circle.centre_m, circle.radius_m], atol=1e-6)
    covariance = np.linalg.inv(peer.jac.T @ peer.jac) * max(circle.variance, 1.0)
    np.testing.assert_allclose(circle.covariance, covariance, rtol=1e-3)


@given(st.floats(0.1, 50.0), st.floats(-100, 100), st.floats(-100, 100), st.floats(0.5, 2 * np.pi))
def test_points_on_a_circle_give_it_back(radius, x, y, extent):
    points = arc((x, y), radius, 0.3, 0.3 + extent, 25)
    centre, found = algebraic_circle(points)
    assert found == pytest.approx(radius, rel=1e-6)
    np.testing.assert_allclose(centre, (x, y), atol=1e-5 * (1 + radius))


def test_points_on_a_line_are_no_circle():
    line = np.stack([np.arange(10.0), 2 * np.arange(10.0)], axis=-1)
    assert algebraic_circle(line) is None
    assert algebraic_circle(np.zeros((5, 2))) is None


@given(st.floats(0, 2 * np.pi))
def test_the_instrument_s_orientation_plays_no_part(turn):
    seen, _ = capture_of(ring(APSE), (2.5, 1.2), 0.0, readings=800)
    turned, _ = capture_of(ring(APSE), (2.5, 1.2), turn, readings=800)
    first, second = (find_arcs(c, fit_faces(c)) for c in (seen, turned))
    assert len(first) == len(second) == 1
    assert first.circle[0].radius_m == pytest.approx(second.circle[0].radius_m, abs=1e-3)
