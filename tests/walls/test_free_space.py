# SPDX-License-Identifier: GPL-2.0-or-later
"""Free space against shapely's polygons of the same readings."""

import numpy as np
import pytest
import shapely
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.free_space_star import VEIL_REACH_M, star_of
from simulated import capture_of, loop
from simulated_rooms import network_of

NONE = np.empty(0, dtype=np.int64)


def star_in(segments, station, orientation=0.7, **more):
    capture, _ = capture_of(np.asarray(segments, dtype=float), station, orientation, **more)
    survey = Survey((capture,))
    network = network_of(survey, [station], [orientation])
    return star_of(capture, network, 0, np.zeros(len(capture), dtype=np.int64)), capture, network


@pytest.mark.parametrize("seed", range(4))
def test_free_is_the_polygon_of_the_readings(seed):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
    corners = rng.uniform(2, 6, (9, 1)) * np.column_stack([np.cos(angle), np.sin(angle)])
    # no gap of half a circle, or the polygon would not hold the station
    if np.max(np.diff(angle, append=angle[0] + 2 * np.pi)) > 3:
        corners = 4 * np.column_stack([np.cos(np.arange(9)), np.sin(np.arange(9))])
    star, capture, network = star_in(loop(corners), (0.0, 0.0))
    polygon = shapely.Polygon(network.to_plan(0, capture.xy_m))
    points = rng.uniform(-6, 6, (2000, 2))
    free, veiled = star.look(points)
    # the wall of all readings is one: neighbours are joined by chords, as in the polygon
    inside = shapely.contains_xy(polygon, points[:, 0], points[:, 1])
    near = shapely.distance(shapely.points(points), polygon.exterior) < 1e-9
    assert (free == inside)[~near].all()
    assert not veiled.any()


def test_directions_without_return_are_veiled_not_free():
    sides = loop([(-3, -3), (3, -3), (3, 3), (-3, 3)])
    star, _, _ = star_in(np.delete(sides, 1, axis=0), (0.0, 0.0))
    free, veiled = star.look(np.array([(2.0, 0.0), (0.0, 2.0), (VEIL_REACH_M + 1, 0.0)]))
    assert free.tolist() == [False, True, False]
    assert veiled.tolist() == [True, False, False]


def test_a_flagged_reading_between_walls_at_different_depths_is_not_looked_through():
    # a wall at 2 m with a slot to a wall at 6 m, as seen through glass: every second one is lost
    segments = [
        [(-5, 2), (-0.5, 2)],
        [(0.5, 2), (5, 2)],
        [(-3, 6), (3, 6)],
        *loop([(-5, -5), (5, -5), (5, 2), (-5, 2)])[[0, 1, 3]],
    ]
    capture, _ = capture_of(np.asarray(segments, dtype=float), (0.0, 0.0))
    through = np.flatnonzero(capture.distance_m * np.cos(capture.angle_rad) > 4)
    network = network_of(Survey((capture,)), [(0.0, 0.0)], [0.0])
    points = np.array([(0.0, 4.0), (0.3, 4.0)])
    assert star_of(capture, network, 0, NONE).look(points)[0].all()
    mask = np.zeros(len(capture), dtype=bool)
    mask[through[::2]] = True
    lost = capture.with_flags(mask, Flag.THROUGH_GLASS)
    assert not star_of(lost, network, 0, NONE).look(points)[0].any()


def test_crossings_lie_where_rays_pass():
    star, capture, _ = star_in(loop([(-4, -4), (4, -4), (4, 4), (-4, 4)]), (0.0, 0.0), 0.0)
    free = FreeSpace((star,))
    crossed = free.crossings(np.array([-1.0, 2.0]), np.array([1.0, 2.0]))
    azimuth = (capture.angle_rad + np.pi) % (2 * np.pi) - np.pi
    expected = np.sort(2 * np.tan(azimuth[np.abs(azimuth) < np.arctan(0.5)]) + 1)
    assert crossed == pytest.approx(expected)
    assert len(free.crossings(np.array([-1.0, 4.5]), np.array([1.0, 4.5]))) == 0


@pytest.mark.parametrize("readings", [5, 40, 700])
@pytest.mark.parametrize("seed", range(3))
def test_asking_only_the_stations_that_reach_a_place_tells_the_same(seed, readings):
    """A long corridor with rooms: every station looks far one way and not the other."""
    rng = np.random.default_rng(seed)
    walls = np.array(
        [
            *loop([(0, 0), (40, 0), (40, 2), (0, 2)]),
            *loop([(0, 2.2), (5, 2.2), (5, 6), (0, 6)])[[0, 1, 3]],  # open to the north
            *loop([(6, 2.2), (11, 2.2), (11, 6), (6, 6)]),
        ]
    )
    at = [(2.0, 1.0), (20.0, 0.5), (38.0, 1.5), (2.5, 4.0), (8.0, 4.5)]
    stars = [
        star_in(walls, station, rng.uniform(-3, 3), readings=readings, rng=rng)[0] for station in at
    ]
    points = rng.uniform((-4, -4), (44, 12), (4000, 2))
    free, veiled = FreeSpace(tuple(stars)).look(points)
    each = [star.look(points) for star in stars]
    expected = np.any([seen for seen, _ in each], axis=0)
    assert np.array_equal(free, expected)
    assert np.array_equal(veiled, np.any([hidden for _, hidden in each], axis=0) & ~expected)


@pytest.mark.parametrize("seed", range(4))
def test_beams_go_on_beyond_a_point_up_to_what_they_meet(seed):
    """Against shapely: along the beam past a point to the readings' polygon, seen along a way."""
    rng = np.random.default_rng(seed)
    star, capture, network = star_in(loop([(-3, -2), (4, -3), (5, 3), (-2, 4)]), (0.0, 0.0))
    polygon = shapely.Polygon(network.to_plan(0, capture.xy_m))
    points = rng.uniform(-5, 5, (300, 2))
    turn = rng.uniform(0, 2 * np.pi, 300)
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    ray = shapely.linestrings(np.stack([np.zeros((300, 2)), 50 * points], axis=1))
    met = shapely.get_coordinates(shapely.intersection(ray, polygon)).reshape(-1, 2, 2)[:, 1]
    inside = shapely.contains_xy(polygon, *points.T)
    further = np.where(inside, np.einsum("ij,ij->i", met - points, way), 0.0).clip(0.0)
    assert star.beyond(points, way) == pytest.approx(further, abs=1e-6)
    assert FreeSpace((star, star)).beyond(points, way) == pytest.approx(further, abs=1e-6)


def test_of_several_stations_the_beam_that_went_furthest_counts():
    """A second station looks past what stops the first one."""
    room = loop([(-4, -3), (4, -3), (4, 3), (-4, 3)])
    walls = np.concatenate([room, [[(1.0, -1.0), (1.0, 1.0)]]])
    stars = [star_in(walls, station)[0] for station in ((-2.0, 0.0), (0.0, 2.5))]
    point, east = np.array([[0.5, -1.5]]), np.array([[1.0, 0.0]])
    each = [float(star.beyond(point, east)[0]) for star in stars]
    assert min(each) < max(each)
    assert FreeSpace(tuple(stars)).beyond(point, east) == pytest.approx([max(each)])


@pytest.mark.parametrize(("every", "known"), [(2, False), (40, True)])
def test_between_beams_through_glass_others_may_come_from_the_pane(every, known):
    """Every second beam towards the upper side went through; or a few were taken for such."""
    sides = loop([(-3, -3), (3, -3), (3, 3), (-3, 3)])
    capture, _ = capture_of(sides, (0.0, 0.0))
    network = network_of(Survey((capture,)), [(0.0, 0.0)], [0.0])
    up = np.flatnonzero(capture.distance_m * np.cos(capture.angle_rad) > 2.9)
    mask = np.zeros(len(capture), dtype=bool)
    mask[up[::every]] = True
    glass = capture.with_flags(mask, Flag.THROUGH_GLASS)
    owner = np.zeros(len(capture), dtype=np.int64)
    star = star_of(glass, network, 0, owner)
    points = np.array([(0.3, 2.5), (0.3, -2.5)])
    assert star.look(points)[0].tolist() == [True, True]
    assert star.without_glass().look(points)[0].tolist() == [known, True]
    assert FreeSpace((star,)).without_glass.look(points)[0].tolist() == [known, True]
