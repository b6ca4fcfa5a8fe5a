# SPDX-License-Identifier: GPL-2.0-or-later
"""Indoor maps: what is written against the published structure, and what a person is asked."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.building.indoor import indoor_map
from roomtie.processing.building.indoor_archive import manifest, write_archive
from roomtie.processing.building.indoor_categories import read_mapping
from roomtie.processing.building.indoor_extents import footprints, storey_extents
from roomtie.processing.building.indoor_groups import clear_of_each_other
from roomtie.processing.building.indoor_model import Doorway, Space, Venue, read_storeys
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress
from shapely.geometry import LineString, box

sys.path.append(str(Path(__file__).resolve().parent))
from imdf_checks import check_archive, metres, read_archive, shape_of

UTM = pyproj.Transformer.from_crs("EPSG:32631", "EPSG:4326", always_xy=True)
EAST, NORTH = 601_600.0, 6_129_300.0
TOLD = Venue(
    "Village library",
    "museum",
    "Library",
    "1 Mill Lane",
    locality="Quarrow",
    country="NL",
    language="en-GB",
    storeys={0: ("Ground floor", "G"), 1: ("First floor", "1")},
)
WALL, OUTER = 0.15, 0.4


def to_lonlat(xy):
    return np.column_stack(UTM.transform(xy[:, 0] + EAST, xy[:, 1] + NORTH))


def row_of_rooms(widths, depth=4.0, level=0, category="office"):
    """Rooms side by side with walls between them, and a doorway through each wall."""
    spaces, doorways, x = [], [], 0.0
    for number, width in enumerate(widths):
        spaces.append(
            Space(
                f"r{level}.{number}",
                f"{level}.{number}",
                level,
                box(x, 0, x + width, depth),
                category,
            )
        )
        if number:
            line = LineString([(x, 1.0), (x, 1.9)])
            doorways.append(
                Doorway(f"d{level}.{number}", level, line, spaces[-2].id, spaces[-1].id)
            )
        x += width + WALL
    return spaces, doorways


def written(tmp_path, *given, venue=TOLD):
    contents = indoor_map(venue, *given, to_lonlat, OUTER)
    path = tmp_path / "map.zip"
    write_archive(path, contents, manifest("2026-04-21T09:06:00Z", "test", venue.language))
    return path, contents


def test_an_archive_of_two_storeys_is_as_published(tmp_path):
    ground, doors = row_of_rooms([3.0, 4.0, 2.5])
    upper, more = row_of_rooms([3.0, 5.0], level=1)
    path, contents = written(tmp_path, [*ground, *upper], [*doors, *more])
    features = check_archive(read_archive(path))
    assert len(features["unit"]) == 5 and len(features["opening"]) == 3
    assert [one["properties"]["ordinal"] for one in features["level"]] == [0, 1]
    assert features["level"][0]["properties"]["short_name"] == {"en-GB": "G"}
    assert [one["properties"]["category"] for one in features["footprint"]] == ["ground"]
    assert len(contents.choices) == 1 and "boundary" in contents.choices[0]
    assert not contents.remarks


def test_lengths_and_areas_are_those_of_the_plan(tmp_path):
    """Against the ellipsoid: UTM's scale factor here is 0.9997, told apart from the rounding."""
    spaces, doors = row_of_rooms([3.0, 4.0])
    path, _ = written(tmp_path, spaces, doors)
    features = check_archive(read_archive(path))
    geod = pyproj.Geod(ellps="WGS84")
    factor = pyproj.Proj("EPSG:32631").get_factors(*to_lonlat(np.zeros((1, 2)))[0]).meridional_scale
    for unit, area in zip(features["unit"], (12.0, 16.0)):
        found = geod.geometry_area_perimeter(shape_of(unit))[0]
        assert found == pytest.approx(area / factor**2, rel=1e-4)
        assert found > 0.0  # counterclockwise
    door = shape_of(features["opening"][0])
    assert geod.geometry_length(door) == pytest.approx(0.9 / factor, abs=3e-4)


def test_a_doorway_joins_the_rooms_on_both_sides_of_its_wall(tmp_path):
    spaces, doors = row_of_rooms([3.0, 4.0])
    outside = Doorway("out", 0, LineString([(0, 1), (0, 2)]), spaces[0].id, "")
    path, contents = written(tmp_path, spaces, [*doors, outside])
    features = check_archive(read_archive(path))
    (relation,) = features["relationship"]
    rooms = {unit["properties"]["name"]["en-GB"]: unit for unit in features["unit"]}
    assert relation["properties"]["origin"]["id"] == rooms["0.0"]["id"]
    assert relation["properties"]["destination"]["id"] == rooms["0.1"]["id"]
    line = next(
        shape_of(one)
        for one in features["opening"]
        if one["id"] == relation["properties"]["intermediary"][0]["id"]
    )
    apart = [metres(shape_of(rooms[name]), line) for name in ("0.0", "0.1")]
    assert sorted(apart) == pytest.approx([0.0, WALL], abs=1e-3)
    assert any("1 doorway(s)" in choice and "0.0" in choice for choice in contents.choices)


def test_a_doorway_a_little_off_its_room_is_brought_onto_it(tmp_path):
    spaces, _ = row_of_rooms([3.0, 4.0])
    line = LineString([(3.0 + 0.017, 1.0), (3.0, 1.9)])
    path, _ = written(tmp_path, spaces, [Doorway("d", 0, line, spaces[0].id, spaces[1].id)])
    features = check_archive(read_archive(path))
    assert len(features["opening"]) == 1
    # One far off is left where it was measured: the plan is to be looked at.
    stray = Doorway("d", 0, LineString([(1.0, 2.0), (2.0, 2.0)]), spaces[0].id, "")
    path, contents = written(tmp_path, spaces, [stray])
    assert contents.remarks == ("Doorway d lies 1.00 m off its room: look at it.",)
    with pytest.raises(AssertionError):
        check_archive(read_archive(path))


def test_a_doorway_of_a_storey_without_rooms_is_left_out_and_told():
    spaces, doorways = row_of_rooms((4.0, 5.0))
    far = Doorway("up", 1, LineString([(0, 1), (0, 2)]), "", "")
    contents = indoor_map(TOLD, spaces, [*doorways, far], to_lonlat, 0.3)
    levels = {one["id"] for one in contents.features["level"]}
    assert {one["properties"]["level_id"] for one in contents.features["opening"]} <= levels
    assert contents.remarks == ("Doorway up is left out: its storey 1 has no room.",)


def test_what_nobody_told_is_written_as_the_standard_allows_and_listed(tmp_path):
    spaces, doors = row_of_rooms([3.0, 4.0], category="unspecified")
    path, contents = written(tmp_path, spaces, doors, venue=Venue("plan"))
    features = check_archive(read_archive(path))
    assert features["address"][0]["properties"]["country"] == "ZZ"
    together = " ".join(contents.choices)
    for word in ("category of the venue", "street", "locality", "country", "storeys 0", "2 of 2"):
        assert word in together


def test_a_second_survey_of_the_building_keeps_the_identifiers_of_what_has_a_name():
    spaces, doors = row_of_rooms([3.0, 4.0])
    moved = [
        replace(one, polygon=shapely.transform(one.polygon, lambda p: p + 0.01)) for one in spaces
    ]
    first, second = (indoor_map(TOLD, rooms, doors, to_lonlat, OUTER) for rooms in (spaces, moved))
    for kind, features in first.features.items():
        assert [one["id"] for one in features] == [one["id"] for one in second.features[kind]]
    other = indoor_map(replace(TOLD, building="Annex"), spaces, doors, to_lonlat, OUTER)
    assert other.features["venue"][0]["id"] == first.features["venue"][0]["id"]
    assert other.features["level"][0]["id"] != first.features["level"][0]["id"]


def test_the_same_map_gives_the_same_bytes(tmp_path):
    spaces, doors = row_of_rooms([3.0, 4.0])
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    first, second = (written(tmp_path / name, spaces, doors)[0] for name in ("a", "b"))
    assert first.read_bytes() == second.read_bytes()


def test_extents_reach_to_the_outside_of_the_walls():
    spaces, _ = row_of_rooms([3.0, 4.0])
    extents = storey_extents(spaces, OUTER)
    assert (
        extents[0].symmetric_difference(box(-OUTER, -OUTER, 7.0 + WALL + OUTER, 4.0 + OUTER)).area
        < 1e-9
    )
    above = Space("u", "u", 1, box(0, 0, 3, 9))
    below = Space("b", "b", -1, box(1, 1, 2, 2))
    found = footprints(storey_extents([*spaces, above, below], OUTER))
    assert set(found) == {"ground", "aerial", "subterranean"}
    assert found["ground"].equals(extents[0])
    assert found["aerial"].covers(found["ground"])


def test_an_enclosed_court_is_told():
    ring = box(0, 0, 12, 12).difference(box(3, 3, 9, 9))
    contents = indoor_map(TOLD, [Space("r", "r", 0, ring, "walkway")], [], to_lonlat, OUTER)
    assert "36.0 m²" in contents.remarks[0] and "court" in contents.remarks[0]
    assert not shapely.get_parts(contents.extents[0])[0].interiors


def test_rooms_that_lie_across_each_other_are_told():
    spaces = [Space("a", "a", 0, box(0, 0, 4, 4)), Space("b", "b", 0, box(3, 0, 7, 4))]
    contents = indoor_map(TOLD, spaces, [], to_lonlat, OUTER)
    assert contents.remarks == ("Rooms a and b overlap by 4.00 m².",)
    apart = [spaces[0], replace(spaces[1], level=1)]
    assert not indoor_map(TOLD, apart, [], to_lonlat, OUTER).remarks


def test_a_group_that_lies_across_a_larger_one_is_left_out():
    spaces, doors = row_of_rooms([3.0, 4.0])
    stray = replace(spaces[0], id="s", name="s", group=2, polygon=box(2, 1, 4, 3))
    beside = replace(stray, id="b", name="b", group=3, polygon=box(20, 1, 22, 3))
    above = replace(stray, id="a", name="a", group=4, level=1)
    joined = Doorway("x", 0, doors[0].line, "s", "")
    kept, left, names = clear_of_each_other([stray, *spaces, beside, above], [*doors, joined])
    assert names == ["s"] and left == doors
    assert [space.name for space in kept] == ["0.0", "0.1", "b", "a"]
    # Rooms of one group are the plan's own affair: they are told, not left out.
    both = [replace(stray, group=1), *spaces]
    assert clear_of_each_other(both, doors)[2] == []


@pytest.mark.parametrize(
    ("rooms", "sentence"),
    [
        ([], "no room"),
        (
            [Space("a", "1", 0, box(0, 0, 1, 1)), Space("a", "2", 0, box(2, 0, 3, 1))],
            "1 and 2 have",
        ),
        (
            [Space("a", "1", 0, shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]))],
            "Room 1: its outline is not valid",
        ),
    ],
)
def test_what_cannot_be_a_map_is_refused(rooms, sentence):
    with pytest.raises(SurveyError, match=sentence):
        indoor_map(TOLD, rooms, [], to_lonlat, OUTER)


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        (
            lambda xy: np.column_stack(
                [179.9999 + xy[:, 0] / 1e4 - 360 * (xy[:, 0] > 1), xy[:, 1]]
            ),
            "180",
        ),
        (lambda xy: np.full(xy.shape, np.inf), "no longitude"),
    ],
)
def test_what_lies_nowhere_is_refused(place, sentence):
    spaces, doors = row_of_rooms([3.0, 4.0])
    with pytest.raises(SurveyError, match=sentence):
        indoor_map(TOLD, spaces, doors, place, OUTER)


def test_a_cancel_is_heard():
    spaces, doors = row_of_rooms([3.0] * 5)
    with pytest.raises(Cancelled):
        indoor_map(TOLD, spaces, doors, to_lonlat, OUTER, Progress(cancelled=lambda: True))


def test_words_of_a_field_mean_categories():
    assert read_mapping("WC = restroom; Büro=office;", "CATEGORIES") == {
        "wc": "restroom",
        "büro": "office",
    }
    for text, sentence in (
        ("WC", "found WC; expected pairs"),
        ("a=office; A=lobby", "A comes twice"),
        ("WC=restrom", "found restrom; expected a category of OGC 20-094, such as restroom"),
    ):
        with pytest.raises(SurveyError, match=sentence):
            read_mapping(text, "CATEGORIES")


def test_names_of_storeys():
    assert read_storeys("-1=Cellar; 0=Ground floor|G", "LEVEL_NAMES") == {
        -1: ("Cellar", "-1"),
        0: ("Ground floor", "G"),
    }
    for text in ("G=Ground", "0=", "Ground"):
        with pytest.raises(SurveyError, match="LEVEL_NAMES: found"):
            read_storeys(text, "LEVEL_NAMES")
    with pytest.raises(SurveyError, match="LEVEL_NAMES: storey 1 comes twice"):
        read_storeys("1=First; 0=Ground; 01=Upper", "LEVEL_NAMES")


@settings(deadline=None, max_examples=100)
@given(
    st.lists(st.floats(1.0, 9.0), min_size=1, max_size=5),
    st.floats(0.0, 2 * np.pi),
    st.integers(-3, 3),
    st.floats(0.0, 1.0),
)
def test_any_row_of_rooms_turned_anyhow_is_as_published(
    tmp_path_factory, widths, turn, level, outer
):
    spaces, doors = row_of_rooms(widths, level=level)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def turned(shape):
        return shapely.transform(shape, lambda xy: xy @ rotation.T)

    contents = indoor_map(
        TOLD,
        [replace(one, polygon=turned(one.polygon)) for one in spaces],
        [replace(one, line=turned(one.line)) for one in doors],
        to_lonlat,
        outer,
    )
    path = tmp_path_factory.mktemp("turned") / "map.zip"
    write_archive(path, contents, manifest("2026-04-21T09:06:00Z", "test", "en"))
    check_archive(read_archive(path))
