# SPDX-License-Identifier: GPL-2.0-or-later
"""Identifiers, names and a person's marks on a plan that grew."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.walls import identity_pairs
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.earlier import (
    EarlierDrawing,
    EarlierOpenings,
    EarlierRooms,
    EarlierWalls,
)
from roomtie.processing.walls.identity_kept import with_kept_rooms, with_kept_walls
from roomtie.processing.walls.identity_pairs import common_stretch
from roomtie.processing.walls.model import Openings, Plan, Rooms, WallFaces


def ints(values):
    return np.array(values, dtype=np.int64)


def walls_of(ends, members, level=None):
    """Faces with the readings of one capture on each, by index."""
    ends = np.array(ends, dtype=float).reshape(-1, 2, 2)
    count = len(ends)
    way = ends[:, 1] - ends[:, 0]
    normal = np.arctan2(way[:, 0], way[:, 1]) + np.pi / 2
    members = ints(members)
    zero = np.zeros(count)
    return WallFaces(
        wall=tuple(f"W{i + 1:03d}" for i in range(count)),
        plot_scale=0,
        level=ints([0] * count if level is None else level),
        network=ints([1] * count),
        centre_m=ends.mean(axis=1),
        normal_rad=normal,
        sigma_normal_rad=zero,
        sigma_offset_m=zero,
        span_m=np.stack([-0.5 * np.hypot(*way.T), 0.5 * np.hypot(*way.T)], axis=1),
        drawn_m=ends,
        readings=np.bincount(members[members >= 0], minlength=count),
        stations=(("A",),) * count,
        rms_m=zero,
        largest_residual_m=zero,
        squared_by_rad=zero,
        wall_of_reading=(members,),
        residual_of_reading_m=(np.zeros(len(members)),),
        curves=no_curves(count),
    )


def survey_of(readings, station="A"):
    capture = SimpleNamespace(station=station, seq=np.arange(1, readings + 1))
    return SimpleNamespace(captures=(capture,))


def no_rooms():
    none = ints([])
    return EarlierRooms((), (), none, none, none, (), np.empty(0, bool))


def no_openings():
    none = ints([])
    return EarlierOpenings((), (), none, none, none, (), np.empty(0), np.empty(0, bool), ())


def earlier_walls(names, ends, words, station="A", level=0):
    count = len(names)
    walls = EarlierWalls(
        tuple(names),
        ints([level] * count),
        ints([1] * count),
        ints([50] * count),
        np.array(ends, dtype=float).reshape(-1, 2, 2),
        np.full(count, 0.001),
    )
    of_reading = {station: (np.arange(1, len(words) + 1), np.array(words, dtype=np.str_))}
    return EarlierDrawing(walls, no_rooms(), no_openings(), of_reading)


SOUTH, NORTH = [[4, 0], [0, 0]], [[0, 3], [4, 3]]


def test_walls_keep_their_names_by_the_readings_on_them_wherever_they_went():
    moved = np.array([NORTH, SOUTH], dtype=float) + 30.0  # readings tell, not places
    words = ["W007"] * 10 + ["W003"] * 8 + [""]
    new = with_kept_walls(
        walls_of(moved, [1] * 10 + [0] * 8 + [-1]),
        survey_of(19),
        earlier_walls(["W003", "W007"], [NORTH, SOUTH], words),
    )
    assert new.wall == ("W003", "W007")


def test_the_largest_part_of_a_split_wall_keeps_the_name_and_new_ones_are_numbered_on():
    new = with_kept_walls(
        walls_of([SOUTH, SOUTH, NORTH], [0] * 4 + [1] * 6 + [2] * 5),
        survey_of(15),
        earlier_walls(["W002"], [SOUTH], ["W002"] * 10 + [""] * 5),
    )
    assert new.wall == ("W003", "W002", "W004")


def test_merged_walls_have_the_name_of_the_largest_part():
    new = with_kept_walls(
        walls_of([SOUTH], [0] * 10),
        survey_of(10),
        earlier_walls(["W001", "W005"], [SOUTH, NORTH], ["W001"] * 4 + ["W005"] * 6),
    )
    assert new.wall == ("W005",)


def test_a_few_readings_that_changed_sides_do_not_carry_a_name_over():
    # W001's readings went to a new wall of many others, W009's place was taken by none.
    members = [0] * 100 + [1] * 3
    new = with_kept_walls(
        walls_of([SOUTH, NORTH], members),
        survey_of(103),
        earlier_walls(["W001"], [[[9, 9], [9, 8]]], [""] * 98 + ["W001"] * 2 + [""] * 3),
    )
    # All of W001 lies on the first wall now, and more than half of an earlier wall goes on in it.
    assert new.wall == ("W001", "W002")
    other = with_kept_walls(
        walls_of([SOUTH, NORTH], members),
        survey_of(103),
        earlier_walls(["W001"], [[[9, 9], [9, 8]]], [""] * 99 + ["W001"] + ["W001"] * 3),
    )
    assert other.wall == ("W002", "W001")


@pytest.mark.parametrize(
    ("shift", "level", "kept"),
    [
        ((0.0, 0.02), 0, True),
        ((0.0, 0.2), 0, False),
        ((0.0, 0.0), 1, False),
        ((3.0, 0.0), 0, False),
    ],
)
def test_where_every_reading_was_taken_again_the_place_tells(shift, level, kept):
    ends = np.array([SOUTH], dtype=float) + shift
    new = with_kept_walls(
        walls_of(ends, [0] * 5, level=[level]),
        survey_of(5, "B"),
        earlier_walls(["W004"], [SOUTH], ["W004"] * 5, station="A"),
    )
    assert new.wall == (("W004",) if kept else ("W005",))


def test_of_many_walls_only_those_near_each_other_are_compared(monkeypatch):
    count, looked_at = 400, []
    measure = identity_pairs.common_stretch
    monkeypatch.setattr(
        identity_pairs, "common_stretch", lambda *of: looked_at.append(1) or measure(*of)
    )
    at = np.stack(np.divmod(np.arange(count), 20), axis=-1)[:, None] * 5.0
    ends = at + np.array(NORTH, dtype=float)
    names = [f"W{900 - k}" for k in range(count)]
    kept = with_kept_walls(
        walls_of(ends + 0.01, np.arange(count)), survey_of(count), earlier_walls(names, ends, [])
    )
    assert kept.wall == tuple(names)
    assert len(looked_at) < 2 * count


def test_the_other_side_of_a_wall_is_another_face():
    new = with_kept_walls(
        walls_of([SOUTH[::-1]], [0] * 5),
        survey_of(5, "B"),
        earlier_walls(["W004"], [SOUTH], ["W004"] * 5),
    )
    assert new.wall == ("W005",)


def rooms_of(boxes, ids, plot_scale=50, level=None):
    polygons = tuple(shapely.box(*box) for box in boxes)
    count = len(boxes)
    area = np.array([p.area for p in polygons])
    return Rooms(
        room=tuple(ids),
        name=tuple(f"0.{i + 1:02d}" for i in range(count)),
        plot_scale=plot_scale,
        level=ints([0] * count if level is None else level),
        network=ints([1] * count),
        polygon=polygons,
        area_m2=area,
        sigma_area_m2=np.zeros(count),
        sigma_seen_m2=np.zeros(count),
        sigma_perimeter_m=np.zeros(count),
        perimeter_m=np.array([p.length for p in polygons]),
        seen_share=np.ones(count),
        stations=((),) * count,
    )


def openings_of(lines, kinds, rooms, plot_scale=50):
    count = len(lines)
    return Openings(
        opening=tuple(f"o{i}" for i in range(count)),
        kind=tuple(kinds),
        plot_scale=plot_scale,
        level=ints([0] * count),
        network=ints([1] * count),
        line=tuple(shapely.LineString(line) for line in lines),
        width_m=np.array([shapely.LineString(line).length for line in lines]),
        sigma_width_m=np.full(count, 0.002),
        wall_thickness_m=np.full(count, np.nan),
        room_a=tuple(a for a, _ in rooms),
        room_b=tuple(b for _, b in rooms),
    )


def plan_of(rooms, openings=None):
    openings = openings or openings_of([], [], [], rooms.plot_scale)
    return Plan(walls_of([], []), rooms, openings, np.empty(0, bool), 0.0)


def earlier_of(boxes=(), ids=(), names=(), hand=(), openings=None, plot_scale=50):
    count = len(boxes)
    return EarlierDrawing(
        EarlierWalls((), ints([]), ints([]), ints([]), np.empty((0, 2, 2)), np.empty(0)),
        EarlierRooms(
            tuple(ids),
            tuple(names),
            ints([0] * count),
            ints([1] * count),
            ints([plot_scale] * count),
            tuple(shapely.box(*box) for box in boxes),
            np.array([name in hand for name in names], dtype=bool),
        ),
        openings or no_openings(),
        {},
    )


def earlier_openings(lines, kinds, hand, rooms=None):
    count = len(lines)
    return EarlierOpenings(
        tuple(f"e{i}" for i in range(count)),
        tuple(kinds),
        ints([0] * count),
        ints([1] * count),
        ints([50] * count),
        tuple(shapely.LineString(line) for line in lines),
        np.full(count, 0.12),
        np.array(hand, dtype=bool),
        tuple(frozenset(r) for r in rooms or [()] * count),
    )


def test_rooms_keep_identifiers_and_names_and_new_ones_get_free_ones():
    earlier = earlier_of(
        [(0, 0, 4, 4), (4, 0, 8, 4)], ["kitchen", "hall"], ["Kitchen", "0.01"], {"Kitchen"}
    )
    rooms = rooms_of([(4, 0, 8, 4), (0, 0, 4, 4.02), (8, 0, 12, 4)], ["a", "b", "c"])
    (plan,), found = with_kept_rooms([plan_of(rooms)], earlier)
    assert plan.rooms.room == ("hall", "kitchen", "c")
    assert plan.rooms.name == ("0.01", "Kitchen", "0.02")
    # The next time it is known that one of the names is a person's.
    assert found.said["kitchen", "name"] != "Kitchen"
    assert found.said["hall", "name"] == "0.01"


def test_a_room_seen_in_part_and_then_whole_is_the_same():
    earlier = earlier_of([(0, 0, 1, 4)], ["old"], ["0.05"])
    (plan,), _ = with_kept_rooms([plan_of(rooms_of([(0, 0, 6, 4)], ["new"]))], earlier)
    assert plan.rooms.room == ("old",) and plan.rooms.name == ("0.05",)


def test_of_a_split_room_the_largest_part_of_merged_rooms_the_largest():
    split = earlier_of([(0, 0, 10, 4)], ["old"], ["0.01"])
    (plan,), _ = with_kept_rooms(
        [plan_of(rooms_of([(0, 0, 4, 4), (4, 0, 10, 4)], ["a", "b"]))], split
    )
    assert plan.rooms.room == ("a", "old")
    merged = earlier_of([(0, 0, 4, 4), (4, 0, 10, 4)], ["x", "y"], ["0.01", "0.02"])
    (plan,), _ = with_kept_rooms([plan_of(rooms_of([(0, 0, 10, 4)], ["a"]))], merged)
    assert plan.rooms.room == ("y",) and plan.rooms.name == ("0.02",)


def test_a_derived_identifier_that_an_earlier_room_has_is_not_given_to_another():
    earlier = earlier_of([(0, 0, 10, 4)], ["a"], ["0.01"])
    rooms = rooms_of([(0, 0, 4, 4), (4, 0, 10, 4)], ["a", "b"])
    (plan,), _ = with_kept_rooms([plan_of(rooms)], earlier)
    assert plan.rooms.room[1] == "a"
    assert plan.rooms.room[0] not in ("a", "b")


def test_scales_agree_on_what_is_kept():
    earlier = earlier_of([(0, 0, 4, 4), (4, 0, 8, 4)], ["x", "y"], ["Store", "0.02"], {"Store"})
    fine = plan_of(rooms_of([(0, 0, 4, 4), (4, 0, 8, 4), (8, 0, 9, 4)], ["a", "b", "c"], 50))
    coarse = plan_of(rooms_of([(4, 0, 8, 4), (0, 0, 4, 4), (8, 0, 9, 4)], ["b", "a", "c"], 200))
    plans, _ = with_kept_rooms([fine, coarse], earlier)
    named = [dict(zip(p.rooms.room, p.rooms.name)) for p in plans]
    assert named[0] == named[1] == {"x": "Store", "y": "0.02", "c": "0.01"}


def test_what_a_person_marked_stays_and_what_the_survey_said_is_said_anew():
    window, unseen = [(0, 0), (2, 0)], [(5, 0), (7, 0)]
    earlier = earlier_of(
        openings=earlier_openings([window, unseen], ["window", "unseen"], [True, False])
    )
    now = openings_of(
        [[(2.0, 0.05), (0.1, 0.05)], [(5.1, 0.0), (6.9, 0.0)]],
        ["unseen", "doorway"],
        [("", ""), ("", "")],
    )
    (plan,), found = with_kept_rooms([plan_of(rooms_of([], []), now)], earlier)
    assert plan.openings.opening == ("e0", "e1")
    assert plan.openings.kind == ("window", "doorway")
    assert found.said["e0", "kind at 1:50"] == "unseen"


def test_a_window_marked_where_the_survey_now_finds_a_wall_stays_as_drawn():
    earlier = earlier_of(
        openings=earlier_openings([[(0, 0), (2, 0)], [(4, 0), (5, 0)]], ["window"] * 2, [1, 0])
    )
    (plan,), found = with_kept_rooms([plan_of(rooms_of([], []))], earlier)
    assert plan.openings.opening == ("e0",) and plan.openings.kind == ("window",)
    assert plan.openings.width_m.tolist() == [2.0]
    assert ("e0", "kind at 1:50") not in found.said


def test_of_two_stretches_at_one_place_the_rooms_tell_which_is_which():
    """What nobody saw of a wall between two rooms is an opening of either."""
    line = [(4, 1), (4, 2)]
    boxes = [(0, 0, 4, 4), (4, 0, 8, 4)]
    for ends in (["x", "y"], ["y", "x"]):
        earlier = earlier_of(
            boxes,
            ["x", "y"],
            ["0.01", "0.02"],
            openings=earlier_openings([line] * 2, ["unseen"] * 2, [0, 0], [[e] for e in ends]),
        )
        unseen = openings_of([line] * 2, ["unseen"] * 2, [("a", ""), ("b", "")])
        (plan,), _ = with_kept_rooms([plan_of(rooms_of(boxes, ["a", "b"]), unseen)], earlier)
        assert plan.openings.opening == (("e0", "e1") if ends == ["x", "y"] else ("e1", "e0"))


@pytest.mark.parametrize(("before", "now"), [(50, 20), (100, 50), (50, 100)])
def test_rooms_go_on_at_a_plot_scale_that_the_earlier_plan_did_not_have(before, now):
    earlier = earlier_of([(0, 0, 4, 4)], ["kitchen"], ["Kitchen"], {"Kitchen"}, plot_scale=before)
    (plan,), _ = with_kept_rooms([plan_of(rooms_of([(0, 0, 4, 4)], ["a"], now))], earlier)
    assert plan.rooms.room == ("kitchen",) and plan.rooms.name == ("Kitchen",)


def test_openings_name_the_rooms_by_their_kept_identifiers():
    earlier = earlier_of([(0, 0, 4, 4), (4, 0, 8, 4)], ["x", "y"], ["0.01", "0.02"])
    rooms = rooms_of([(0, 0, 4, 4), (4, 0, 8, 4)], ["a", "b"])
    doorway = openings_of([[(4, 1), (4, 2)]], ["doorway"], [("a", "b")])
    (plan,), _ = with_kept_rooms([plan_of(rooms, doorway)], earlier)
    assert plan.openings.room_a == ("x",) and plan.openings.room_b == ("y",)


def test_without_an_earlier_plan_nothing_changes_and_all_is_told():
    plan = plan_of(
        rooms_of([(0, 0, 4, 4)], ["a"]), openings_of([[(0, 0), (1, 0)]], ["doorway"], [("a", "")])
    )
    (same,), found = with_kept_rooms([plan], None)
    assert same.rooms.room == plan.rooms.room
    assert found.said == {("a", "name"): "0.01", ("o0", "kind at 1:50"): "doorway"}


boxes = st.lists(
    st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(1, 5), st.integers(1, 5)).map(
        lambda b: (b[0], b[1], b[0] + b[2], b[1] + b[3])
    ),
    max_size=8,
)


@settings(deadline=None)
@given(boxes, boxes)
def test_identifiers_and_new_names_are_unique_whatever_the_rooms(old, new):
    earlier = earlier_of(
        old, [f"e{i}" for i in range(len(old))], [f"0.{i:02d}" for i in range(8)][: len(old)]
    )
    rooms = rooms_of(new, [f"e{i}" for i in range(len(new))])
    (plan,), _ = with_kept_rooms([plan_of(rooms)], earlier)
    assert len(set(plan.rooms.room)) == len(set(plan.rooms.name)) == len(new)
    for room, polygon in zip(plan.rooms.room, plan.rooms.polygon):
        if room in earlier.rooms.room:
            was = earlier.rooms.polygon[earlier.rooms.room.index(room)]
            assert polygon.intersection(was).area > 0.5 * min(polygon.area, was.area) - 1e-9


@given(st.floats(-3, 3), st.floats(-5, 5), st.floats(-5, 5), st.floats(0.1, 3), st.floats(0, 0.3))
def test_a_common_stretch_is_that_of_the_lines_however_they_lie(turned, x, y, start, apart):
    c, s = np.cos(turned), np.sin(turned)
    place = lambda points: np.array(points) @ np.array([[c, s], [-s, c]]) + (x, y)  # noqa: E731
    line, other = place([[0, 0], [4, 0]]), place([[start, apart], [9, apart]])
    common, distance = common_stretch(line, other)
    assert common == pytest.approx(4 - start) and distance == pytest.approx(apart, abs=1e-9)
    assert common_stretch(line, other[::-1]) == pytest.approx((common, distance))


def test_an_earlier_drawing_moves_by_group():
    earlier = earlier_of([(0, 0, 4, 4)], ["x"], ["0.01"])
    earlier = replace(earlier, rooms=replace(earlier.rooms, network=ints([2])))
    motion = np.array([10.0, 0.0, 0.0])
    assert earlier.moved({1: motion}).rooms.polygon[0].bounds == (0, 0, 4, 4)
    assert earlier.moved({2: motion}).rooms.polygon[0].bounds == (10, 0, 14, 4)
