# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan made in two halves against the plan made at once."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from roomtie.processing.angles import wrap_half
from roomtie.processing.captures.model import Survey
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, tie_stations
from roomtie.processing.growing import Stations, grow
from roomtie.processing.layers.earlier_plan import GivenLayer, earlier_plan
from roomtie.processing.layers.plan import plan_tables
from roomtie.processing.layers.survey_notes import notes_of
from roomtie.processing.stations.choices import Choices
from roomtie.processing.stations.connect_frames import apart, composed
from roomtie.processing.stations.model import Status
from roomtie.processing.stations.moves import moves_of
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.same_datum import motion_between, network_poses
from roomtie.processing.walls.identity_kept import with_kept_rooms

SCALES = (50, 200)


def tie(survey, choices, start):
    return tie_stations(survey, NetworkOptions(choices=choices, start=start))


def layers_of(imported, tied, drawn):
    """The tables of a plan as they are read back."""
    tables = plan_tables(tied, drawn, (), {})
    tables.append(notes_of(imported, drawn.survey, tied.network.corrected, drawn.found.said))
    return {
        table.schema.name: GivenLayer(
            dict(zip(table.schema.field_names, table.columns)), table.geometry
        )
        for table in tables
    }


@pytest.fixture(scope="module")
def whole(example_survey):
    return import_captures(example_survey / "captures")


@pytest.fixture(scope="module")
def halves(whole):
    """Eight captures of the ground floor that are one network by themselves, and the rest."""
    first = [name for name in whole.names[:9] if name != "S07"]
    return (
        replace(whole, captures=tuple(c for c in whole.captures if c.station in first)),
        replace(whole, captures=tuple(c for c in whole.captures if c.station not in first)),
    )


@pytest.fixture(scope="module")
def first(halves):
    tied = tie_stations(halves[0], NetworkOptions())
    drawn = draw_plans(tied, SCALES)
    return tied, drawn


@pytest.fixture(scope="module")
def stands(halves, first):
    return earlier_plan(layers_of(halves[0], *first))


@pytest.fixture(scope="module")
def grown(stands, halves):
    grown = grow(stands.earlier, halves[1], tie)
    return grown, draw_plans(grown.tied, SCALES, earlier=grown.drawing)


def test_the_grown_plan_is_the_whole_one(grown, example):
    network, at_once = grown[0].tied.network, example.tied.network
    assert set(network.status) == {Status.ADJUSTED}
    assert set(network.station) == set(at_once.station)
    order = [network.station.index(name) for name in at_once.station]
    here, there = network_poses(network)[order], network_poses(at_once)
    shift, turned = apart(composed(motion_between(there, here), there), here)
    # The same observations adjusted from other starting values: to what iterations leave.
    assert shift.max() < 1e-6 and turned.max() < 1e-7
    assert network.covariance.shape == at_once.covariance.shape
    rooms, at_once_rooms = grown[1].plans[0].rooms, example.drawn.plans[0].rooms
    assert len(rooms) == len(at_once_rooms)
    # Lines are sampled in the plan's axes, which differ by the turn between the two datums.
    assert np.sort(rooms.area_m2) == pytest.approx(np.sort(at_once_rooms.area_m2), abs=0.01)


def test_the_grown_plan_does_not_jump(grown, stands):
    moves = moves_of(stands.earlier.network, grown[0].tied.network, grown[0].joined.earlier)
    assert moves.station == stands.earlier.survey.names
    assert np.hypot(*moves.shift_m.T).max() < 0.002
    assert np.degrees(np.abs(moves.turn_rad)).max() < 0.02
    # No more than what was stated lets expect.
    assert (np.abs(moves.shift_m) < 4 * moves.sigma[:, :2] + 2e-4).all()


def test_walls_and_rooms_keep_identifiers_and_new_ones_are_others(grown, first):
    before, after = first[1], grown[1]
    for plan, was in zip(after.plans, before.plans):
        where = dict(zip(plan.rooms.room, plan.rooms.polygon))
        kept = [room for room in was.rooms.room if room in where]
        # All that the first half could draw is there still.
        assert kept == list(was.rooms.room)
        for room, polygon in zip(was.rooms.room, was.rooms.polygon):
            common = where[room].intersection(polygon).area
            assert common > 0.5 * min(where[room].area, polygon.area)
        assert len(set(plan.rooms.room)) == len(plan.rooms) > len(was.rooms)
        assert len(set(plan.rooms.name)) == len(plan.rooms)
    walls, were = after.measured, before.measured
    assert len(set(walls.wall)) == len(walls)
    kept = set(walls.wall) & set(were.wall)
    assert len(kept) > 0.9 * len(were)
    line = {
        name: (normal, offset)
        for name, normal, offset, length in zip(
            were.wall, were.normal_rad, were.offset_m, were.length_m
        )
        if length > 0.5  # a short one's direction is not well known
    }
    assert len(kept & set(line)) > 30
    for i in range(len(walls)):
        if walls.wall[i] in line:
            normal, offset = line[walls.wall[i]]
            assert abs(wrap_half(walls.normal_rad[i] - normal)) < np.radians(2.0)
            assert abs(walls.offset_m[i] - offset) < 0.1
    # New faces are numbered on.
    numbers = [int(name[1:]) for name in set(walls.wall) - kept]
    assert min(numbers) > max(int(name[1:]) for name in were.wall)


def test_drawn_again_without_new_captures_a_plan_is_what_it_was(stands, first):
    again = grow(stands.earlier, None, tie)
    drawn = draw_plans(again.tied, SCALES, earlier=again.drawing)
    tied, before = first
    assert np.abs(again.tied.network.xy_m - tied.network.xy_m).max() < 1e-6
    assert drawn.measured.wall == before.measured.wall
    for plan, was in zip(drawn.plans, before.plans):
        assert plan.rooms.room == was.rooms.room and plan.rooms.name == was.rooms.name
        assert plan.openings.opening == was.openings.opening
        assert plan.openings.kind == was.openings.kind
        assert plan.rooms.area_m2 == pytest.approx(was.rooms.area_m2, abs=0.01)


def test_held_stations_stay_to_the_last_digit_and_new_ones_join_them(stands, halves):
    held = grow(stands.earlier, halves[1], tie, stations=Stations.HELD).tied.network
    before = stands.earlier.network
    count = len(before)
    assert np.array_equal(held.xy_m[:count], before.xy_m)
    assert np.abs(wrap_half(held.orientation_rad[:count] - before.orientation_rad)).max() < 1e-15
    assert set(held.status[:count]) == {Status.HELD}
    assert set(held.status[count:]) == {Status.ADJUSTED}
    assert np.isfinite(held.sigma()[count:]).all()
    # Nobody chose to hold them beyond this run.
    assert held.choices.held == ()


def edited(stands, **changes):
    return replace(stands.earlier, **changes)


def test_choices_count_and_are_carried_on(stands, halves):
    network = stands.earlier.network
    used = [k for k, kind in enumerate(network.ties.kind)]
    assert used == []  # the list of ties is made anew; names are what a person speaks of
    chosen = Choices(held=("S02",), left_out=("S04",), sigma_factor={"S01 with S02": 3.0})
    grown = grow(edited(stands, choices=chosen), halves[1], tie).tied.network
    status = dict(zip(grown.station, grown.status))
    assert status["S02"] is Status.HELD and status["S04"] is Status.UNCONNECTED
    assert grown.choices.held == ("S02",) and grown.choices.left_out == ("S04",)
    assert dict(grown.choices.sigma_factor) == {"S01 with S02": 3.0}
    k = network.station.index("S02")
    assert np.array_equal(grown.xy_m[grown.station.index("S02")], network.xy_m[k])


def test_a_capture_taken_again_replaces_the_other_with_its_choices(stands, whole):
    """S03 stands somewhere else in its room the second time: a later capture of it."""
    old = whole.captures[2]
    angle = np.radians(old.angle_deg)
    xy = old.distance_m[:, None] * np.stack([np.sin(angle), np.cos(angle)], axis=-1) - (0.3, 0.2)
    new = replace(
        old,
        angle_deg=np.degrees(np.arctan2(xy[:, 0], xy[:, 1])) % 360.0,
        distance_m=np.hypot(*xy.T),
        slope_distance_m=np.hypot(*xy.T),
        captured_at=old.captured_at.replace(year=2031),
    )
    chosen = Choices(held=("S03",), sigma_factor={"S02 with S03": 5.0, "S01 with S02": 2.0})
    grown = grow(edited(stands, choices=chosen), Survey((new,)), tie)
    network = grown.tied.network
    assert network.station == stands.earlier.network.station
    assert network.status[2] is Status.ADJUSTED
    assert network.choices.held == ()
    assert dict(network.choices.sigma_factor) == {"S01 with S02": 2.0}
    before = network_poses(stands.earlier.network)[2]
    expected = composed(before, np.array([0.3, 0.2, 0.0]))
    shift, turned = apart(network_poses(network)[2], expected)
    assert shift < 0.003 and np.degrees(turned) < 0.1
    # The old one is kept where it was, takes part in nothing, and is not measured as moved.
    (aside,) = grown.aside.captures
    assert aside.station == "S03 (earlier)" and not aside.usable.any()
    shift, turned = apart(grown.aside.pose[0], before)
    assert shift < 0.002 and np.degrees(turned) < 0.02
    drawn = draw_plans(grown.tied, (50,), earlier=grown.drawing)
    assert set(drawn.plans[0].rooms.room) >= set(stands.earlier.drawing.rooms.room)
    assert "S03" not in moves_of(stands.earlier.network, network, grown.joined.earlier).station
    assert any("S03 was captured again" in sentence for sentence in grown.sentences)


def test_networks_that_new_captures_connect_cannot_both_be_held(whole, halves):
    """A part of either storey, that share nothing; what comes then has the stair."""
    apart_ = replace(whole, captures=(*whole.captures[:3], *whole.captures[13:17]))
    tied = tie_stations(apart_, NetworkOptions())
    assert tied.network.network.tolist() == [1, 1, 1, 2, 2, 2, 2]
    drawn = draw_plans(tied, (50,))
    stands = earlier_plan(layers_of(apart_, tied, drawn))
    names = set(apart_.names)
    between = replace(whole, captures=tuple(c for c in whole.captures if c.station not in names))
    grown = grow(stands.earlier, between, tie, stations=Stations.HELD)
    assert set(grown.tied.network.network.tolist()) == {1}
    assert any("Only the" in sentence for sentence in grown.sentences)
    status = dict(zip(grown.tied.network.station, grown.tied.network.status))
    assert {n for n in status if status[n] is Status.HELD} == set(apart_.names[3:])
    # The drawing of the network that moved as a whole is compared where it lies now.
    after = draw_plans(grown.tied, (50,), earlier=grown.drawing).plans[0].rooms
    assert set(drawn.plans[0].rooms.room) <= set(after.room)
    where = dict(zip(after.room, after.polygon))
    for room, polygon in zip(grown.drawing.rooms.room, grown.drawing.rooms.polygon):
        common = shapely.intersection(where[room], polygon).area
        assert common > 0.5 * min(where[room].area, polygon.area)


def test_scales_that_differ_on_a_kind_are_not_taken_for_a_persons_word(halves, first):
    """At 1:50 the survey says doorway, at 1:200 unseen, of one opening."""
    tied, drawn = first
    openings = drawn.plans[0].openings
    doorway = openings.opening[openings.kind.index("doorway")]
    coarse = drawn.plans[1].openings
    kinds = tuple(
        "unseen" if name == doorway else kind for name, kind in zip(coarse.opening, coarse.kind)
    )
    plans = (drawn.plans[0], replace(drawn.plans[1], openings=replace(coarse, kind=kinds)))
    kept, found = with_kept_rooms(plans, None)
    again = earlier_plan(layers_of(halves[0], tied, replace(drawn, plans=kept, found=found)))
    assert not again.earlier.drawing.openings.by_hand.any()
