# SPDX-License-Identifier: GPL-2.0-or-later
"""What is written into layers comes back as it was."""

from datetime import datetime, timezone

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.model import Capture, Flag, Kind, Survey
from roomtie.processing.errors import SurveyError
from roomtie.processing.layers import read, rows, rows_plan, schema
from roomtie.processing.layers.read_walls import read_walls
from roomtie.processing.layers.table import Table, concatenate, make_table, points
from roomtie.processing.stations.model import (
    Network,
    NetworkStatistics,
    Status,
    Targets,
    TieKind,
    Ties,
)
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.model import WallFaces


def capture(station: str, distances: list[float], **header) -> Capture:
    n = len(distances)
    distance = np.array(distances, dtype=float)
    return Capture(
        station=station,
        capture_file=f"{station}.csv",
        seq=np.arange(1, n + 1),
        angle_deg=np.linspace(0.0, 359.0, n),
        zenith_deg=np.full(n, 90.0),
        slope_distance_m=distance,
        distance_m=distance,
        kind=np.full(n, int(Kind.RING)),
        target=np.full(n, "", dtype=np.str_),
        intensity=np.full(n, np.nan),
        flag=np.where(np.isnan(distance), int(Flag.NO_RETURN), int(Flag.USABLE)),
        line=np.arange(n),
        **header,
    )


def columns_of(table: Table) -> dict:
    return dict(zip(table.schema.field_names, table.columns))


def network(n: int) -> Network:
    rng = np.random.default_rng(5)
    root = rng.normal(size=(3 * n, 3 * n)) * 1e-3
    none, whole = np.empty(0), np.empty(0, dtype=np.int64)
    return Network(
        station=tuple(f"S{i}" for i in range(n)),
        xy_m=rng.uniform(-20, 20, (n, 2)),
        orientation_rad=rng.uniform(0, 6, n),
        covariance=root @ root.T,
        network=np.ones(n, dtype=np.int64),
        status=(Status.HELD,) + (Status.ADJUSTED,) * (n - 1),
        ties=Ties(
            ("S0-S1",),
            (TieKind.OVERLAP,),
            np.array([0]),
            np.array([1]),
            np.array([-1]),
            np.array([0.002]),
            np.array([0.0001]),
            np.array([1.2]),
            np.array([0.5]),
            np.array([True]),
            ("",),
        ),
        targets=Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), whole, whole),
        statistics=NetworkStatistics(1.0, 3, 0.1, 3.1, 1.2, 0, 0),
        warnings=tuple(none),
    )


NUMBER = st.floats(-1e6, 1e6, allow_nan=False)


@given(
    st.lists(st.one_of(st.just(float("nan")), st.floats(0.01, 99.0)), min_size=1, max_size=20),
    NUMBER,
    st.sampled_from([True, False, None]),
    st.text(max_size=20),
)
def test_a_survey_comes_back_from_its_layers(distances, tilt, moved, comment):
    header = {
        "level": 2,
        "tilt_deg": tilt,
        "moved": moved,
        "comment": comment,
        "captured_at": datetime(2026, 3, 18, 9, 30, tzinfo=timezone.utc),
        "distance_sigma_m": 0.003,
        "distance_zero_m": 0.012,
        "axis_eccentricity_m": -0.004,
        "angle_scale": 5e-5,
    }
    survey = Survey((capture("S0", distances, **header), capture("Ω 1", [1.0, 2.0])))
    stations = rows.recorded_stations(survey, np.zeros((2, 2)), np.zeros(2))
    positions = [c.xy_m for c in survey.captures]
    readings = rows.readings(survey, positions, [0, 0])
    back = read.survey(columns_of(stations), columns_of(readings))
    assert back.names == survey.names
    for before, after in zip(survey.captures, back.captures):
        for name in ("angle_deg", "slope_distance_m", "distance_m", "kind", "flag", "seq"):
            np.testing.assert_array_equal(getattr(after, name), getattr(before, name))
        assert after.moved == before.moved
        assert after.comment == before.comment
        assert after.captured_at == before.captured_at
        assert after.level == before.level
        for name in ("distance_sigma_m", "distance_zero_m", "axis_eccentricity_m", "angle_scale"):
            np.testing.assert_allclose(getattr(after, name), getattr(before, name), rtol=1e-15)


def test_a_reading_without_return_has_no_geometry():
    survey = Survey((capture("S0", [1.0, float("nan"), 2.0]),))
    table = rows.readings(survey, [survey.captures[0].xy_m], [0])
    assert [g is None for g in table.geometry] == [False, True, False]
    assert table.column("flag") == ["", "no return", ""]
    assert table.column("distance_m")[1] is None


def test_a_network_comes_back_with_its_covariances():
    net = network(3)
    survey = Survey(tuple(capture(name, [1.0]) for name in net.station))
    stations = columns_of(rows.adjusted_stations(survey, net))
    covariance = columns_of(rows.network_covariance(net))
    back = read.network(stations, None, covariance)
    np.testing.assert_allclose(back.xy_m, net.xy_m)
    np.testing.assert_allclose(np.cos(back.orientation_rad - net.orientation_rad), 1.0)
    np.testing.assert_allclose(back.covariance, net.covariance, atol=1e-18, rtol=1e-9)
    assert back.status == net.status


def test_without_the_table_stations_are_uncorrelated_but_x_and_y_are_not():
    net = network(2)
    survey = Survey(tuple(capture(name, [1.0]) for name in net.station))
    back = read.network(columns_of(rows.adjusted_stations(survey, net)))
    np.testing.assert_allclose(back.covariance[:2, :2], net.covariance[:2, :2], rtol=1e-9)
    np.testing.assert_array_equal(back.covariance[:3, 3:], 0.0)


def test_an_unconnected_station_has_no_standard_errors():
    net = network(2)
    covariance = net.covariance.copy()
    covariance[3:, :] = covariance[:, 3:] = np.nan
    status = (Status.ADJUSTED, Status.UNCONNECTED)
    lone = Network(**{**vars(net), "covariance": covariance, "status": status})
    survey = Survey(tuple(capture(name, [1.0]) for name in net.station))
    table = rows.adjusted_stations(survey, lone)
    assert table.column("sigma_x_mm")[1] is None
    assert table.column("sigma_x_mm")[0] > 0
    assert len(rows.network_covariance(lone)) == 1


def test_ties_are_lines_between_what_they_tie():
    net = network(2)
    survey = Survey(tuple(capture(name, [1.0]) for name in net.station))
    table = rows.ties(survey, net)
    np.testing.assert_allclose(shapely.get_coordinates(table.geometry[0]), net.xy_m)
    assert table.column("to_station") == ["S1"]
    assert table.column("residual_mm") == [2.0]


def walls() -> WallFaces:
    """A face along +x at y = 3, free side below, seen by three readings."""
    member = np.array([0, 0, 0, -1])
    return WallFaces(
        wall=("W001",),
        plot_scale=50,
        level=np.array([0]),
        network=np.array([1]),
        centre_m=np.array([[0.0, 3.0]]),
        normal_rad=np.array([np.pi]),
        sigma_normal_rad=np.array([1e-4]),
        sigma_offset_m=np.array([5e-4]),
        span_m=np.array([[-1.0, 1.0]]),
        drawn_m=np.array([[[-2.0, 3.0], [2.0, 3.0]]]),
        readings=np.array([3]),
        stations=(("S0",),),
        rms_m=np.array([0.002]),
        largest_residual_m=np.array([0.004]),
        squared_by_rad=np.array([0.001]),
        wall_of_reading=(member,),
        residual_of_reading_m=(np.array([0.001, 0.0, -0.001, np.nan]),),
        curves=no_curves(1),
    )


def test_walls_come_back_with_the_readings_they_rest_on():
    faces = walls()
    x = np.array([-1.0, 0.0, 1.0, 5.0])
    y = np.array([3.0, 3.0, 3.0, 0.0])
    one = capture("S0", np.hypot(x, y).tolist())
    one = Capture(**{**vars(one), "angle_deg": np.degrees(np.arctan2(x, y))})
    survey = Survey((one,))
    net = network(1)
    net = Network(**{**vars(net), "xy_m": np.zeros((1, 2)), "orientation_rad": np.zeros(1)})
    table = rows_plan.wall_faces(faces)
    readings = columns_of(rows.adjusted_readings(survey, net, faces))
    assert table.column("azimuth_deg") == pytest.approx([90.0])
    back = read_walls(columns_of(table), table.geometry, readings, survey, net)[50]
    np.testing.assert_allclose(back.centre_m, faces.centre_m, atol=1e-12)
    np.testing.assert_allclose(back.span_m, faces.span_m, atol=1e-12)
    np.testing.assert_allclose(back.drawn_m, faces.drawn_m)
    np.testing.assert_allclose(np.cos(back.normal_rad), -1.0)
    np.testing.assert_allclose(back.sigma_offset_m, faces.sigma_offset_m)
    np.testing.assert_array_equal(back.wall_of_reading[0], faces.wall_of_reading[0])
    assert back.stations == (("S0",),)


def test_geometries_move_by_group():
    xy = np.array([[0.0, 0.0], [1.0, 1.0], [np.nan, 0.0]])
    columns = {name: [None] * 3 for name in schema.TARGETS.field_names}
    table = make_table(schema.TARGETS, columns, points(xy), [1, 2, 2])
    moved = table.placed(lambda group, xy: xy + 10 * group)
    np.testing.assert_array_equal(shapely.get_coordinates(moved.geometry[:2]), [[10, 10], [21, 21]])
    assert moved.geometry[2] is None
    assert len(concatenate([table, moved])) == 6


def test_a_missing_column_is_not_passed_over():
    with pytest.raises(KeyError):
        make_table(schema.TARGETS, {"target": ["T1"]}, [None], [1])
    columns = {name: [None] for name in schema.TARGETS.field_names} | {"target": ["T1", "T2"]}
    with pytest.raises(ValueError, match=r"targets\.target: 2 values, not 1"):
        make_table(schema.TARGETS, columns, [None], [1])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"station": ["S0", "S0"]}, "station S0 stands there more than once"),
        ({"captured_at": ["yesterday", None]}, "captured_at is 'yesterday', expected an ISO 8601"),
    ],
)
def test_bad_stations_are_named(change, message):
    survey = Survey((capture("S0", [1.0]), capture("S1", [1.0])))
    columns = columns_of(rows.recorded_stations(survey, np.zeros((2, 2)), np.zeros(2)))
    with pytest.raises(SurveyError, match=message):
        read.survey(columns | change, None)


def test_bad_readings_are_named():
    survey = Survey((capture("S0", [1.0, 2.0]),))
    stations = columns_of(rows.recorded_stations(survey, np.zeros((1, 2)), np.zeros(1)))
    readings = columns_of(rows.readings(survey, [survey.captures[0].xy_m], [0]))
    with pytest.raises(SurveyError, match="station S9 is not in the stations layer"):
        read.survey(stations, readings | {"station": ["S0", "S9"]})
    with pytest.raises(SurveyError, match="field flag: found 'odd', expected one of no return"):
        read.survey(stations, readings | {"flag": ["", "odd"]})


def test_stations_that_were_not_adjusted_are_refused():
    survey = Survey((capture("S0", [1.0]),))
    stations = columns_of(rows.recorded_stations(survey, np.zeros((1, 2)), np.zeros(1)))
    with pytest.raises(SurveyError, match="expected adjusted stations"):
        read.network(stations)


@given(st.lists(st.tuples(st.sampled_from(["S0", "S1", "S2"]), st.integers(0, 3)), max_size=40))
def test_readings_are_found_by_station_in_the_order_of_seq_else_as_they_stand(given_rows):
    of, seq = [station for station, _ in given_rows], [number for _, number in given_rows]
    found = read.rows_by_station(["S2", "S0", "S1"], {"station": of, "seq": seq})
    for name, rows_ in found.items():
        own = [row for row, station in enumerate(of) if station == name]
        assert rows_.tolist() == sorted(own, key=lambda row: seq[row])
    assert list(found) == ["S2", "S0", "S1"]
