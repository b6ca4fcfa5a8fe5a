# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys whose geometry tells little: targets in a line, a place captured twice, a round room."""

import math

import numpy as np
import pytest
import shapely
from roomtie.processing.captures.noise import with_noise
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, tie_stations
from roomtie.processing.layers.plan import plan_tables
from roomtie.processing.stations.model import Status
from roomtie.processing.stations.network_options import NetworkOptions

HEAD = """# station: {station}
# captured_at: 2026-04-21T{hour:02d}:06:00+02:00
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
angle,distance,kind,target
"""
ANGULAR = shapely.Polygon([(0, 0), (7, 0), (7, 3), (4, 3), (4, 5.2), (0, 5.2)])
"""A room that looks different from each side."""

NOISE_M, NOISE_DEG = 0.002, 0.03


def sightings(x, y, turned, targets):
    """Of targets by name, without errors."""
    return [
        (
            (math.degrees(math.atan2(east - x, north - y)) - turned) % 360.0,
            math.hypot(east - x, north - y),
            "target",
            name,
        )
        for name, (east, north) in targets.items()
    ]


def ring(x, y, turned, room=ANGULAR, seed=None, count=800):
    """Readings all round, with errors where there is a seed."""
    draw = np.random.default_rng(seed)
    error = np.zeros((2, count)) if seed is None else draw.normal(size=(2, count))
    angle = np.arange(count) * 360.0 / count
    beam = np.radians(angle + turned + error[0] * NOISE_DEG)
    ends = np.array([x, y]) + 50.0 * np.stack([np.sin(beam), np.cos(beam)], axis=-1)
    starts = np.broadcast_to([x, y], ends.shape)
    rays = shapely.linestrings(np.stack([starts, ends], axis=1))
    hit = shapely.distance(shapely.Point(x, y), shapely.intersection(rays, room.exterior))
    return [(a, d, "ring", "") for a, d in zip(angle, hit + error[1] * NOISE_M)]


@pytest.fixture
def tied(tmp_path):
    """Ties the captures with these rows, by station."""

    def tie(**captures):
        for hour, (station, rows) in enumerate(captures.items()):
            text = "".join(f"{a:.5f},{d:.5f},{kind},{target}\n" for a, d, kind, target in rows)
            (tmp_path / f"{station}.csv").write_text(HEAD.format(station=station, hour=hour) + text)
        return tie_stations(import_captures(tmp_path), NetworkOptions())

    return tie


def sigmas(network):
    """Standard errors ``(S, 3)`` of x, y (m) and orientation (rad)."""
    return np.sqrt(np.diagonal(network.covariance).reshape(-1, 3))


@pytest.mark.parametrize("seen_from", [(0.0, 0.0), (-1.0, 5.0)], ids=["beside", "in line"])
def test_targets_in_a_line_tie_two_stations(tied, seen_from):
    targets = {"T1": (0, 5), "T2": (2, 5), "T3": (4, 5)}
    places = [(*seen_from, 0.0), (3.0, 1.0, 30.0)]
    network = tied(**{n: sightings(*p, targets) for n, p in zip("AB", places)}).network
    assert {*network.status} == {Status.ADJUSTED}
    apart = np.hypot(*(network.xy_m[1] - network.xy_m[0]))
    # The distances in the files have five places.
    assert apart == pytest.approx(math.dist(places[0][:2], places[1][:2]), abs=2e-5)


@pytest.mark.parametrize("targets", [{"T1": (0, 5)}, {"T1": (0, 5), "T2": (0, 5)}])
def test_what_ties_nothing_is_left_apart(tied, targets):
    """One place alone lets the stations turn about it."""
    network = tied(A=sightings(0, 0, 0, targets), B=sightings(3, 1, 30, targets)).network
    assert {*network.status} == {Status.UNCONNECTED}
    assert np.isfinite(network.xy_m).all()


def test_one_place_sighted_from_twice_is_one_place(tied):
    """Exactly the same: two set-ups over one mark."""
    rows = [(0.0, 3.0, "target", "T1"), (80.0, 5.0, "target", "T2")]
    network = tied(A=rows, B=rows).network
    assert {*network.status} == {Status.ADJUSTED}
    assert network.xy_m[1] == pytest.approx(network.xy_m[0], abs=1e-9)
    assert network.orientation_rad[1] == pytest.approx(network.orientation_rad[0], abs=1e-9)
    assert np.isfinite(network.covariance).all()


@pytest.mark.parametrize("apart", [0.0, 0.001, 0.1])
def test_one_place_captured_twice_has_no_more_error_than_two(tied, apart):
    """The network must not turn by what the places are uncertain over what parts them."""
    network = tied(A=ring(2, 2, 0, seed=1), B=ring(2 + apart, 2, 37, seed=2)).network
    assert {*network.status} == {Status.ADJUSTED}
    assert np.hypot(*(network.xy_m[1] - network.xy_m[0])) == pytest.approx(apart, abs=1e-3)
    turned = np.degrees(network.orientation_rad[1] - network.orientation_rad[0]) % 360.0
    assert turned == pytest.approx(37.0, abs=0.02)
    error = sigmas(network)
    assert error[:, :2].max() < 1e-3 and error[:, 2].max() < np.radians(0.02)


@pytest.mark.parametrize("off_centre", [0.0, 1.0])
def test_a_perfectly_round_room_is_drawn_and_can_be_written(tied, off_centre):
    count = 1600
    angle = np.arange(count) * 360.0 / count
    along = off_centre * np.cos(np.radians(angle))
    across = off_centre * np.sin(np.radians(angle))
    distance = np.sqrt(9.0 - across**2) - along
    result = tied(A=[(a, d, "ring", "") for a, d in zip(angle, distance)])
    noise = with_noise(result.survey, 0.002, 0.03).captures[0]
    # All distances may be equal, which tells of no step that they were rounded to.
    assert noise.distance_sigma_m == pytest.approx(0.002, rel=0.5)
    drawn = draw_plans(result, (50,))
    assert drawn.plans[0].rooms.area_m2.sum() == pytest.approx(9.0 * np.pi, rel=1e-3)
    for table in plan_tables(result, drawn, (), {}):
        for name, column in zip(table.schema.field_names, table.columns):
            kinds = {type(value) for value in column}
            assert kinds <= {str, int, float, bool, type(None)}, (table.schema.name, name)


def test_readings_that_are_all_equal_and_in_one_direction_are_no_wall(tied):
    result = tied(A=[(45.0, 3.0, "ring", "")] * 200)
    plan = draw_plans(result, (50,)).plans[0]
    assert len(plan.walls) == 0 and len(plan.rooms) == 0
