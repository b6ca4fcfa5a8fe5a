# SPDX-License-Identifier: GPL-2.0-or-later
"""How areas move with stations and walls, against areas built anew from moved stations."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.walls.rooms import build_rooms
from roomtie.processing.walls.rooms_errors import AS_MEASURED, face_errors
from simulated_rooms import network_of, storey, survey_of, walls_of


@pytest.fixture(scope="module")
def small():
    rng = np.random.default_rng(21)
    plan = storey(rng, 2, 1)
    survey, orientation = survey_of(plan, rng)
    return plan, survey, orientation


def test_an_error_of_all_stations_together_moves_no_area(small):
    plan, survey, orientation = small
    shift = np.tile([0.05, 0.05, 0.0], 2)
    certain = network_of(survey, plan.stations_m, orientation, 1e-12 * np.eye(6))
    common = network_of(survey, plan.stations_m, orientation, np.outer(shift, shift))
    walls = walls_of(survey, certain)
    rooms, _ = build_rooms(survey, certain, walls)
    moved, _ = build_rooms(survey, common, walls)
    # five centimetres of common shift, and the areas are as certain as before
    assert moved.sigma_area_m2 == pytest.approx(rooms.sigma_area_m2, rel=0.05)
    assert (rooms.sigma_area_m2 < 0.01).all()


def test_parameters_move_with_a_station_as_the_walls_do(small):
    """Finite differences: the faces as joined from a station moved by a millimetre."""
    plan, survey, orientation = small
    scale = np.array([0.003, 0.003, 0.0005] * 2)
    network = network_of(survey, plan.stations_m, orientation, np.diag(scale**2))
    walls = walls_of(survey, network)
    errors = face_errors(survey, network, walls)
    step = np.array([0.001, -0.0007, 0.0002])
    moved_xy, turned = plan.stations_m.copy(), orientation.copy()
    moved_xy[0] += step[:2]
    turned[0] += step[2]
    other = walls_of(survey, replace(network, xy_m=moved_xy, orientation_rad=turned))
    assert other.wall == walls.wall
    offset = np.einsum("ij,ij->i", other.centre_m - walls.centre_m, other.normal)
    turn = other.normal_rad - walls.normal_rad
    expected = (errors.by_station[:, :3] @ step).reshape(-1, 2)
    long = walls.span_m[:, 1] - walls.span_m[:, 0] > 1.0
    assert long.sum() >= 6
    # weights are modelled from counts of readings: good to a twentieth of the move
    assert offset[long] == pytest.approx(expected[long, 0], abs=1e-4)
    assert turn[long] == pytest.approx(expected[long, 1], abs=3e-5)


def test_walls_whose_stations_are_gone_keep_their_stated_errors(small):
    plan, survey, orientation = small
    network = network_of(survey, plan.stations_m, orientation, 1e-8 * np.eye(6))
    walls = walls_of(survey, network)
    nobody = tuple(np.full(len(owner), -1) for owner in walls.wall_of_reading)
    gone = replace(walls, stations=((),) * len(walls), wall_of_reading=nobody)
    errors = face_errors(survey, network, gone)
    stated = np.column_stack([walls.sigma_offset_m, walls.sigma_normal_rad]) ** 2
    assert errors.own == pytest.approx(stated, rel=1e-9)
    assert errors.by_station.nnz == 0


def test_a_move_to_the_plot_scale_counts_at_about_even_odds(small):
    """Drawn a centimetre aside, turned by a milliradian, or not moved at all; two walls that were
    moved apart stand as measured within 1.96 standard errors of their distance."""
    plan, survey, orientation = small
    network = network_of(survey, plan.stations_m, orientation, 1e-8 * np.eye(6))
    walls = walls_of(survey, network)
    before = face_errors(survey, network, walls).own
    aside, turned, still = np.argsort(walls.length_m)[-3:]
    centre, normal = walls.centre_m.copy(), walls.normal_rad.copy()
    centre[aside] += 0.01 * walls.normal[aside]
    normal[turned] += 0.001
    drawn = replace(walls, plot_scale=50, centre_m=centre, normal_rad=normal)
    after = face_errors(survey, network, drawn).own
    share = AS_MEASURED
    assert 1.96 * np.sqrt(2.0 * share) > 2.0
    assert share == pytest.approx(0.5, abs=0.05)
    assert after[still] == pytest.approx(before[still], rel=1e-6)
    assert after[aside, 0] == pytest.approx(share * (before[aside, 0] + 1e-4), rel=0.01)
    assert after[aside, 1] == pytest.approx(before[aside, 1], rel=0.01)
    assert after[turned, 1] == pytest.approx(share * (before[turned, 1] + 1e-6), rel=0.05)


def test_rounding_takes_no_wall_apart(small):
    """Stretches of one wall share their line though its numbers differ in the last bit, as they do
    with some libraries and not with others."""
    plan, survey, orientation = small
    network = network_of(survey, plan.stations_m, orientation, 1e-8 * np.eye(6))
    walls = walls_of(survey, network)
    centre, normal = walls.centre_m.copy(), walls.normal_rad.copy()
    long, other = np.argsort(walls.length_m)[[-1, 0]]
    centre[other], normal[other] = centre[long], normal[long]  # a short stretch of the long wall
    whole = face_errors(survey, network, replace(walls, centre_m=centre, normal_rad=normal))
    centre[other] = np.nextafter(centre[other], np.inf)
    torn = face_errors(survey, network, replace(walls, centre_m=centre, normal_rad=normal))
    assert torn.own == pytest.approx(whole.own, rel=1e-6)
    assert torn.by_station.toarray() == pytest.approx(whole.by_station.toarray(), abs=1e-6)
