# SPDX-License-Identifier: GPL-2.0-or-later
"""Intersection and resection of targets: a textbook's figures, and closed formulas.

The intersection is problem 1 of the coordinate geometry chapter of J. Mahun's *Open Access
Surveying Library* (jerrymahun.com, "Solution: COGO Intersect and Transformations"): two stations
sight two targets; feet, angles to the second, coordinates printed to a thousandth.
"""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from roomtie.processing.angles import unit
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.observations import (
    Angles,
    Distances,
    Observations,
    Sightings,
    Unknowns,
)
from roomtie.processing.stations.target_geometry import resection_sigma_m

SECOND = np.pi / 648_000


def dms(degrees, minutes, seconds):
    return np.radians(degrees + minutes / 60 + seconds / 3600)


# East, north.
ONE, TWO = (2000.0, 1000.0), (1811.082, 480.951)
LR, FP = (1450.051, 836.445), (2435.613, 463.846)
AT_ONE = {"LR": dms(112, 31, 50) - dms(59, 5, 35), "FP": -dms(59, 5, 35)}
AT_TWO = {"LR": -dms(65, 26, 34), "FP": dms(137, 0, 42) - dms(65, 26, 34)}
POINTS = ("1", "2", "LR", "FP")


def network(xy, held):
    return Unknowns(
        point=POINTS,
        point_xy_m=np.array(xy, dtype=float),
        point_held=np.array([[name in held] * 2 for name in POINTS]),
    )


def test_an_intersection_has_the_coordinates_of_the_book():
    """Angles from the base at both stations; the book rounds the second station's place to half a
    thousandth, which moves the targets by about as much."""
    start = [ONE, TWO, (1500.0, 800.0), (2400.0, 500.0)]
    angles = Angles(
        at=[0, 0, 1, 1],
        backsight=[1, 1, 0, 0],
        foresight=[2, 3, 2, 3],
        angle_rad=[AT_ONE["LR"], AT_ONE["FP"], AT_TWO["LR"], AT_TWO["FP"]],
        sigma_rad=[SECOND] * 4,
    )
    result = adjust(network(start, {"1", "2"}), Observations(angles=angles))
    assert result.degrees_of_freedom == 0
    assert result.unknowns.point_xy_m[2:] == pytest.approx(np.array([LR, FP]), abs=0.0015)
    apart = np.hypot(*(result.unknowns.point_xy_m[2] - result.unknowns.point_xy_m[3]))
    assert apart == pytest.approx(1053.642, abs=0.002)


def test_polar_sightings_intersect_where_the_book_says():
    """The same from angles and the printed distances of the first station, 573.754 and 690.811, its
    orientation unknown and given by a sighting of the second station."""
    base = float(np.hypot(*np.subtract(TWO, ONE)))
    unknowns = Unknowns(
        station=("1",),
        station_xy_m=np.array([ONE]),
        orientation_rad=np.radians([190.0]),
        station_held=np.array([[True, True, False]]),
        point=("2", "LR", "FP"),
        point_xy_m=np.array([TWO, (1500.0, 800.0), (2400.0, 500.0)]),
        point_held=np.array([[True, True], [False, False], [False, False]]),
    )
    sightings = Sightings(
        [0, 0, 0],
        [1, 2, 3],
        [0.0, AT_ONE["LR"], AT_ONE["FP"]],
        [base, 573.754, 690.811],
        SECOND,
        0.001,
    )
    result = adjust(unknowns, Observations(sightings=sightings))
    assert result.unknowns.point_xy_m[1:] == pytest.approx(np.array([LR, FP]), abs=0.0015)
    # The base has the azimuth of 200 degrees by the book; rounded coordinates give it to a second.
    assert result.unknowns.orientation_rad[0] % (2 * np.pi) == pytest.approx(
        np.radians(200.0), abs=SECOND
    )


def test_a_resection_gives_the_book_s_station_back():
    """From the station's two angles between the other points, their printed coordinates held: a
    thousandth of a foot there and the half second of the angles make 0.003 of the station."""
    start = [(1950.0, 1050.0), TWO, LR, FP]
    angles = Angles([0, 0], [1, 1], [2, 3], [AT_ONE["LR"], AT_ONE["FP"]], [SECOND, SECOND])
    result = adjust(network(start, {"2", "LR", "FP"}), Observations(angles=angles))
    assert result.unknowns.point_xy_m[0] == pytest.approx(np.array(ONE), abs=0.005)


def tienstra(points, angles):
    """The station by Tienstra's formula (J. M. Porta and F. Thomas, *Concise proof of Tienstra's
    formula*, J. Surveying Eng. 135, 2009): `points (3, 2)` and the angles ``(3,)`` under which the
    station sees the side opposite to each, clockwise in the order of the points."""
    a, b, c = points

    def corner(p, q, r):
        u, v = q - p, r - p
        return np.arctan2(u[1] * v[0] - u[0] * v[1], u @ v)

    inner = np.array([corner(a, b, c), corner(b, c, a), corner(c, a, b)])
    k = 1.0 / (1.0 / np.tan(inner) - 1.0 / np.tan(angles))
    return k @ points / k.sum()


coordinate = st.floats(-6.0, 6.0)


@given(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=3), coordinate, coordinate)
def test_a_resection_is_that_of_tienstra_s_formula(points, x, y):
    points, at = np.array(points), np.array([x, y])
    away = points - at
    distance = np.hypot(*away.T)
    sides = [np.hypot(*(points[i] - points[j])) for i, j in ((0, 1), (1, 2), (2, 0))]
    assume(min(*distance, *sides) > 0.5)
    azimuth = np.arctan2(*away.T)
    # Far from the circle through the three points, on which any place will do.
    sigma = resection_sigma_m(azimuth, distance, np.full(3, 1e6), np.full(3, 1e-4))
    assume(sigma < 0.01)
    e, f = points[1] - points[0], points[2] - points[0]
    assume(abs(e[0] * f[1] - e[1] * f[0]) > 0.5)
    between = np.array([azimuth[2] - azimuth[1], azimuth[0] - azimuth[2], azimuth[1] - azimuth[0]])
    assume(np.abs(np.sin(between)).min() > 0.02)
    assert tienstra(points, between) == pytest.approx(at, abs=1e-7)
    unknowns = Unknowns(
        point=("P", "A", "B", "C"),
        point_xy_m=np.vstack([at + 0.02, points]),
        point_held=np.array([[False, False]] + [[True, True]] * 3),
    )
    angles = Angles([0, 0], [1, 1], [2, 3], azimuth[1:] - azimuth[0], [1e-4, 1e-4])
    result = adjust(unknowns, Observations(angles=angles))
    assert result.unknowns.point_xy_m[0] == pytest.approx(tienstra(points, between), abs=1e-6)


@given(coordinate, coordinate, st.floats(0.8, 8.0), st.floats(0.8, 8.0))
def test_a_trilateration_is_where_the_circles_meet(x, y, first, second):
    """Two distances: the foot of the chord by the law of cosines, and its height."""
    a, b = np.array([x, y]), np.array([x + 3.0, y + 1.0])
    base = float(np.hypot(*(b - a)))
    assume(abs(first - second) + 0.2 < base < first + second - 0.2)
    along = (first**2 - second**2 + base**2) / (2 * base)
    height = np.sqrt(first**2 - along**2)
    ray = (b - a) / base
    expected = a + along * ray + height * np.array([-ray[1], ray[0]])
    unknowns = Unknowns(
        point=("P", "A", "B"),
        point_xy_m=np.vstack([expected + 0.02 * unit(1.0), a, b]),
        point_held=np.array([[False, False], [True, True], [True, True]]),
    )
    distances = Distances([1, 2], [0, 0], [first, second], [0.002, 0.002])
    result = adjust(unknowns, Observations(distances=distances))
    assert result.unknowns.point_xy_m[0] == pytest.approx(expected, abs=1e-8)
