# SPDX-License-Identifier: GPL-2.0-or-later
"""What unseen errors would do, against networks adjusted anew with the error planted."""

from dataclasses import replace

import numpy as np
import pytest
from plane_networks import mixed_network
from roomtie.processing.stations.adjustment import FreeNetwork, adjust
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.observations import Observations, Sightings, Unknowns
from roomtie.processing.stations.reliability import LEAST_CONTROL, largest_unseen, resting
from roomtie.processing.stations.statistics import statistics_of
from surveyed import faces_of, survey


def stations_and_targets(seed=3, seen=((0, 1, 2, 3), (0, 1, 2), (1, 2, 3), (2, 3))):
    """Stations that sight common targets, the first held."""
    rng = np.random.default_rng(seed)
    xy = np.array([[0.0, 0.0], [6.0, 1.0], [3.0, 7.0], [9.0, 8.0]])[: len(seen)]
    turn = rng.uniform(-3, 3, len(seen))
    points = np.array([[2.0, 3.0], [4.0, -2.0], [7.0, 5.0], [1.0, 6.0]])
    station = np.repeat(np.arange(len(seen)), [len(s) for s in seen])
    target = np.concatenate(seen)
    points = points[: target.max() + 1]
    away = points[target] - xy[station]
    angle = np.arctan2(away[:, 0], away[:, 1]) - turn[station]
    n = len(station)
    sights = Sightings(
        station=station,
        to=len(seen) + target,
        angle_rad=(angle + 5e-4 * rng.standard_normal(n) + np.pi) % (2 * np.pi) - np.pi,
        distance_m=np.hypot(*away.T) + 2e-3 * rng.standard_normal(n),
        sigma_rad=np.full(n, 5e-4),
        sigma_m=np.full(n, 2e-3),
    )
    held = np.zeros((len(seen), 3), dtype=bool)
    held[0] = True
    unknowns = Unknowns(
        station=tuple(f"S{k}" for k in range(len(seen))),
        station_xy_m=xy,
        orientation_rad=turn,
        point=tuple(f"T{k}" for k in range(len(points))),
        point_xy_m=points,
        station_held=held,
    )
    return unknowns, Observations(sightings=sights)


def shifted(unknowns, observations, clean, row, bias):
    """By how much the stations move when a bias is planted in a row."""
    s = observations.sightings
    values = np.stack([s.angle_rad, s.distance_m], axis=1).ravel()
    values[row] += bias
    angle, distance = values.reshape(-1, 2).T
    planted = Observations(sightings=replace(s, angle_rad=angle, distance_m=distance))
    other = adjust(unknowns, planted)
    return np.hypot(*(other.unknowns.station_xy_m - clean.unknowns.station_xy_m).T)


def test_the_largest_unseen_error_is_the_largest_of_all():
    unknowns, observations = stations_and_targets()
    clean = adjust(unknowns, observations)
    statistics = statistics_of(clean)
    tried = np.flatnonzero(statistics.control >= LEAST_CONTROL)
    shift = np.array(
        [shifted(unknowns, observations, clean, row, statistics.detectable[row]) for row in tried]
    )
    found = largest_unseen(clean, statistics)
    worst, station = np.unravel_index(np.argmax(shift), shift.shape)
    # The equations are linear to a thousandth for errors of centimetres at these distances.
    assert found.shift_m == pytest.approx(shift.max(), rel=0.02)
    assert found.station == unknowns.station[station]
    assert found.observation == observations.describe(unknowns, int(tried[worst]))
    assert found.angular == found.observation.startswith("direction")


@pytest.mark.parametrize("datum", ["held", "free"])
def test_responses_are_the_influence_of_each_observation(datum):
    if datum == "free":
        unknowns, observations = stations_and_targets()
        unknowns = replace(unknowns, station_held=None)
        clean = adjust(unknowns, observations, free=FreeNetwork(np.arange(8) < 4))
    else:
        _, unknowns, observations = mixed_network(5)
        clean = adjust(unknowns, observations)
    columns = np.arange(3 * len(unknowns.station))
    follow, _, _ = clean.influence(np.eye(observations.rows))
    found = clean.response(columns)
    assert np.abs(found).max() > 0.1
    np.testing.assert_allclose(found, follow[columns].T, atol=1e-9 * np.abs(follow).max())


def test_a_station_without_redundancy_rests_on_its_distance():
    """With one target only, and its orientation held, its distance alone says how far it is."""
    unknowns, observations = stations_and_targets(seen=((0, 1, 2), (0, 1, 2), (2,)))
    held = unknowns.station_held.copy()
    held[2, 2] = True
    unknowns = replace(unknowns, station_held=held)
    clean = adjust(unknowns, observations)
    found = resting(clean, statistics_of(clean))
    assert [(r.stations, r.observation) for r in found] == [(("S2",), "distance S2-T2")]
    assert found[0].redundancy == pytest.approx(0.0, abs=1e-9)
    assert found[0].shift_m == np.inf
    # It moves with all of its error, along the beam.
    assert found[0].share == pytest.approx(1.0, abs=1e-9)


def test_a_strong_network_rests_on_nothing():
    unknowns, observations = stations_and_targets(seen=((0, 1, 2, 3),) * 4)
    clean = adjust(unknowns, observations)
    assert resting(clean, statistics_of(clean)) == []


def test_it_works_on_all_kinds_of_observation():
    _, unknowns, observations = mixed_network(5)
    clean = adjust(unknowns, observations)
    found = largest_unseen(clean, statistics_of(clean))
    assert found.shift_m > 0.0 and found.station in unknowns.station


def test_a_free_network_has_one_too():
    unknowns, observations = stations_and_targets()
    unknowns = replace(unknowns, station_held=None)
    free = FreeNetwork(np.arange(8) < 4)
    clean = adjust(unknowns, observations, free=free)
    assert 0.0 < largest_unseen(clean, statistics_of(clean)).shift_m < 0.1


def test_ties_of_a_survey_say_what_they_would_show():
    taken = survey(seed=31)
    ties = adjust_survey(taken, faces_of(taken)).ties
    sighted = np.array([name.startswith("S1 to") for name in ties.name])
    # delta0 = 4.13 for sigma 2 mm is the least there can be, with full redundancy.
    assert (ties.detectable_m[sighted] > 4.13 * 0.002).all()
    assert (ties.detectable_rad[sighted] > 4.13 * np.radians(0.03)).all()
    expected = 4.13 * 0.002 / np.sqrt(ties.redundancy[sighted])
    assert (ties.detectable_m[sighted] < 4 * expected).all()
