# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.errors import SurveyError
from roomtie.processing.walls.distances import Distances, PlanDistance
from roomtie.processing.walls.rooms_errors import face_errors
from roomtie.processing.walls.taped import Comparison, Taped, accuracy_class, compare
from scipy.stats import chi2
from simulated_rooms import network_of, storey, survey_of, walls_of

LINE = np.array([[0.0, 0.0], [0.0, 4.0]])


def comparison_of(differences_m, sigma_plan=0.001, sigma_tape=0.002):
    n = len(differences_m)
    taped = tuple(Taped("A", "B", 4.0, sigma_tape) for _ in range(n))
    plan = tuple(PlanDistance(4.0 + gap, sigma_plan, LINE) for gap in differences_m)
    return Comparison(taped, plan, (0,) * n, (1,) * n)


def test_a_verdict_weighs_both_errors():
    limit = 1.959964 * np.hypot(0.001, 0.002)
    found = comparison_of([0.99 * limit, 1.01 * limit, -1.01 * limit])
    assert found.verdicts == ("within tolerance", "plan too long", "plan too short")


def test_nineteen_of_twenty_good_distances_agree():
    """20,000 differences drawn with the stated errors: 95 % within tolerance, to 0.5 %."""
    gaps = np.random.default_rng(4).normal(0.0, np.hypot(0.001, 0.002), 20_000)
    assert np.mean(comparison_of(gaps).agrees) == pytest.approx(0.95, abs=0.005)


def test_an_accuracy_class_is_decided_by_chi_square():
    gaps = np.full(10, 0.004)
    asked = accuracy_class(comparison_of(gaps), 0.003)
    assert asked.statistic == pytest.approx(10 * 0.004**2 / (0.003**2 + 0.002**2))
    assert asked.bound == pytest.approx(chi2.ppf(0.95, 10))
    assert asked.met is True
    assert accuracy_class(comparison_of(gaps), 0.001).met is False
    assert asked.found_m == pytest.approx(np.sqrt(0.004**2 - 0.002**2))


def test_few_distances_decide_nothing():
    assert accuracy_class(comparison_of([0.0] * 4), 0.003).met is None


def test_a_good_plan_fails_its_class_as_often_as_stated():
    """5 % of good surveys fail at 95 %: of 2000, within 4 standard deviations (1 %) of 100."""
    rng = np.random.default_rng(6)
    failed = sum(
        not accuracy_class(comparison_of(rng.normal(0, np.hypot(0.003, 0.002), 8)), 0.003).met
        for _ in range(2000)
    )
    assert 60 <= failed <= 140


def test_a_row_that_names_nothing_is_told_with_its_place(example):
    walls = example.drawn.plans[0].walls
    errors = face_errors(example.tied.survey, example.tied.network, walls)
    distances = Distances(walls, errors, example.tied.network)
    with pytest.raises(SurveyError, match="Layer taped, row 3: 'W999' is no wall"):
        compare(distances, [Taped("W999", "W001", 1.0, 0.002, "Layer taped, row 3")])


def test_stated_errors_of_lengths_are_true():
    """Length and width of both rooms of 12 simulated storeys, stations exact: the mean square of
    error over standard error is 1 within what 48 values allow (chi-square, 99.9 %: 0.45 to 1.8)."""
    squares = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        plan = storey(rng, 2, 1)
        survey, orientation = survey_of(plan, rng)
        network = network_of(survey, plan.stations_m, orientation)
        walls = walls_of(survey, network)
        distances = Distances(walls, face_errors(survey, network, walls), network)
        for room in plan.rooms:
            low, high = np.array(room.bounds).reshape(2, 2)
            for axis in (0, 1):
                first, second = (
                    _wall_at(walls, axis, place[axis], low, high) for place in (low, high)
                )
                found = distances.between(first, second)
                squares.append(((found.length_m - (high - low)[axis]) / found.sigma_m) ** 2)
    assert 0.45 < np.mean(squares) < 1.8


def _wall_at(walls, axis, place, low, high):
    """The longest wall of a room that lies at this coordinate."""
    gap = np.abs(walls.centre_m[:, axis] - place)
    ends = np.sort(walls.drawn_m[:, :, 1 - axis], axis=1)
    middle = 0.5 * (low + high)[1 - axis]
    inside = (ends[:, 0] < middle + 0.5) & (ends[:, 1] > middle - 0.5)
    square = np.abs(walls.normal[:, axis]) > 0.99
    fits = np.flatnonzero((gap < 0.02) & inside & square)
    return walls.wall[fits[np.argmax(walls.length_m[fits])]]
