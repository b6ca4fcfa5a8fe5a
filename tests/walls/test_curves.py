# SPDX-License-Identifier: GPL-2.0-or-later
"""Curved walls and columns over all stations: one circle, chords within tolerance, true areas."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.chain import Tied, draw_plans
from roomtie.processing.progress import SILENT
from roomtie.processing.walls import curves
from roomtie.processing.walls.chords import (
    coarse_division,
    corner_radius,
    departure,
    fine_division,
    sectors,
)
from roomtie.processing.walls.curve_faces import curves_of_chords
from roomtie.processing.walls.plot_scales import TOLERANCE_M
from simulated_curves import APSE, BAY, COLUMN, RECTANGLE, ROUND, area, ring, survey

SCALES = (20, 50, 100, 200)


def drawn(outline, stations, seed=0, extra=()):
    segments = np.concatenate([ring(outline), *(ring(other) for other in extra)])
    surveyed, network = survey(segments, stations, np.random.default_rng(seed))
    faces = tuple(fit_faces(capture) for capture in surveyed.captures)
    return draw_plans(Tied(surveyed, faces, network), SCALES)


@pytest.mark.parametrize(
    ("outline", "stations", "radius"),
    [
        (ROUND, [(0.7, 0.4), (-1.0, 0.5)], 3.0),
        (BAY, [(3.0, 2.0), (5.0, 1.2)], 1.5),
        (APSE, [(2.5, 1.2), (2.0, 3.5)], 2.5),
    ],
    ids=["round room", "bay", "apse"],
)
def test_a_curved_wall_is_one_circle_and_its_room_has_its_area(outline, stations, radius):
    plan = drawn(outline, stations)
    curves = plan.measured.curves
    assert len(curves) == 1
    sigma = float(np.sqrt(curves.covariance[0, 2, 2]))
    assert abs(curves.radius_m[0] - radius) < 4 * sigma < 0.01
    assert bool(curves.hollow[0])
    for drawing in plan.plans:
        scale = drawing.walls.plot_scale
        assert drawing.moved_m <= TOLERANCE_M[scale]
        assert len(drawing.rooms) == 1
        assert drawing.rooms.polygon[0].is_valid
        away = abs(drawing.rooms.area_m2[0] - area(outline))
        assert away < 3.5 * drawing.rooms.sigma_area_m2[0], scale
        assert drawing.rooms.sigma_area_m2[0] < 0.05
        assert not drawing.walls.squared_by_rad[drawing.walls.curves.curved].any()
    counts = [int(p.walls.curves.curved.sum()) for p in plan.plans]
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] < counts[0]


def test_chords_of_a_curve_meet_in_their_corners():
    plan = drawn(APSE, [(2.5, 1.2), (2.0, 3.5)]).plans[2]
    curved = np.flatnonzero(plan.walls.curves.curved)
    tips = plan.walls.drawn_m[curved].reshape(-1, 2)
    apart = np.hypot(*(tips[:, None] - tips[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    assert np.sum(apart.min(axis=1) < 1e-9) == len(tips) - 2  # but for the two ends of the arc


def test_a_column_is_a_closed_ring_of_chords_and_leaves_the_room_whole():
    plan = drawn(RECTANGLE, [(2.0, 1.5), (6.0, 4.0), (5.5, 1.0), (2.0, 4.5)], extra=(COLUMN,))
    curves = plan.measured.curves
    assert len(curves) == 1
    assert not curves.hollow[0]
    assert curves.radius_m[0] == pytest.approx(0.3, abs=0.002)
    np.testing.assert_allclose(curves.centre_m[0], (4.5, 3.0), atol=0.003)
    seen = curves.sector_rad[curves.curved]
    assert np.sum(seen[:, 1] - seen[:, 0]) == pytest.approx(2 * np.pi, abs=0.5)
    for drawing in plan.plans:
        assert len(drawing.rooms) == 1
        assert drawing.rooms.area_m2[0] == pytest.approx(35.0, abs=0.02)


def test_straight_rooms_have_no_curves():
    assert len(drawn(RECTANGLE, [(2.0, 1.5), (6.0, 4.0)]).measured.curves) == 0


def test_names_do_not_depend_on_the_order_of_stations():
    first = drawn(BAY, [(3.0, 2.0), (5.0, 1.2)]).measured
    second = drawn(BAY, [(5.0, 1.2), (3.0, 2.0)]).measured
    assert first.wall == second.wall == tuple(f"W{k + 1:03d}" for k in range(len(first)))
    # Chords are cut anew along the arc; across themselves all faces are where they were.
    away = np.einsum("ij,ij->i", second.centre_m - first.centre_m, first.normal)
    assert np.abs(away).max() < 0.005


@given(st.floats(0.1, 30.0), st.floats(0.4, 2 * np.pi), st.sampled_from(SCALES))
@example(3.5, 2.5, 200)
def test_chords_keep_the_area_and_the_tolerance(radius, extent, scale):
    fine = fine_division(radius, extent)
    step = extent / fine
    assert departure(radius, step) <= 0.001 + 1e-12
    group = coarse_division(radius, extent, fine, TOLERANCE_M[scale])
    assert fine % group == 0
    wide = group * step
    corner = corner_radius(radius, wide)
    polygon = 0.5 * corner**2 * np.sin(wide) * (fine // group)
    assert polygon == pytest.approx(0.5 * radius**2 * extent, rel=1e-9)
    if group > 1:  # measured square to the chord, as the guarantee is
        middle = radius - corner * np.cos(0.5 * wide)
        end = (corner - radius) * np.cos(0.5 * wide)
        assert max(middle, end) <= TOLERANCE_M[scale] + 0.001
    parts = sectors(0.2, extent, fine)
    np.testing.assert_allclose(parts[1:, 0], parts[:-1, 1])


def test_curves_come_back_from_a_layer():
    walls = drawn(APSE, [(2.5, 1.2), (2.0, 3.5)]).plans[1].walls
    curves = walls.curves
    names = ["R01" if k >= 0 else "" for k in curves.of_face]
    radius = np.where(curves.curved, curves.radius_m[0], np.nan)
    sigma = np.where(curves.curved, np.sqrt(curves.covariance[0, 2, 2]), np.nan)
    back = curves_of_chords(
        walls.drawn_m, walls.normal_rad, names, radius, sigma, walls.sigma_offset_m
    )
    np.testing.assert_array_equal(back.of_face, curves.of_face)
    np.testing.assert_array_equal(back.hollow, curves.hollow)
    np.testing.assert_allclose(back.centre_m, curves.centre_m, atol=1e-3)
    np.testing.assert_allclose(back.covariance[0, 2, 2], curves.covariance[0, 2, 2])


def columns_seen_by_all(columns, stations, rng):
    """The arcs of stations that all saw the same columns, with errors as their covariances say."""
    count = columns * stations
    at = np.stack(np.divmod(np.arange(columns), 12), axis=-1) * 0.4
    which, capture = np.divmod(np.arange(count), stations)
    sigma = 10.0 ** rng.uniform(-3.5, -1.5, count)
    circle = np.column_stack([at[which], np.full(count, 0.2)])
    circle += rng.normal(size=(count, 3)) * sigma[:, None]
    zero = np.zeros((count, 3, 3))
    ones = np.ones(count, dtype=np.int64)
    return curves._PlanArcs(
        capture,
        which,
        circle,
        zero + np.eye(3) * sigma[:, None, None] ** 2,
        zero + np.eye(3),
        0 * ones,
        ones,
        which % 2 == 0,
        np.zeros((stations, stations, 3, 3)),
    )


def test_arcs_of_many_columns_are_compared_with_near_ones_only(monkeypatch):
    arcs = columns_seen_by_all(60, 8, np.random.default_rng(3))
    # every arc with every group's first one: chi-square with 3 degrees of freedom
    expected = []
    for k in range(len(arcs)):
        for group in expected:
            apart = arcs.circle[k] - arcs.circle[group[0]]
            variance = arcs.own[k, 0, 0] + arcs.own[group[0], 0, 0] + curves.ALIKE_M**2
            alike = arcs.hollow[k] == arcs.hollow[group[0]]
            if alike and np.sum(apart**2) / variance < curves.SAME:
                group.append(k)
                break
        else:
            expected.append([k])
    looked_at = []
    solve = np.linalg.solve
    monkeypatch.setattr(np.linalg, "solve", lambda *of: looked_at.append(1) or solve(*of))
    found = curves._grouped(arcs, SILENT)
    assert [group.tolist() for group in found] == expected
    assert len(expected) < 100 and len(looked_at) < 10 * len(arcs)
