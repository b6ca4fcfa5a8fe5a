# SPDX-License-Identifier: GPL-2.0-or-later
"""Data snooping: planted blunders are found, one at a time, and nothing else is taken out."""

from dataclasses import replace

import numpy as np
import pytest
from plane_networks import mixed_network
from roomtie.processing.angles import turn
from roomtie.processing.errors import SurveyError
from roomtie.processing.stations.adjustment import FreeNetwork, adjust, solve_linear
from roomtie.processing.stations.adjustment_problem import Problem
from roomtie.processing.stations.adjustment_robust import robust_values
from roomtie.processing.stations.blunders import snoop
from roomtie.processing.stations.blunders_search import Search
from roomtie.processing.stations.observations import (
    Distances,
    Observations,
    Positions,
    RelativePoses,
    Sightings,
    Unknowns,
)
from roomtie.processing.stations.statistics import statistics_of
from scipy.stats import chi2

MM = 1e-3


def ring(count=6, seed=0, noise=1.0):
    """Stations around a court, each tied to the next two, by relative poses; the first held."""
    rng = np.random.default_rng(seed)
    around = 2 * np.pi * np.arange(count) / count
    xy = 4 * np.stack([np.sin(around), np.cos(around)], axis=1)
    orientation = rng.uniform(-np.pi, np.pi, count)
    first = np.concatenate([np.arange(count), np.arange(count)])
    second = (first + np.repeat([1, 2], count)) % count
    sigma = np.array([2 * MM, 2 * MM, 5e-4])
    correlation = np.array([[1.0, 0.3, 0.2], [0.3, 1.0, -0.4], [0.2, -0.4, 1.0]])
    covariance = np.outer(sigma, sigma) * correlation
    pose = np.array(
        [
            [*turn(xy[j] - xy[i], -orientation[i]), orientation[j] - orientation[i]]
            for i, j in zip(first, second)
        ]
    )
    pose += noise * rng.multivariate_normal(np.zeros(3), covariance, len(pose))
    held = np.zeros((count, 3), dtype=bool)
    held[0] = True
    unknowns = Unknowns(
        station=tuple("ABCDEFGHIJ"[:count]),
        station_xy_m=xy,
        orientation_rad=orientation,
        station_held=held,
    )
    return unknowns, Observations(relative_poses=RelativePoses(first, second, pose, covariance))


def planted(observations, item, error):
    ties = observations.relative_poses
    pose = ties.pose.copy()
    pose[item] += error
    return replace(observations, relative_poses=replace(ties, pose=pose))


def test_nothing_is_rejected_without_a_blunder():
    for seed in range(10):
        result = snoop(*ring(seed=seed))
        assert result.rejected == ()
        assert result.adjustment.used.all()


@pytest.mark.parametrize("item", range(12))
@pytest.mark.parametrize(
    "error", [(0.05, 0.0, 0.0), (0.0, -0.05, 0.0), (0.0, 0.0, 0.01), (3.0, 2.0, 2.5)]
)
def test_a_wrong_tie_is_found_whatever_is_wrong_with_it(item, error):
    unknowns, observations = ring(seed=item)
    result = snoop(unknowns, planted(observations, item, error))
    assert [(r.kind, r.item, r.component) for r in result.rejected] == [
        ("relative_poses", item, -1)
    ]
    assert result.rejected[0].critical == pytest.approx(16.27, abs=0.01)
    assert result.rejected[0].test > 16.27
    assert not observations.by_item("relative_poses", result.adjustment.used)[item].any()
    assert result.statistics.passes
    used = observations.all_used()
    used[3 * item : 3 * item + 3] = False
    clean = adjust(unknowns, observations, used=used)
    assert result.adjustment.unknowns.vector == pytest.approx(clean.unknowns.vector, abs=1e-9)


def test_several_wrong_ties_are_found_one_after_the_other():
    unknowns, observations = ring(8, seed=3)
    for item, error in ((1, (0.5, 0, 0)), (9, (0, 0.2, 0.02)), (14, (0.03, 0.03, 0))):
        observations = planted(observations, item, error)
    result = snoop(unknowns, observations)
    assert [r.item for r in result.rejected] == [1, 9, 14]  # the largest first
    assert result.statistics.passes
    limited = snoop(unknowns, observations, most=2)
    assert [r.item for r in limited.rejected] == [1, 9]


def test_what_may_not_be_tested_stays():
    unknowns, observations = ring(seed=2)
    observations = planted(observations, 4, (0.05, 0, 0))
    testable = observations.all_used()
    testable[12:15] = False
    result = snoop(unknowns, observations, testable=testable)
    assert all(r.item != 4 for r in result.rejected)
    with pytest.raises(SurveyError, match="testable is"):
        snoop(unknowns, observations, testable=testable[:3])


def test_an_observation_without_redundancy_is_never_rejected():
    """A point hanging on one sighting, and a station hanging on one tie, far from where the
    approximate values had them: nothing contradicts them."""
    unknowns, observations = ring(seed=1)
    more = Unknowns(
        station=(*unknowns.station, "Z"),
        station_xy_m=np.vstack([unknowns.station_xy_m, [50.0, 50.0]]),
        orientation_rad=np.append(unknowns.orientation_rad, 1.0),
        station_held=np.vstack([unknowns.station_held, [False] * 3]),
        point=("t",),
        point_xy_m=np.array([[1.0, 1.0]]),
    )
    ties = observations.relative_poses
    observations = Observations(
        relative_poses=RelativePoses(
            np.append(ties.station, 2),
            np.append(ties.to, 6),
            np.vstack([ties.pose, [1.0, 1.0, 0.5]]),
            ties.covariance[0],
        ),
        sightings=Sightings([3], [7], [0.3], [20.0], 1e-3, 2 * MM),
    )
    observations = planted(observations, 5, (0.1, 0.0, 0.0))
    result = snoop(more, observations, least_redundancy=0.0)
    assert [(r.kind, r.item) for r in result.rejected] == [("relative_poses", 5)]


def test_what_is_left_is_always_determined():
    """A blunder that only its neighbours in a short loop contradict: the snooping stops before it
    takes the network apart."""
    unknowns, observations = ring(3, seed=5)
    one_loop = replace(
        observations,
        relative_poses=RelativePoses(
            [0, 1, 2], [1, 2, 0], observations.relative_poses.pose[:3], np.diag([4e-6, 4e-6, 1e-7])
        ),
    )
    result = snoop(unknowns, planted(one_loop, 1, (0.3, 0.0, 0.0)))
    assert len(result.rejected) == 1
    assert result.adjustment.degrees_of_freedom == 0
    # A single loop cannot tell which of its ties is wrong, and says so.
    assert len(result.rejected[0].rivals) == 2
    assert "would explain the misclosure as well" in result.rejected[0].reason


def test_angle_and_distance_of_a_sighting_are_rejected_apart():
    rng = np.random.default_rng(8)
    xy = np.array([[0.0, 0.0], [5.0, 0.0], [2.0, 4.0]])
    targets = rng.uniform(0, 5, (6, 2))
    station, target = np.repeat(np.arange(3), 6), np.tile(np.arange(6), 3)
    difference = targets[target] - xy[station]
    angle = np.arctan2(*difference.T) + rng.normal(size=18) * 5e-4
    distance = np.hypot(*difference.T) + rng.normal(size=18) * 2 * MM
    angle[4] += 0.02
    distance[9] += 0.04
    unknowns = Unknowns(
        station=("A", "B", "C"),
        station_xy_m=xy,
        orientation_rad=np.zeros(3),
        point=tuple(f"t{i}" for i in range(6)),
        point_xy_m=targets,
    )
    observations = Observations(
        sightings=Sightings(station, target + 3, angle, distance, 5e-4, 2 * MM)
    )
    everywhere = FreeNetwork(np.ones(9, dtype=bool))
    result = snoop(unknowns, observations, free=everywhere)
    assert {(r.item, r.component) for r in result.rejected} == {(4, 0), (9, 1)}
    # The inner constraints still refer to the approximate coordinates.
    again = adjust(unknowns, observations, used=result.adjustment.used, free=everywhere)
    assert result.adjustment.unknowns.vector == pytest.approx(again.unknowns.vector, abs=1e-10)
    moved = result.adjustment.unknowns.place_xy_m() - unknowns.place_xy_m()
    assert moved.sum(axis=0) == pytest.approx([0, 0], abs=1e-10)


def test_a_good_observation_rejected_on_the_way_is_taken_back():
    """Two blunders that agree with each other make a good observation look wrong first. Distances
    to an unknown point: two of five are 40 mm too long on one side."""
    control = np.array([[0.0, 0.0], [0.0, 0.1], [0.0, -0.1], [8.0, 0.0], [8.0, 0.1], [4.0, 6.0]])
    point = np.array([4.0, 0.02])
    distance = np.hypot(*(control - point).T)
    unknowns = Unknowns(
        point=(*"abcdef", "p"),
        point_xy_m=np.vstack([control, point]),
        point_held=np.array([[True, True]] * 6 + [[False, False]]),
    )
    sigma = np.array([2.0, 2.0, 2.0, 2.0, 2.0, 2.0]) * MM
    for errors in ({0: 0.03, 1: 0.035}, {3: 0.05, 0: 0.04}, {2: 0.02, 4: 0.09}):
        wrong = distance.copy()
        for item, error in errors.items():
            wrong[item] += error
        observations = Observations(distances=Distances([6] * 6, np.arange(6), wrong, sigma))
        result = snoop(unknowns, observations)
        # Nothing that the final network agrees with is left out.
        out = ~result.adjustment.used
        assert (result.statistics.test[out] > result.statistics.critical[out]).all()
        kept = result.adjustment.used & (result.statistics.control > 0.05)
        assert (result.statistics.test[kept] <= result.statistics.critical[kept]).all()


def test_a_wrong_control_point_is_rejected_as_a_whole():
    unknowns, observations = ring(seed=6)
    free = replace(unknowns, station_held=None)
    control = np.array([0, 2, 3, 4])
    xy = unknowns.station_xy_m[control].copy()
    xy[2] += [0.2, 0.1]
    observations = replace(
        observations, positions=Positions(control, xy, np.eye(2) * (5 * MM) ** 2)
    )
    result = snoop(free, observations)
    assert [(r.kind, r.item, r.component) for r in result.rejected] == [("positions", 2, -1)]
    assert "chi-square" in result.rejected[0].reason


def test_the_same_in_any_order():
    unknowns, observations = ring(8, seed=3)
    for item, error in ((1, (0.5, 0, 0)), (9, (0, 0.2, 0.02))):
        observations = planted(observations, item, error)
    ties = observations.relative_poses
    order = np.random.default_rng(1).permutation(len(ties))
    shuffled = Observations(
        relative_poses=RelativePoses(
            ties.station[order], ties.to[order], ties.pose[order], ties.covariance[order]
        )
    )
    one, two = snoop(unknowns, observations), snoop(unknowns, shuffled)
    assert [r.item for r in one.rejected] == [int(order[r.item]) for r in two.rejected]
    assert two.adjustment.unknowns.vector == pytest.approx(
        one.adjustment.unknowns.vector, abs=1e-10
    )


@pytest.mark.parametrize("seed", range(4))
def test_gross_ties_are_found_though_the_start_was_built_on_them(seed):
    """Ten stations, thirty ties, three of them wrong by metres and a right angle; the approximate
    poses are chained along the ring through two of the wrong ones."""
    unknowns, observations = ring(10, seed=seed)
    ties = observations.relative_poses
    far = (np.arange(10) + 3) % 10
    truth = [
        [
            *turn(
                unknowns.station_xy_m[j] - unknowns.station_xy_m[i], -unknowns.orientation_rad[i]
            ),
            unknowns.orientation_rad[j] - unknowns.orientation_rad[i],
        ]
        for i, j in enumerate(far)
    ]
    observations = Observations(
        relative_poses=RelativePoses(
            np.append(ties.station, np.arange(10)),
            np.append(ties.to, far),
            np.vstack([ties.pose, truth]),
            ties.covariance[0],
        )
    )
    wrong = [2, 6, 17]
    for item in wrong:
        observations = planted(observations, item, (2.0, -1.0, np.pi / 2))
    xy, orientation = unknowns.station_xy_m.copy(), unknowns.orientation_rad.copy()
    for i in range(9):  # tie i leads from station i to the next
        x, y, angle = observations.relative_poses.pose[i]
        xy[i + 1] = turn(np.array([x, y]), orientation[i]) + xy[i]
        orientation[i + 1] = orientation[i] + angle
    start = replace(unknowns, station_xy_m=xy, orientation_rad=orientation)
    result = snoop(start, observations)
    assert sorted(r.item for r in result.rejected) == wrong
    assert np.abs(result.adjustment.unknowns.station_xy_m - unknowns.station_xy_m).max() < 0.03


def snoop_anew(unknowns, observations, free):
    """The same search, with all statistics taken anew of a network solved anew after each
    observation that is taken out or back."""
    used, out, back = observations.all_used(), [], set()
    free_places = None if free is None else free.places
    components = freedom(observations)

    def take_out(statistics, square, critical):
        chance = chi2.logsf(square, components)
        may = used & (statistics.control > 0.05) & (square > critical)
        if not may.any():
            return False
        out.append(item_rows(observations, int(np.argmin(np.where(may, chance, 1.0)))))
        used[out[-1]] = False
        return True

    def squared(values):
        return np.where(components > 1, values, values**2)

    result = adjust(unknowns, observations, free=free)
    problem = Problem(unknowns, observations, None, free_places)
    robust, off = robust_values(problem, observations.all_used(), result.unknowns)
    gate = np.where(components > 1, chi2.isf(0.001, components), 3.29**2)
    while take_out(
        statistics_of(
            solve_linear(Problem(unknowns, observations, used.copy(), free_places), robust)
        ),
        off**2 * components,
        gate,
    ):
        pass
    while True:
        result = adjust(unknowns, observations, used=used.copy(), free=free, start=robust)
        statistics = statistics_of(result)
        share = statistics.test / statistics.critical
        if take_out(statistics, squared(statistics.test), squared(statistics.critical)):
            continue
        agreeing = [r for r in out if share[r.start] <= 1.0 and r.start not in back]
        if not agreeing:
            return result, statistics, out
        rows = min(agreeing, key=lambda r: share[r.start])
        used[rows] = True
        out.remove(rows)
        back.add(rows.start)


def freedom(observations):
    return np.concatenate(
        [
            np.full(rows.stop - rows.start, kind.components if kind.correlated else 1)
            for _, kind, rows in observations.kinds()
        ]
    )


def item_rows(observations, row):
    for _, kind, rows in observations.kinds():
        if rows.start <= row < rows.stop:
            size = kind.components if kind.correlated else 1
            first = rows.start + (row - rows.start) // size * size
            return slice(first, first + size)
    raise IndexError(row)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("held", [True, False])
def test_the_same_as_with_everything_adjusted_anew(seed, held):
    """Networks of all kinds of observations with several errors of 5 to 40 standard errors."""
    rng = np.random.default_rng(seed)
    _, start, observations = mixed_network(seed, held)
    sighted = observations.sightings
    for item in rng.choice(len(sighted), 3, replace=False):
        sighted.distance_m[item] += rng.uniform(5, 40) * sighted.sigma_m[item]
    for item in rng.choice(len(sighted), 2, replace=False):
        sighted.angle_rad[item] += rng.uniform(5, 40) * sighted.sigma_rad[item]
    observations.relative_poses.pose[1, :2] += 0.1
    free = None if held else FreeNetwork(np.ones(len(start.place_xy_m()), dtype=bool))
    found = snoop(start, observations, free=free)
    result, statistics, out = snoop_anew(start, observations, free)
    assert len(found.rejected) >= 3
    np.testing.assert_array_equal(found.adjustment.used, result.used)
    assert found.adjustment.unknowns.vector == pytest.approx(result.unknowns.vector, abs=1e-9)
    # As well as the inverse of the normal equations is known, in standard errors.
    assert found.statistics.test == pytest.approx(statistics.test, rel=1e-6, abs=1e-6)
    reasons = {item_rows(observations, row_of(observations, r)).start: r for r in found.rejected}
    assert sorted(reasons) == sorted(rows.start for rows in out)
    assert all(r.test == pytest.approx(statistics.test[at]) for at, r in reasons.items())


def row_of(observations, rejection):
    first = observations.rows_of(rejection.kind).start
    components = getattr(observations, rejection.kind).components
    return first + rejection.item * components + max(rejection.component, 0)


def test_what_fails_plainly_fails_by_the_statistics_of_all():
    plain, failing = 0, 0
    for seed in range(40):
        rng = np.random.default_rng([7, seed])
        _, start, observations = mixed_network(seed, seed % 2)
        sighted = observations.sightings
        if seed % 4:
            sighted.distance_m[rng.integers(len(sighted))] += rng.uniform(0, 12) * 2 * MM
        testable = rng.random(observations.rows) < 0.9
        for _, kind, rows in observations.kinds():
            if kind.correlated:
                testable[rows] = True
        free = None if seed % 2 else np.ones(len(start.place_xy_m()), dtype=bool)
        search = Search(Problem(start, observations, None, free), testable, 0.05, 10)
        search.adjust(start)
        told = search.plainly_failing()
        plain += told
        failing += search.failing().any()
        assert not told or search.failing().any()
    assert 10 < plain <= failing < 40
