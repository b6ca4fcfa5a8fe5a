# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces of several stations against known walls and known pose errors."""

import dataclasses

import numpy as np
import pytest
from roomtie.processing.angles import along, unit, wrap_half
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.errors import Cancelled
from roomtie.processing.progress import Progress
from roomtie.processing.walls.faces import find_walls
from simulated import capture_of, loop
from simulated_walls import network_of

# Two rooms, a partition of 12 cm with a doorway, seen by two stations each.
ROOMS = [
    *[(0, 0), (4, 0), (4, 1), (4.12, 1), (4.12, 0), (8, 0)],
    *[(8, 3.5), (4.12, 3.5), (4.12, 1.9), (4, 1.9), (4, 3), (0, 3)],
]
STANDS = [(1.2, 1.3), (2.8, 2.0), (5.5, 1.2), (6.8, 2.4)]


def survey_of(corners, stands, rng, *, pose_error=None, extra=(), **noise):
    """Captures of walls from stations, the segment each reading hit, and the network as known:
    the true poses plus their errors ``(S, 3)``."""
    segments = loop(corners)
    if len(extra):
        segments = np.concatenate([segments, np.asarray(extra, dtype=float)])
    stands = np.asarray(stands, dtype=float)
    orientation = rng.uniform(0, 2 * np.pi, len(stands))
    names = [f"S{k}" for k in range(len(stands))]
    seen = [
        capture_of(segments, stand, turned, rng=rng, station=name, readings=900, **noise)
        for stand, turned, name in zip(stands, orientation, names)
    ]
    error = np.zeros((len(stands), 3)) if pose_error is None else pose_error
    network = network_of(names, stands + error[:, :2], orientation + error[:, 2])
    return Survey(tuple(c for c, _ in seen)), [hit for _, hit in seen], network


def joined(survey, network):
    return find_walls(survey, [fit_faces(c) for c in survey.captures], network)[0]


def walls_hit(walls, hits):
    """The true segment that most readings of each wall face lie on."""
    result = []
    for k in range(len(walls)):
        on = np.concatenate([h[w == k] for h, w in zip(hits, walls.wall_of_reading)])
        result.append(int(np.bincount(on[on >= 0]).argmax()))
    return result


def test_every_wall_once_and_where_it_is():
    survey, hits, network = survey_of(ROOMS, STANDS, np.random.default_rng(1))
    walls = joined(survey, network)
    assert sorted(walls_hit(walls, hits)) == list(range(12))
    corners = np.array(ROOMS, dtype=float)
    for k, segment in enumerate(walls_hit(walls, hits)):
        a, b = corners[segment], corners[(segment + 1) % 12]
        # Loops run counterclockwise here, faces with the free side on their right: end to start.
        drawn = walls.drawn_m[k][::-1]
        np.testing.assert_allclose(drawn, [a, b], atol=0.004)
    assert walls.wall == tuple(f"W{k:03d}" for k in range(1, 13))
    assert walls.plot_scale == 0
    assert (walls.squared_by_rad == 0).all()


def test_corners_are_closed_exactly():
    survey, _, network = survey_of(ROOMS, STANDS, np.random.default_rng(1))
    walls = joined(survey, network)
    points = np.sort(walls.drawn_m.reshape(-1, 2).view(complex).ravel())
    # Each of the twelve corners is an end of two faces, identical to the last digit.
    assert (points[0::2] == points[1::2]).all()


def test_stations_readings_and_residuals_are_told():
    survey, _, network = survey_of(ROOMS, STANDS, np.random.default_rng(1), outliers=0.01)
    walls = joined(survey, network)
    assert len(walls) == 12
    for k in range(len(walls)):
        on = [w == k for w in walls.wall_of_reading]
        assert walls.stations[k] == tuple(
            name for name, mask in zip(survey.names, on) if mask.any()
        )
        residual = np.concatenate([r[m] for r, m in zip(walls.residual_of_reading_m, on)])
        assert len(residual) == walls.readings[k]
        assert np.abs(residual).max() == pytest.approx(walls.largest_residual_m[k])
        assert np.sqrt(np.mean(residual**2)) == pytest.approx(walls.rms_m[k])
        for i, mask in enumerate(on):
            xy = network.to_plan(i, survey.captures[i].xy_m[mask])
            across = (xy - walls.centre_m[k]) @ walls.normal[k]
            np.testing.assert_allclose(across, walls.residual_of_reading_m[i][mask], atol=1e-12)
    for wall, residual in zip(walls.wall_of_reading, walls.residual_of_reading_m):
        assert (np.isnan(residual) == (wall < 0)).all()


def test_the_two_faces_of_a_wall_stay_two():
    thin = np.array(ROOMS, dtype=float)
    thin[[3, 4, 7, 8], 0] = 4.006
    survey, hits, network = survey_of(thin, STANDS, np.random.default_rng(2))
    walls = joined(survey, network)
    found = walls_hit(walls, hits)
    # Six millimetres apart, seen from both sides.
    assert {1, 3, 7, 9} <= set(found)
    partition = [k for k, s in enumerate(found) if s in (1, 3)]
    assert np.cos(walls.normal_rad[partition[0]] - walls.normal_rad[partition[1]]) < -0.99


def test_walls_in_one_plane_in_two_rooms_stay_two():
    survey, hits, network = survey_of(ROOMS, STANDS, np.random.default_rng(3))
    found = walls_hit(walls := joined(survey, network), hits)
    south = [k for k, s in enumerate(found) if s in (0, 4)]
    assert len(south) == 2
    # Each ends at the partition, not in it.
    ends = np.sort(walls.drawn_m[south, :, 0].ravel())
    np.testing.assert_allclose(ends, [0, 4, 4.12, 8], atol=0.004)


def test_a_step_of_a_few_millimetres_stays():
    step = [(0, 0), (2, 0), (2, 0.006), (4, 0.006), (4, 3), (0, 3)]
    survey, _, network = survey_of(step, [(1, 1.3), (3, 1.8)], np.random.default_rng(4))
    walls = joined(survey, network)
    south = np.flatnonzero(np.cos(walls.normal_rad) > 0.99)
    assert len(south) == 2
    height = np.sort(walls.centre_m[south] @ unit(0.0))
    assert height[1] - height[0] == pytest.approx(0.006, abs=0.001)


def test_networks_and_levels_are_never_joined():
    survey, _, network = survey_of(
        ROOMS[:2] + [(4, 3), (0, 3)], STANDS[:2], np.random.default_rng(5)
    )
    assert len(joined(survey, network)) == 4
    apart = dataclasses.replace(network, network=np.array([1, 2]))
    assert len(joined(survey, apart)) == 8
    storeys = Survey((survey.captures[0], dataclasses.replace(survey.captures[1], level=1)))
    walls = joined(storeys, network)
    assert walls.level.tolist() == [0] * 4 + [1] * 4


def test_the_order_of_files_plays_no_part():
    survey, _, network = survey_of(ROOMS, STANDS, np.random.default_rng(6), outliers=0.01)
    walls = joined(survey, network)
    order = [2, 0, 3, 1]
    other = joined(
        Survey(tuple(survey.captures[k] for k in order)),
        network_of(
            [network.station[k] for k in order],
            network.xy_m[order],
            network.orientation_rad[order],
        ),
    )
    assert walls.wall == other.wall
    np.testing.assert_allclose(walls.drawn_m, other.drawn_m, atol=1e-9)
    assert walls.stations == other.stations
    for place, k in enumerate(order):
        np.testing.assert_array_equal(walls.wall_of_reading[k], other.wall_of_reading[place])


def test_a_wall_goes_on_behind_a_cupboard():
    # A free-standing cupboard hides a metre of the north wall from the only station.
    cupboard = loop([(1.6, 2.3), (2.3, 2.3), (2.3, 2.7), (1.6, 2.7)])
    survey, hits, network = survey_of(
        [(0, 0), (4, 0), (4, 3), (0, 3)], [(2, 0.9)], np.random.default_rng(7), extra=cupboard
    )
    walls = joined(survey, network)
    north = [k for k, s in enumerate(walls_hit(walls, hits)) if s == 2]
    assert len(north) == 1
    np.testing.assert_allclose(np.sort(walls.drawn_m[north[0], :, 0]), [0, 4], atol=0.004)


def test_a_doorway_that_a_beam_passed_stays_open():
    survey, hits, network = survey_of(ROOMS, STANDS, np.random.default_rng(8))
    walls = joined(survey, network)
    found = walls_hit(walls, hits)
    pieces = [k for k, s in enumerate(found) if s in (1, 9)]
    assert len(pieces) == 2
    y = np.sort(walls.drawn_m[pieces, :, 1].ravel())
    np.testing.assert_allclose(y, [0, 1, 1.9, 3], atol=0.004)


def test_what_another_station_saw_through_is_no_wall():
    # Something stood before the first station and had gone when the second measured.
    room = [(0, 0), (5, 0), (5, 3), (0, 3)]
    rng = np.random.default_rng(9)
    screen = [[(2.2, 1.9), (2.2, 0.9)]]
    with_screen, hits, net_a = survey_of(room, [(1.0, 1.4)], rng, extra=screen)
    without, _, net_b = survey_of(room, [(1.4, 1.6)], rng)
    second = dataclasses.replace(without.captures[0], station="S1")
    network = network_of(
        ["S0", "S1"],
        np.concatenate([net_a.xy_m, net_b.xy_m]),
        np.concatenate([net_a.orientation_rad, net_b.orientation_rad]),
    )
    alone = joined(with_screen, net_a)
    both = joined(Survey((*with_screen.captures, second)), network)

    def screens(walls):
        return [k for k in range(len(walls)) if abs(walls.centre_m[k, 0] - 2.2) < 0.05
                and abs(np.sin(walls.normal_rad[k])) > 0.99]  # fmt: skip

    assert len(screens(alone)) == 1
    assert len(screens(both)) == 0
    survey = Survey((*with_screen.captures, second))
    walls, flagged = find_walls(survey, [fit_faces(c) for c in survey.captures], network)
    on_screen = flagged.captures[0].flag == Flag.PASSER_BY
    assert 100 < on_screen.sum() < 300
    assert (hits[0][on_screen] == 4).all()
    assert (walls.wall_of_reading[0][on_screen] == -1).all()
    assert (flagged.captures[1].flag == second.flag).all()


def pose_errors(rng, count, sigma):
    """Correlated pose errors of stations and their covariance ``(3S, 3S)``."""
    mixing = 0.3 * rng.normal(size=(3 * count, 3 * count)) + np.eye(3 * count)
    covariance = mixing @ mixing.T
    scale = np.tile(sigma, count) / np.sqrt(np.diagonal(covariance))
    covariance *= scale[:, None] * scale[None, :]
    return (np.linalg.cholesky(covariance) @ rng.normal(size=3 * count)).reshape(-1, 3), covariance


def test_stated_errors_hold_the_stations_errors():
    sigma = (0.003, 0.003, 1e-3)
    rng = np.random.default_rng(12)
    offset, direction, ends = [], [], []
    for _ in range(30):
        corners = np.array(ROOMS) + rng.normal(0, 0.003, (12, 2))
        error, covariance = pose_errors(rng, 4, sigma)
        survey, hits, network = survey_of(corners, STANDS, rng, pose_error=error)
        walls = joined(survey, dataclasses.replace(network, covariance=covariance))
        for k, segment in enumerate(walls_hit(walls, hits)):
            a, b = corners[segment], corners[(segment + 1) % 12]
            d = (b - a) / np.hypot(*(b - a))
            n = np.array([-d[1], d[0]])
            offset.append((walls.centre_m[k] - a) @ n / walls.sigma_offset_m[k])
            turned = wrap_half(walls.normal_rad[k] - np.arctan2(*n))
            direction.append(turned / walls.sigma_normal_rad[k])
            for t in walls.span_m[k]:
                point = walls.centre_m[k] + t * along(walls.normal_rad[k])
                error_there = np.hypot(walls.sigma_offset_m[k], t * walls.sigma_normal_rad[k])
                ends.append((point - a) @ n / error_there)
    # 360 walls, twelve of a survey with shared pose errors: the share is known to some 2 %.
    for standardised in (offset, direction, ends):
        assert 0.91 < np.mean(np.abs(standardised) < 1.96) < 0.985


def test_cancelling_stops_the_join():
    survey, _, network = survey_of(ROOMS, STANDS, np.random.default_rng(1))
    faces = [fit_faces(c) for c in survey.captures]
    with pytest.raises(Cancelled):
        find_walls(survey, faces, network, Progress(cancelled=lambda: True))


def test_a_survey_without_faces_has_no_walls():
    survey, _, network = survey_of(ROOMS, STANDS[:1], np.random.default_rng(1))
    empty = dataclasses.replace(survey.captures[0], flag=np.ones(900, dtype=np.int64))
    walls = joined(Survey((empty,)), network)
    assert len(walls) == 0
    assert walls.drawn_m.shape == (0, 2, 2)
    assert (walls.wall_of_reading[0] == -1).all()


def test_an_unconnected_station_is_its_own_datum():
    survey, _, network = survey_of(
        ROOMS[:2] + [(4, 3), (0, 3)], STANDS[:1], np.random.default_rng(5)
    )
    unknown = dataclasses.replace(network, covariance=np.full((3, 3), np.nan))
    walls = joined(survey, unknown)
    assert len(walls) == 4
    assert np.isfinite(walls.sigma_offset_m).all()
