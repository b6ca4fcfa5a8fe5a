# SPDX-License-Identifier: GPL-2.0-or-later
"""Angles and distances from coordinates, and what is said of features that give none."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.captures.from_points import captures_from_points
from roomtie.processing.captures.from_points_layers import LayerPoints
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.errors import SurveyError

NAN = float("nan")


def layer(name, xyz, first=1, feature=None, **columns):
    xyz = np.array(xyz, dtype=float).reshape(-1, len(xyz[0]) if len(xyz) else 2)
    if xyz.shape[1] == 2:
        xyz = np.column_stack([xyz, np.full(len(xyz), NAN)])
    ids = np.arange(first, first + len(xyz)) if feature is None else np.array(feature)
    return LayerPoints(name, ids, xyz, columns)


ONE = layer("stood", [(10, 20)], station=["A"])
TWO = layer("stood", [(0, 0), (10, 0)], station=["A", "B"])


def only(points, stations=ONE, **more):
    (capture,) = captures_from_points(points, stations, **more).survey.captures
    return capture


def test_angles_run_clockwise_from_up_and_readings_are_sorted():
    capture = only(layer("drawn", [(9, 20), (10, 22), (13, 20), (10, 16), (14, 23)]))
    assert capture.angle_deg.tolist() == pytest.approx(
        [0.0, np.degrees(np.arctan2(4, 3)), 90.0, 180.0, 270.0]
    )
    assert capture.distance_m.tolist() == [2.0, 5.0, 3.0, 4.0, 1.0]
    assert capture.slope_distance_m.tolist() == capture.distance_m.tolist()
    assert (capture.zenith_deg == 90.0).all()
    assert capture.seq.tolist() == [1, 2, 3, 4, 5]
    assert capture.capture_file == "drawn"
    assert not capture.has_compass


def test_a_field_gives_another_order():
    rows = [(10, 22), (13, 20), (10, 16)]
    for order in ([3, 1, 2], ["2026-03-02T10:00", "2026-03-01T09:00", "2026-03-02T09:59"]):
        capture = only(layer("drawn", rows, order=order))
        assert capture.distance_m.tolist() == [3.0, 4.0, 2.0]


@given(
    st.lists(
        st.tuples(st.floats(0.0, 359.999), st.floats(0.2, 200.0), st.sampled_from(["a", "b", "c"])),
        min_size=1,
        max_size=15,
    ),
    st.sampled_from([1.0, 0.3048, 1200 / 3937, 0.001]),
)
def test_polar_coordinates_come_back(readings, unit):
    """Polar to coordinates in some unit, and back, whatever the order of the rows."""
    origin = {"a": (0.0, 0.0, 1.5), "b": (700.0, -40.0, 4.0), "c": (3.0, 3.0, 0.0)}
    angle, distance, name = (np.array(column) for column in zip(*readings))
    start = np.array([origin[own] for own in name])
    end = start[:, :2] + distance[:, None] * np.column_stack(
        [np.sin(np.radians(angle)), np.cos(np.radians(angle))]
    )
    stations = layer("stood", [np.array(xyz) / unit for xyz in origin.values()], station=[*origin])
    rows = np.column_stack([end, start[:, 2] + 0.5]) / unit
    points = layer("drawn", rows, station=list(name), order=list(range(len(name))))
    placed = captures_from_points(points, stations, unit_m=unit)
    assert set(placed.survey.names) == set(name)
    for capture, xy in zip(placed.survey.captures, placed.xy_m):
        own = name == capture.station
        turned = (capture.angle_deg - angle[own] + 180.0) % 360.0 - 180.0
        assert np.abs(turned).max() < 1e-9 * 720 / distance[own].min()
        assert capture.distance_m == pytest.approx(distance[own], abs=1e-9)
        assert capture.slope_distance_m == pytest.approx(np.hypot(distance[own], 0.5), abs=1e-9)
        horizontal = capture.slope_distance_m * np.sin(np.radians(capture.zenith_deg))
        assert capture.distance_m == pytest.approx(horizontal, abs=1e-9)
        assert xy == pytest.approx(origin[capture.station][:2], abs=1e-9)


def test_the_example_comes_back_from_its_points(example):
    """Readings drawn at their stations, in one layer: the same angles and distances."""
    survey = example.tied.survey
    xyz, station, kind, target, order = [], [], [], [], []
    stations = [(7.0 * i, 3.0 * i) for i in range(len(survey))]
    for capture, start in zip(survey.captures, stations):
        shown = np.isfinite(capture.distance_m)
        xyz += (capture.xy_m[shown] + start).tolist()
        station += [capture.station] * int(shown.sum())
        kind += [Kind(code).text for code in capture.kind[shown]]
        target += capture.target[shown].tolist()
        order += capture.seq[shown].tolist()
    points = layer("readings", xyz, station=station, kind=kind, target=target, order=order)
    back = captures_from_points(points, layer("stations", stations, station=list(survey.names)))
    assert back.survey.names == survey.names
    for was, now in zip(survey.captures, back.survey.captures):
        shown = np.isfinite(was.distance_m)
        turned = (now.angle_deg - was.angle_deg[shown] + 180.0) % 360.0 - 180.0
        assert np.abs(turned * now.distance_m).max() < 1e-9
        assert now.distance_m == pytest.approx(was.distance_m[shown], abs=1e-9)
        assert now.target.tolist() == was.target[shown].tolist()
        assert now.kind.tolist() == was.kind[shown].tolist()


def test_heights_give_zenith_and_slope():
    stations = layer("stood", [(0, 0, 100)], station=["A"], instrument_height=["1,5"])
    capture = only(layer("drawn", [(0, 4, 104.5), (3, 0, 97.5), (2, 0.1, NAN)]), stations)
    assert capture.slope_distance_m == pytest.approx([5.0, np.hypot(2, 0.1), 5.0])
    assert capture.zenith_deg == pytest.approx(
        [np.degrees(np.arctan2(4, 3)), 90.0, 90 + np.degrees(np.arctan2(4, 3))]
    )
    assert capture.instrument_height_m == 1.5


def test_a_point_straight_above_is_kept():
    capture = only(layer("drawn", [(0, 0, 2), (0, 1, 1)]), layer("stood", [(0, 0, 1)]))
    assert capture.zenith_deg.tolist() == [0.0, 90.0]
    assert capture.slope_distance_m.tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    ("points_z", "station_z", "words"),
    [
        (NAN, 100.0, "the points of layer drawn have no height"),
        (0.0, 100.0, "the points of layer drawn all have the height 0"),
        (2.0, NAN, "the points of layer stood have no height"),
        (0.0, 0.0, ""),
    ],
)
def test_heights_of_one_layer_alone_are_not_used(points_z, station_z, words):
    points, stations = layer("drawn", [(0, 4, points_z)]), layer("stood", [(0, 0, station_z)])
    survey = captures_from_points(points, stations).survey
    assert survey.captures[0].zenith_deg.tolist() == [90.0]
    assert words in "".join(survey.warnings)
    assert bool(survey.warnings) == bool(words)


def test_stations_on_the_floor_of_height_0_are_heights():
    stations = layer("stood", [(0, 0, 0)], instrument_height=[1.5])
    assert only(layer("drawn", [(0, 2, 1.5)]), stations).zenith_deg.tolist() == [90.0]


def test_kinds_follow_the_fields():
    rows = [(10, 22), (13, 20), (10, 16)]
    capture = only(layer("drawn", rows, target=["T1", None, ""]))
    assert capture.kind.tolist() == [Kind.TARGET, Kind.RING, Kind.RING]
    capture = only(layer("drawn", rows, target=["T1", 7.0, None], kind=["Surface", None, "ring"]))
    assert capture.kind.tolist() == [Kind.SURFACE, Kind.TARGET, Kind.RING]
    assert capture.target.tolist() == ["T1", "7", ""]


def test_names_may_be_numbers_in_one_layer_and_words_in_the_other():
    stations = layer("stood", [(0, 0), (9, 9)], station=[1, 2.0])
    survey = captures_from_points(layer("drawn", [(1, 0), (9, 8)], station=["1", 2]), stations)
    assert survey.survey.names == ("1", "2")


def test_the_nearest_station_is_taken_and_doubts_are_counted():
    points = layer("drawn", [(1, 0), (0, 2), (4.9, 0), (9, 0), (5, 1)])
    survey = captures_from_points(points, TWO).survey
    assert [len(capture) for capture in survey.captures] == [4, 1]  # (5, 1) is as near to both
    assert survey.captures[0].remarks[0].sentence == (
        "4 points are nearest to A, 2 of them nearly as near to another (within 25 %)."
    )
    assert "(4 to A, 1 to B); 2 of them are nearly as near to another" in survey.warnings[0]
    assert "A wall between a point and its nearest station is not seen" in survey.warnings[0]


@settings(max_examples=20)
@given(st.permutations(range(6)), st.permutations(range(3)))
def test_the_order_of_features_does_not_matter(rows, stations):
    xy = np.array([(1, 0), (0, 2), (5, 0), (9, 0), (5, 1), (5, 5)], dtype=float)
    at = np.array([(0, 0), (10, 0), (5, 10)], dtype=float)
    name = np.array(["A", "B", "C"])
    stood = layer("stood", at[stations], station=name[stations].tolist(), feature=stations)
    survey = captures_from_points(layer("drawn", xy[rows], feature=rows), stood).survey
    usual = captures_from_points(layer("drawn", xy), layer("stood", at, station=name.tolist()))
    for capture in usual.survey.captures:
        same = survey.captures[survey.index(capture.station)]
        assert same.angle_deg.tolist() == capture.angle_deg.tolist()
        assert same.distance_m.tolist() == capture.distance_m.tolist()


def test_the_nearest_station_is_one_of_the_same_level():
    stations = layer("stood", [(0, 0), (1, 0)], station=["A", "B"], level=[0, 1])
    points = layer("drawn", [(0.9, 0), (0.2, 0)], level=["0", 1.0])
    captures = captures_from_points(points, stations).survey.captures
    assert [(c.station, c.level, len(c)) for c in captures] == [("A", 0, 1), ("B", 1, 1)]
    assert captures[0].distance_m.tolist() == [0.9]


BAD = [
    ({"xyz": [(NAN, NAN)]}, {}, "Layer drawn: feature 1 has no point; expected one."),
    (
        {"xyz": [(NAN, 4), (np.inf, 2)]},
        {},
        "Layer drawn: features 1 and 2 have coordinates that are no place; expected finite x "
        "and y.",
    ),
    (
        {"station": ["C"]},
        {},
        "Layer drawn: feature 1 names station 'C', which is not in layer stood; expected one of "
        "A, B.",
    ),
    ({"station": [None]}, {}, "Layer drawn: feature 1 names no station; expected one of A, B."),
    ({"kind": ["wall"]}, {}, "the kind of feature 1 is 'wall'; expected ring, target or surface."),
    ({"kind": ["target"]}, {}, "feature 1 is a target or on its surface and names none"),
    ({"order": [None]}, {}, "the order of feature 1 is empty; expected a number or an ISO"),
    ({"level": ["up"]}, {}, "the level of feature 1 is 'up'; expected a whole number"),
    ({"level": [3]}, {}, "feature 1 lies on level 3, where layer stood has no station"),
    ({}, {"level": [0, 1]}, "stand on levels 0 and 1; expected a field with one of them"),
    ({}, {"station": ["A", "A"]}, "feature 2 has the station name 'A' that feature 1 has"),
    ({}, {"station": ["A", None]}, "Layer stood: feature 2 has no station name; expected one."),
    ({}, {"level": [0, 0.5]}, "Layer stood: the level of feature 2 is '0.5'; expected a whole"),
    ({}, {"instrument_height": [1, -1]}, "the instrument height of feature 2 is '-1'; expected"),
    ({}, {"xyz": [(0, 0), (NAN, NAN)]}, "Layer stood: feature 2 has no point; expected one."),
]


@pytest.mark.parametrize(("points", "stations", "sentence"), BAD)
def test_what_is_bad_is_named_and_may_be_skipped(points, stations, sentence):
    drawn = layer("drawn", **{"xyz": [(1.0, 1.0)], **points})
    stood = layer("stood", **{"xyz": [(0, 0), (10, 0)], "station": ["A", "B"], **stations})
    with pytest.raises(SurveyError) as error:
        captures_from_points(drawn, stood)
    assert sentence in str(error.value)
    assert str(error.value).count(". ") == 0
    good = layer("drawn", [(1, 1), (9, 1)], feature=[8, 9], **_good(points))
    both = LayerPoints(
        "drawn",
        np.concatenate([drawn.feature, good.feature]),
        np.concatenate([drawn.xyz, good.xyz]),
        {key: [*drawn.columns[key], *good.columns[key]] for key in drawn.columns},
    )
    if "stand on levels" in sentence:
        return
    survey = captures_from_points(both, stood, skip_unreadable=True).survey
    assert sentence in " ".join(survey.skipped)
    assert sum(len(capture) for capture in survey.captures) >= 2


def _good(points):
    fill = {"station": "A", "kind": "ring", "order": 1, "level": 0}
    return {key: [fill[key]] * 2 for key in points if key != "xyz"}


def test_points_at_the_station_and_repeated_ones_are_told():
    points = layer("drawn", [(10, 20), (12, 20), (12, 20), (12, 20)], target=["", "", "", "T"])
    survey = captures_from_points(points, ONE).survey
    assert survey.warnings == (
        "Layer drawn: feature 1 lies at station A itself, from where there is no direction to it; "
        "left out.",
        "Layer drawn: feature 3 repeats a point of station A that is there before; flagged as "
        "duplicate.",
    )
    assert survey.captures[0].flag.tolist() == [Flag.USABLE, Flag.DUPLICATE, Flag.USABLE]


def test_a_station_without_points_is_told():
    survey = captures_from_points(layer("drawn", [(1, 0)], station=["A"]), TWO).survey
    assert survey.names == ("A",)
    assert survey.warnings == (
        "Layer stood: no point belongs to station B (feature 2); it is left out.",
    )


@pytest.mark.parametrize(
    ("points", "stations", "sentence"),
    [
        ([], [(0, 0)], "Layer drawn: no point makes a reading (no points)."),
        ([(0, 0)], [(0, 0)], "Layer drawn: no point makes a reading (Layer drawn: feature 1 lies"),
        ([(0, 0)], [], "Layer stood: it holds no station; expected the points where"),
    ],
)
def test_nothing_to_make_captures_of(points, stations, sentence):
    with pytest.raises(SurveyError) as error:
        captures_from_points(layer("drawn", points), layer("stood", stations))
    assert sentence in str(error.value)


def test_many_bad_features_are_one_sentence():
    points = layer("drawn", [(NAN, NAN)] * 1000 + [(1, 1)])
    survey = captures_from_points(points, ONE, skip_unreadable=True).survey
    assert survey.skipped == (
        "Layer drawn: features 1, 2, 3, 4, 5 and 995 more have no point; expected one.",
    )


VALUES = st.one_of(
    st.none(),
    st.text(max_size=4),
    st.floats(),
    st.integers(-5, 5),
    st.sampled_from(["A", "B", "ring", "target", "surface", 0, 1, "2026-03-01T10:00"]),
)
COORDINATES = st.one_of(st.sampled_from([0.0, 1.0, NAN, np.inf, 1e300]), st.floats(-1e7, 1e7))


@st.composite
def layers(draw, title, meanings):
    count = draw(st.integers(0, 6))
    xyz = draw(st.lists(st.tuples(*[COORDINATES] * 3), min_size=count, max_size=count))
    columns = {
        meaning: draw(st.lists(VALUES, min_size=count, max_size=count))
        for meaning in meanings
        if draw(st.booleans())
    }
    return layer(title, xyz or np.empty((0, 3)), **columns)


@given(
    layers("drawn", ("station", "level", "kind", "target", "order")),
    layers("stood", ("station", "level", "instrument_height")),
    st.booleans(),
)
def test_whatever_layers_hold_there_are_captures_or_one_sentence(points, stations, skip):
    try:
        placed = captures_from_points(points, stations, skip_unreadable=skip)
    except SurveyError as error:
        assert str(error).startswith("Layer ")
        assert str(error).endswith(".")
        assert "\n" not in str(error)
        return
    names = placed.survey.names
    assert len(set(names)) == len(names) == len(placed.xy_m)
    for capture in placed.survey.captures:
        assert len(capture) == len(capture.angle_deg) > 0
        assert ((capture.angle_deg >= 0) & (capture.angle_deg < 360)).all()
        assert (capture.slope_distance_m > 0).all()
        assert ((capture.zenith_deg >= 0) & (capture.zenith_deg <= 180)).all()
        assert ((capture.kind == Kind.RING) == (capture.target == "")).all()
