# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings on walls of which another station has a face."""

import numpy as np
import pytest
from cramer_rao import bound_of
from hypothesis import given
from hypothesis import strategies as st
from inner_datum import about_all
from roomtie.processing.angles import azimuth_of, unit
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import inverse, moved
from roomtie.processing.stations.loose_readings import LooseReadings
from roomtie.processing.stations.network_evidence import evidence_of
from roomtie.processing.stations.network_group import adjust_group
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.network_system import Datum
from roomtie.processing.stations.network_walls import Gate, Sights, common_surfaces
from roomtie.processing.stations.systematics import face_response
from roomtie.processing.stations.systematics_estimate import change_of
from roomtie.processing.stations.wall_readings import readings_on_walls
from simulated import capture_of, loop
from simulated_buildings import simulated_building

ROOM = loop([(0, 0), (5, 0), (5, 4), (0, 4)])
POSES = np.array([(2.0, 1.5, 0.4), (3.5, 2.5, -1.0)])
SIGMA_M, SIGMA_RAD = 0.002, np.radians(0.03)
GATE = Gate(0.03, np.radians(1.0), sigmas=3.29)
NO_SIGHTS = Sights(*np.empty((3, 0), dtype=np.int64))


def room_and_nothing():
    """The faces of one station in a room, and a second station that has none."""
    capture, _ = capture_of(ROOM, POSES[0, :2], POSES[0, 2], readings=1600)
    faces = fit_faces(capture)
    return [faces, faces.only(np.zeros(len(faces), dtype=bool))]


def on_plan(points, place=None):
    """Readings of the second station at points ``(n, 2)`` of the plan, next to each other."""
    at = moved(inverse(POSES[1]), np.asarray(points, dtype=float))
    count = len(at)
    reach = np.hypot(*at.T)
    place = np.arange(count) if place is None else np.asarray(place)
    return LooseReadings(
        np.ones(count, dtype=np.int64), at, np.full(count, SIGMA_M), reach * SIGMA_RAD, place
    )


def found(loose, faces=None, barred=()):
    return readings_on_walls(
        loose,
        room_and_nothing() if faces is None else faces,
        NO_SIGHTS,
        np.arange(2),
        POSES,
        np.zeros(2, dtype=np.int64),
        GATE,
        barred,
    )


@given(
    x=st.lists(st.floats(1.5, 4.0), min_size=2, max_size=9),
    off=st.lists(st.floats(-0.004, 0.004), min_size=9, max_size=9),
)
def test_two_points_tell_what_the_readings_tell(x, off):
    """The normal equations of a line's height and slope, by two points and by the readings with
    their errors across the wall (that of the angle grows with the distance along it)."""
    points = np.column_stack([x, 4.0 + np.array(off[: len(x)])])
    sights, readings = found(on_plan(points))
    assert len(sights) == 1 and len(readings) == 2
    ray = points - POSES[1, :2]
    reach = np.hypot(*ray.T)
    cosine = ray[:, 1] / reach
    variance = (cosine * SIGMA_M) ** 2 + (1 - cosine**2) * (reach * SIGMA_RAD) ** 2
    there = moved(POSES[1], readings.point_m)

    def normal_equations(at, weight):
        design = np.column_stack([np.ones(len(at)), at[:, 0] - 2.5])
        return (design * weight[:, None]).T @ np.column_stack([design, at[:, 1] - 4.0])

    expected = normal_equations(points, 1 / variance)
    given_by_two = normal_equations(there, readings.sigma_m**-2.0)
    assert given_by_two == pytest.approx(expected, rel=1e-6, abs=1e-6 * expected.max())


WALL = np.column_stack([np.linspace(2.0, 2.1, 5), np.full(5, 4.0)])


@pytest.mark.parametrize(
    ("what", "points", "place"),
    [
        ("on no wall", WALL - (0.0, 0.05), None),
        ("behind the free side's wall", WALL + (0.0, 0.05), None),
        ("each by itself", WALL, [0, 2, 4, 6, 8]),
        ("in the corner of two walls", np.array([(4.995, 3.994), (4.996, 3.998)]), None),
    ],
)
def test_readings_that_may_be_of_something_else_tell_nothing(what, points, place):
    assert len(found(on_plan(WALL))[1]) == 2
    sights, readings = found(on_plan(points, place))
    assert len(readings) == 0 and len(sights) == 0, what


def test_a_grazed_wall_tells_nothing():
    low = POSES.copy()
    low[1, :2] = 0.5, 3.9
    at = moved(inverse(low[1]), WALL + (2.0, 0.0))
    loose = on_plan(WALL)
    loose = LooseReadings(loose.station, at, loose.ahead_m, loose.aside_m, loose.place)
    level = np.zeros(2, dtype=np.int64)
    rest = NO_SIGHTS, np.arange(2), low, level, GATE
    assert len(readings_on_walls(loose, room_and_nothing(), *rest)[1]) == 0
    low[1, :2] = 0.5, 2.5
    at = moved(inverse(low[1]), WALL + (2.0, 0.0))
    loose = LooseReadings(loose.station, at, loose.ahead_m, loose.aside_m, loose.place)
    assert len(readings_on_walls(loose, room_and_nothing(), *rest)[1]) == 2


def test_what_an_own_face_left_out_stays_out():
    """The second station has the wall's face itself, so that its line has refused the readings."""
    capture, _ = capture_of(ROOM, POSES[1, :2], POSES[1, 2], readings=1600)
    faces = [room_and_nothing()[0], fit_faces(capture)]
    assert len(found(on_plan(WALL), faces)[1]) == 0


def test_stations_that_a_person_took_apart_share_no_readings():
    assert len(found(on_plan(WALL), barred=[(0, 1)])[1]) == 0


def evidence_and_truth(seed):
    taken, truth = simulated_building(seed, rooms=5)
    faces = [fit_faces(capture) for capture in taken.captures]
    return taken, truth, evidence_of(taken, faces, NetworkOptions(use_compass=False))


def test_loose_are_the_readings_that_no_face_explains():
    """Of a ring in a furnished building: all but those on faces of six readings and more, which are
    most of it."""
    taken, _, evidence = evidence_and_truth(581)
    loose = evidence.loose
    for station, (capture, own) in enumerate(zip(taken.captures, evidence.faces)):
        at = loose.point_m[loose.station == station]
        assert 0 < len(at) < 0.2 * len(capture)
        large = np.append(own.readings >= 30, False)[own.face_of_reading]
        every = np.concatenate([at, capture.xy_m[large]])
        assert len(np.unique(every.round(9), axis=0)) == len(every)


def test_a_station_that_sees_few_readings_of_its_neighbours_walls_is_known_by_them():
    """A building in which two stations see their neighbours' walls in stretches of three to five
    readings: what is stated comes down to the Cramer-Rao bound of the readings."""
    taken, truth, evidence = evidence_and_truth(581)
    members = np.arange(len(taken))
    bound = bound_of(taken, truth, members)
    bound_m = np.sqrt((bound[:, 0, 0] + bound[:, 1, 1]) / 2)

    def over_bound(closely):
        group = adjust_group(evidence, members, truth.pose, Datum(), {}, True, closely=closely)
        covariance = group.snooping.adjustment.covariance(np.arange(3 * len(members)))
        own = np.diagonal(about_all(covariance, group.pose[:, :2])).reshape(-1, 3)
        return np.sqrt((own[:, 0] + own[:, 1]) / 2) / bound_m

    assert over_bound(closely=False).max() > 2.0
    assert over_bound(closely=True).max() < 1.2


def test_errors_of_readings_on_walls_are_as_stated():
    """Against the walls as they are: 95 % of the points within 1.96 of what is stated."""
    off = []
    for seed in range(660, 674):
        _, truth, evidence = evidence_and_truth(seed)
        plan = [storey.segments for storey in truth.storeys]
        for level in np.unique(truth.level):
            members = np.flatnonzero(truth.level == level)
            at = truth.pose, truth.level, GATE
            sights = common_surfaces(evidence.faces, members, *at)
            sights, readings = readings_on_walls(
                evidence.loose, evidence.faces, sights, members, *at
            )
            first = np.full(sights.surfaces, -1)
            first[sights.surface] = np.arange(len(sights))
            of = first[readings.surface]
            there = moved(truth.pose[readings.station], readings.point_m)
            line = _true_lines(plan[level], evidence, sights, truth)
            point, normal = line[of, 0], line[of, 1]
            off.append(np.einsum("ij,ij->i", normal, there - point) / readings.sigma_m)
    w = np.concatenate(off)
    assert len(w) > 300
    assert 0.92 < np.mean(np.abs(w) < 1.96) < 0.98


def _true_lines(segments, evidence, sights, truth):
    """A point and the normal ``(n, 2, 2)`` of the true segment nearest to each face observed."""
    out = []
    for s, f in zip(sights.station, sights.face):
        centre = moved(truth.pose[s], evidence.faces[s].centre_m[f])
        facing = unit(evidence.faces[s].normal_rad[f] + truth.pose[s, 2])
        edge = segments[:, 1] - segments[:, 0]
        length = np.hypot(*edge.T)
        normal = np.column_stack([-edge[:, 1], edge[:, 0]]) / length[:, None]
        across = np.abs(np.einsum("ij,ij->i", normal, centre - segments[:, 0]))
        t = np.einsum("ij,ij->i", edge, centre - segments[:, 0]) / length**2
        across[(np.abs(normal @ facing) < 0.99) | (t < -0.01) | (t > 1.01)] = np.inf
        nearest = int(np.argmin(across))
        out.append((segments[nearest, 0], normal[nearest]))
    return np.array(out)


def test_readings_on_walls_answer_to_the_errors_of_the_instrument():
    """Every point corrected for each error by a small step, against the change that is told."""
    taken, truth, evidence = evidence_and_truth(581)
    members = np.arange(len(taken))
    group = adjust_group(evidence, members, truth.pose, Datum(), {}, True)
    responses = {int(s): face_response(taken.captures[s], evidence.faces[s]) for s in members}
    adjustment = group.snooping.adjustment
    offsets = adjustment.observations.surface_offsets
    first = len(group.sights)
    assert len(offsets) - first == len(group.readings) > 20
    rows = adjustment.observations.rows_of("surface_offsets")
    told = change_of(group, responses, evidence.sightings)[rows][first:]
    pose = group.pose[offsets.station[first:]]
    normal = unit(adjustment.unknowns.scalar[offsets.surface[first:]])
    point = offsets.centre_m[first:]
    angle, reach = azimuth_of(point) % (2 * np.pi), np.hypot(*point.T)
    step = 1e-6
    foot = np.arctan2(step, reach)
    for k, (turned, length) in enumerate(
        [(angle, reach - step), (angle + foot, reach), (angle * (1 - step), reach)]
    ):
        after = length[:, None] * unit(turned)
        moved_m = np.einsum("ij,ij->i", normal, moved(pose, after) - moved(pose, point))
        assert told[:, k] * step == pytest.approx(moved_m, abs=1e-3 * step)
