# SPDX-License-Identifier: GPL-2.0-or-later
"""The whole chain against truth: the example survey, and surveys made elsewhere."""

import json

import numpy as np
import pytest
import shapely
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, draw_walls_at, tie_stations
from roomtie.processing.stations.model import Status, TieKind
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.walls.plot_scales import TOLERANCE_M
from roomtie.processing.walls.squaring import Square
from roomtie.processing.walls.tolerance import check_tolerance


def errors_against(network, truth: list[dict], chosen: list[int]):
    """Position errors ``(n, 2)`` in m and direction errors ``(n,)`` in rad after the best fit of
    position and rotation: the datum of a free network is a convention."""
    by_name = {entry["station"]: entry for entry in truth}
    there = np.array([[by_name[network.station[i]][k] for k in "xy"] for i in chosen])
    direction = np.radians([by_name[network.station[i]]["orientation_deg"] for i in chosen])
    here = network.xy_m[chosen]
    a, b = there - there.mean(axis=0), here - here.mean(axis=0)
    # Clockwise turn that brings the estimate to truth (Umeyama 1991, rotation only, in the plane).
    rotation = np.arctan2(np.sum(b[:, 1] * a[:, 0] - b[:, 0] * a[:, 1]), np.sum(a * b))
    moved = turn(b, rotation) + there.mean(axis=0)
    return moved - there, wrap_half(network.orientation_rad[chosen] + rotation - direction)


def group(network, number: int) -> list[int]:
    return [i for i in range(len(network)) if network.network[i] == number]


@pytest.fixture(scope="module")
def truth(example_survey):
    return json.loads((example_survey.parent / "example_truth.json").read_text("utf-8"))


def test_all_stations_of_the_example_are_tied_and_right(example, truth):
    network = example.tied.network
    assert set(network.status) == {Status.ADJUSTED}
    assert set(network.network.tolist()) == {1}
    position, direction = errors_against(network, truth["stations"], list(range(len(network))))
    # Upstairs hangs on one pair of targets in the stair, which gives its direction to 0.1 deg.
    assert np.hypot(*position.T).max() < 0.012
    assert np.degrees(np.abs(direction)).max() < 0.08
    assert network.statistics.passes


def test_stated_errors_of_the_example_cover_the_real_ones(example, truth):
    network = example.tied.network
    position, _ = errors_against(network, truth["stations"], list(range(len(network))))
    # 36 coordinates, four standard errors and the fit's own: a blunder, not bad luck, fails.
    assert (np.abs(position) < 4 * network.sigma()[:, :2] + 0.001).all()


def test_the_bumped_tripod_and_the_bent_compass_are_named_and_nothing_else(example, truth):
    ties = example.tied.network.ties
    rejected = {
        (kind, example.tied.network.station[s])
        for s, used, kind in zip(ties.from_station, ties.used, ties.kind)
        if not used and kind is not TieKind.GEOTAG
    }
    moved = {s["station"] for s in truth["stations"] if "moved_before_sightings" in s}
    bent = {s["station"] for s in truth["stations"] if "compass_bent_deg" in s}
    assert rejected == {(TieKind.TARGET, name) for name in moved} | {
        (TieKind.COMPASS, name) for name in bent
    }


def test_rooms_with_a_station_have_their_area(example, truth):
    rooms = example.drawn.plans[0].rooms
    where = {c.station: c for c in example.tied.survey.captures}
    stations = {s["station"]: shapely.Point(s["x"], s["y"]) for s in truth["stations"]}
    relative = {}
    for entry in truth["rooms"]:
        polygon = shapely.geometry.shape(entry["geometry"])
        inside = [
            name
            for name, point in stations.items()
            if where[name].level == entry["level"] and polygon.contains(point)
        ]
        if not inside:
            continue
        found = [i for i in range(len(rooms)) if set(inside) & set(rooms.stations[i])]
        assert len(found) == 1, entry["name"]
        relative[entry["name"]] = float(rooms.area_m2[found[0]]) / entry["area_m2"] - 1
    assert len(relative) == 14
    # Furniture that fills a corner looks like a wall; what it hides is missing from two rooms.
    hidden = {name: relative.pop(name) for name in ("Kitchenette", "Study room")}
    assert min(hidden.values()) > -0.04 and max(hidden.values()) < 0.002
    assert max(map(abs, relative.values())) < 0.002


@pytest.mark.parametrize("square", Square)
def test_the_plot_scale_tolerance_is_kept(example, square):
    drawn = draw_walls_at(example.drawn.measured, TOLERANCE_M, square)
    for scale, (walls, moved_m) in zip(sorted(TOLERANCE_M), drawn):
        movements = check_tolerance(example.drawn.measured, walls, TOLERANCE_M[scale])
        assert movements.largest_m == moved_m <= TOLERANCE_M[scale] + 1e-9


def test_an_own_tolerance_narrows_that_of_the_scale(example):
    ((_, moved_m),) = draw_walls_at(example.drawn.measured, (200,), tolerance_m=0.002)
    assert 0 < moved_m <= 0.002 + 1e-9
    wide = draw_walls_at(example.drawn.measured, (20,), tolerance_m=1.0)[0][1]
    assert wide <= TOLERANCE_M[20] + 1e-9


def test_rooms_are_valid_do_not_overlap_and_keep_their_ids_over_scales(example):
    for plan in example.drawn.plans:
        for level in (0, 1):
            chosen = [p for p, at in zip(plan.rooms.polygon, plan.rooms.level) if at == level]
            assert all(polygon.is_valid for polygon in chosen)
            assert shapely.area(chosen).sum() - shapely.union_all(chosen).area < 1e-9
    fine, coarse = [set(p.rooms.room) for p in example.drawn.plans]
    assert fine == coarse


def test_doorways_have_their_widths(example, truth):
    openings = example.drawn.plans[0].openings
    doorways = [i for i, kind in enumerate(openings.kind) if kind == "doorway"]
    expected = sorted(door["width_m"] for door in truth["doorways"])
    assert sorted(openings.width_m[doorways]) == pytest.approx(expected, abs=0.05)


def test_out_of_square_walls_stay_out_of_square(example, truth):
    walls = example.drawn.plans[0].walls
    long = (walls.length_m > 1.0) & (walls.level == 0)
    turned_wing = np.degrees(walls.normal_rad[long]) % 90.0
    assert (np.abs(turned_wing - truth["out_of_square_deg"]["wing"]) < 0.1).sum() >= 4
    front = 90.0 + truth["out_of_square_deg"]["reading room front"]
    assert (np.abs(turned_wing - front) < 0.1).sum() >= 1


class TestDuplexLevel:
    """Ten simulated captures in one storey of a published building model: the Duplex model, from
    stijngoedertier/georeference-ifc (CC BY 4.0)."""

    @pytest.fixture(scope="class")
    def duplex(self, shared_data):
        folder = shared_data("duplex-level-1")
        tied = tie_stations(import_captures(folder), NetworkOptions())
        return tied, draw_plans(tied, (50,)), json.loads((folder / "truth.json").read_text())

    def test_the_flats_stay_two_networks(self, duplex):
        tied, _, _ = duplex
        names = {
            frozenset(tied.network.station[i] for i in group(tied.network, number))
            for number in (1, 2)
        }
        assert names == {
            frozenset({"S01", "S04", "S06", "S07", "S10"}),
            frozenset({"S02", "S03", "S05", "S08", "S09"}),
        }

    def test_stations_are_within_three_millimetres(self, duplex):
        tied, _, truth = duplex
        for number in (1, 2):
            chosen = group(tied.network, number)
            position, direction = errors_against(tied.network, truth["stations"], chosen)
            assert np.hypot(*position.T).max() < 0.003
            assert np.degrees(np.abs(direction)).max() < 0.03

    def test_rooms_have_their_areas_and_do_not_overlap(self, duplex):
        _, drawn, truth = duplex
        rooms = drawn.plans[0].rooms
        expected = sorted(room["area_m2"] for room in truth["rooms"])
        occupied = sorted(a for a, stations in zip(rooms.area_m2, rooms.stations) if stations)
        np.testing.assert_allclose(occupied, expected, rtol=0.01)
        for number in (1, 2):
            shapes = [p for p, at in zip(rooms.polygon, rooms.network) if at == number]
            assert shapely.area(shapes).sum() - shapely.union_all(shapes).area < 1e-9


def test_a_dirty_real_flat_ties_where_the_tape_puts_it_and_says_what_it_cannot_tie(shared_data):
    """Six captures of a hobby lidar, positions taped by hand to a few centimetres and orientations
    kept by eye: PiBot_v4, code/flat_mapping_test (Apache-2.0)."""
    folder = shared_data("flat-six-stations")
    survey = import_captures(folder)
    absurd = [c.distance_m > 30.0 for c in survey.captures]
    assert sum(int(mask.sum()) for mask in absurd) > 0
    assert all(not c.usable[mask].any() for c, mask in zip(survey.captures, absurd))

    tied = tie_stations(survey, NetworkOptions())
    network = tied.network
    taped = json.loads((folder / "taped_positions.json").read_text())["stations"]
    found = [i for number in network.groups for i in group(network, number)]
    assert len(found) >= 4
    for number in network.groups:
        position, direction = errors_against(network, taped, group(network, number))
        assert np.hypot(*position.T).max() < 0.15
        assert np.degrees(np.abs(direction)).max() < 5.0
    told = " ".join(network.warnings)
    assert "tied by their readings" in told
    loose = [name for i, name in enumerate(network.station) if i not in found]
    assert all(name in told for name in loose)
    draw_plans(tied, (100,))
