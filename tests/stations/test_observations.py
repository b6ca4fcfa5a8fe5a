# SPDX-License-Identifier: GPL-2.0-or-later
"""Observation equations: their conventions against the contract's formulas, and their analytic
derivatives against central differences."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.errors import SurveyError
from roomtie.processing.stations.observations import (
    Angles,
    Azimuths,
    Distances,
    Observations,
    Orientations,
    Positions,
    RelativePoses,
    ScalarValues,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)
from roomtie.processing.stations.observations_equations import equations

ANGLE = st.floats(-10.0, 10.0)
COORDINATE = st.floats(-50.0, 50.0)

every_kind = Observations(
    distances=Distances([0, 3, 2], [1, 4, 3], [4.0, 5.0, 6.0], 0.002, zero=[0, -1, 0]),
    angles=Angles([0, 3], [1, 4], [2, 0], [1.0, 5.0], 1e-3),
    azimuths=Azimuths([3], [1], [2.0], 1e-3),
    sightings=Sightings([0, 1], [3, 2], [0.5, -2.0], [3.0, 4.0], 1e-3, 0.002, zero=[0, -1]),
    relative_poses=RelativePoses([0, 2], [1, 0], [[1, 2, 3.0], [3, 2, 1.0]], np.eye(3)),
    positions=Positions([0, 4], [[1, 2.0], [3, 4.0]], np.eye(2)),
    orientations=Orientations([1, 2], [0.1, 3.0], 0.01, offset=[1, -1]),
    surface_directions=SurfaceDirections([0, 2], [2, 2], [1.0, 2.0], 0.01),
    surface_offsets=SurfaceOffsets(
        [0, 2], [0, 4], [2, 2], [0, 0], [[1.0, 2.0], [-3.0, 0.5]], 0.002
    ),
    scalar_values=ScalarValues([1], [0.5], [0.1]),
)


def unknowns_of(xy, orientation, scalar):
    xy = np.reshape(xy, (5, 2))
    return Unknowns(
        station=("A", "B", "C"),
        station_xy_m=xy[:3],
        orientation_rad=np.array(orientation),
        point=("p", "q"),
        point_xy_m=xy[3:],
        scalar_name=("zero", "compass", "surface"),
        scalar=np.array(scalar),
    )


@settings(max_examples=30, deadline=None)
@given(
    st.lists(COORDINATE, min_size=10, max_size=10),
    st.lists(ANGLE, min_size=3, max_size=3),
    st.lists(st.floats(-3.0, 3.0), min_size=3, max_size=3),
)
def test_derivatives_are_those_of_central_differences(xy, orientation, scalar):
    unknowns = unknowns_of(xy, orientation, scalar)
    places = unknowns.place_xy_m()
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))[np.triu_indices(5, 1)]
    if apart.min() < 0.5:  # third derivatives, hence the differences' error, grow as 1/d3
        return
    vector = np.append(unknowns.vector, 0.0)
    h = 1e-5
    for equation in equations(unknowns, every_kind):
        _, jacobian = equation.evaluate(vector)
        rows = np.arange(len(equation.columns))[:, None]
        dense = np.zeros((*jacobian.shape[:2], len(vector)))
        for k in range(equation.columns.shape[1]):
            dense[rows[:, 0], :, equation.columns[:, k]] += jacobian[:, :, k]
        for column in range(unknowns.size):
            step = np.zeros(len(vector))
            step[column] = h
            ahead = equation.evaluate(vector + step)[0]
            behind = equation.evaluate(vector - step)[0]
            difference = ahead - behind
            # A residual near half a turn may wrap between the two.
            near = np.abs(difference) > 1.0
            difference[near] = wrap_half(difference[near])
            assert difference / (2 * h) == pytest.approx(dense[:, :, column], abs=2e-6)


@given(st.lists(COORDINATE, min_size=2, max_size=2), ANGLE, ANGLE, st.floats(0.1, 30.0))
def test_a_reading_lies_where_the_contract_puts_it(position, orientation, angle, distance):
    """x = X + d sin(a + orientation), y = Y + d cos(a + orientation)."""
    x = position[0] + distance * np.sin(angle + orientation)
    y = position[1] + distance * np.cos(angle + orientation)
    unknowns = Unknowns(
        station=("A",),
        station_xy_m=np.array([position]),
        orientation_rad=np.array([orientation]),
        point=("t",),
        point_xy_m=np.array([[x, y]]),
    )
    observations = Observations(sightings=Sightings([0], [1], [angle], [distance], 1e-3, 1e-3))
    (equation,) = equations(unknowns, observations)
    residual, _ = equation.evaluate(np.append(unknowns.vector, 0.0))
    assert residual == pytest.approx(np.zeros((1, 2)), abs=1e-11)


@given(st.lists(COORDINATE, min_size=4, max_size=4), ANGLE, ANGLE)
def test_a_relative_pose_is_the_second_station_in_the_first_ones_frame(xy, first, second):
    a, b = np.reshape(xy, (2, 2))
    local = turn(b - a, -first)
    assert turn(local, first) + a == pytest.approx(b, abs=1e-11)
    unknowns = Unknowns(
        station=("A", "B"),
        station_xy_m=np.array([a, b]),
        orientation_rad=np.array([first, second]),
    )
    pose = [[*local, second - first + 2 * np.pi]]
    (equation,) = equations(
        unknowns, Observations(relative_poses=RelativePoses([0], [1], pose, np.eye(3)))
    )
    residual, _ = equation.evaluate(np.append(unknowns.vector, 0.0))
    assert residual == pytest.approx(np.zeros((1, 3)), abs=1e-10)


def test_compass_surface_and_zero_error():
    unknowns = unknowns_of(np.arange(10.0) ** 1.5, [0.2, 0.4, 6.5], [0.01, -0.3, 1.5])
    values = {e.name: e for e in equations(unknowns, every_kind)}
    vector = np.append(unknowns.vector, 0.0)
    residual = values["orientations"].evaluate(vector)[0][:, 0]
    assert residual == pytest.approx([0.4 - 0.3 - 0.1, 6.5 - 3.0 - 2 * np.pi * 1], abs=1e-12)
    residual = values["surface_directions"].evaluate(vector)[0][:, 0]
    assert residual == pytest.approx([1.5 - 0.2 - 1.0, wrap_half(1.5 - 6.5 - 2.0)], abs=1e-12)
    xy = unknowns.place_xy_m()
    residual = values["distances"].evaluate(vector)[0][:, 0]
    lengths = np.hypot(*(xy[[1, 4, 3]] - xy[[0, 3, 2]]).T)
    assert residual == pytest.approx(lengths + [0.01, 0.0, 0.01] - [4, 5, 6], abs=1e-12)


def test_a_surface_lies_at_its_distance_along_the_normal():
    """A wall through (3, 0) whose normal points along +x, seen from two stations."""
    unknowns = Unknowns(
        station=("A", "B"),
        station_xy_m=np.array([[1.0, 5.0], [7.0, -2.0]]),
        orientation_rad=np.array([0.7, -2.0]),
        scalar_name=("azimuth", "distance"),
        scalar=np.array([np.pi / 2, 2.0]),
    )
    seen = np.array([[3.0, 8.0], [3.0, -6.0]])
    centre = [
        turn(point - position, -orientation)
        for point, position, orientation in zip(
            seen, unknowns.station_xy_m, unknowns.orientation_rad
        )
    ]
    observations = Observations(
        surface_offsets=SurfaceOffsets([0, 1], [0, 0], [0, 0], [1, 1], centre, 0.002)
    )
    (equation,) = equations(unknowns, observations)
    residual, _ = equation.evaluate(np.append(unknowns.vector, 0.0))
    assert residual == pytest.approx(np.zeros((2, 1)), abs=1e-12)


def test_rows_and_their_names():
    unknowns = unknowns_of(np.arange(10.0) ** 1.5, [0, 0, 0], [0, 0, 0])
    assert every_kind.rows == 3 + 2 + 1 + 4 + 6 + 4 + 2 + 2 + 2 + 1
    assert every_kind.rows_of("sightings") == slice(6, 10)
    assert every_kind.locate(9) == ("sightings", 1, 1)
    assert every_kind.by_item("relative_poses", np.arange(27)).tolist() == [
        [10, 11, 12],
        [13, 14, 15],
    ]
    texts = [every_kind.describe(unknowns, row) for row in (0, 3, 5, 6, 7, 13, 19, 20, 22, 24, 26)]
    assert texts == [
        "distance A-B",
        "angle B-A-C",
        "azimuth p-B",
        "direction A-p",
        "distance A-p",
        "relative pose C-A",
        "position q",
        "orientation B",
        "surface direction A-surface",
        "surface offset A-surface",
        "value compass",
    ]
    with pytest.raises(IndexError):
        every_kind.locate(27)


def test_the_vector_of_unknowns_and_back():
    unknowns = unknowns_of(np.arange(10.0), [0.1, 0.2, 0.3], [7, 8, 9])
    vector = unknowns.vector
    assert vector.tolist() == [0, 1, 0.1, 2, 3, 0.2, 4, 5, 0.3, 6, 7, 8, 9, 7, 8, 9]
    again = unknowns.with_vector(vector + 1)
    assert (again.vector == vector + 1).all()
    assert unknowns.place("q") == 4
    assert vector[unknowns.place_column(4)] == 8
    assert [unknowns.owner(c) for c in (2, 11, 14)] == ["station A", "point q", "compass"]
    with pytest.raises(SurveyError, match="no station or point 'z'"):
        unknowns.place("z")


def test_shapes_and_values_are_checked():
    with pytest.raises(SurveyError, match="distance_m is"):
        Distances([0, 1], [1, 2], [4.0], 0.002)
    with pytest.raises(SurveyError, match="to has 3 values, expected 2"):
        Distances([0, 1], [1, 2, 3], [4.0, 5.0], 0.002)
    with pytest.raises(SurveyError, match="not positive"):
        Distances([0], [1], [4.0], 0.0)
    with pytest.raises(SurveyError, match="not a finite number"):
        Distances([0], [1], [np.nan], 0.001)
    with pytest.raises(SurveyError, match="station_xy_m is"):
        Unknowns(station=("A",))
    with pytest.raises(SurveyError, match="point_held is"):
        Unknowns(point=("p",), point_xy_m=np.zeros((1, 2)), point_held=np.array([True]))
    assert Distances([0, 1], [1, 2], [4.0, 5.0], 0.002).sigma_m.tolist() == [0.002, 0.002]
    assert RelativePoses([0, 1], [1, 2], np.zeros((2, 3)), np.eye(3)).covariance.shape == (2, 3, 3)
    assert len(Observations().sightings) == Observations().rows == 0
