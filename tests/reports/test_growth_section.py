# SPDX-License-Identifier: GPL-2.0-or-later
"""What the report says of a plan that grew."""

import json
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.reports.growth_section import Growth, growth_json, growth_section_html
from roomtie.processing.stations.model import Status
from roomtie.processing.stations.moves import Moves
from roomtie.processing.walls.moves import RoomChanges, WallMoves


@pytest.fixture
def growth():
    moves = Moves(
        ("S1", "S2", "S<3>"),
        (Status.HELD, Status.ADJUSTED, Status.ADJUSTED),
        np.array([[0.0, 0.0], [0.0004, -0.0003], [0.0, 0.006]]),
        np.array([0.0, 1e-5, 0.0]),
        np.array([[0.0, 0.0, 0.0], [0.001, 0.001, 1e-4], [0.001, 0.001, 1e-4]]),
    )
    walls = WallMoves(
        50, ("W1", "W2"), np.array([0.0001, -0.004]), np.array([0.0005, 0.001]), ("W9",), ("W4",)
    )
    rooms = RoomChanges(("Foyer",), ("0.07",), ("0.02",))
    return Growth("plan.gpkg", ("S9",), ("S1",), {"S2 (earlier)": "S2"}, moves, walls, rooms)


def test_moves_are_measured_by_the_errors_stated_before(growth):
    assert growth.moves.distance_m == pytest.approx([0.0, 0.0005, 0.006])
    share = growth.moves.standardised
    assert np.isnan(share[0]) and share[1:] == pytest.approx([0.4, 6.0])


def test_the_page_tells_what_is_new_held_moved_and_gone(growth):
    page = str(growth_section_html(growth))
    for words in ("S9", "S2", "0.07", "0.02", "W4", "plan.gpkg", "S&lt;3&gt;"):
        assert words in page
    assert "<3>" not in page
    # The largest move comes first, and what chance hardly does is marked.
    assert page.index("S&lt;3&gt;") < page.rindex(">S2<")
    assert "6.0 !" in page and "4.0 !" in page and "0.4 !" not in page
    assert "2 earlier walls, as drawn at 1:50, moved across themselves by 2.05 mm (median)" in page


def test_programs_get_the_same(growth):
    said = json.loads(json.dumps(growth_json(growth)))
    assert said["new_stations"] == ["S9"] and said["replaced_captures"] == {"S2 (earlier)": "S2"}
    moved = {row["station"]: row for row in said["moved_stations"]}
    assert moved["S<3>"]["y_mm"] == pytest.approx(6.0)
    assert moved["S2"]["orientation_deg"] == pytest.approx(np.degrees(1e-5))
    assert said["moved_walls"][1] == {"wall": "W2", "offset_mm": -4.0, "sigma_offset_mm": 1.0}
    assert said["gone_rooms"] == ["0.02"]


def test_walls_drawn_at_other_plot_scales_are_not_said_to_have_moved(growth):
    nan = np.full(2, np.nan)
    walls = WallMoves(0, ("W1", "W2"), nan, np.array([0.0005, 0.001]), (), ())
    other = replace(growth, walls=walls)
    page = str(growth_section_html(other))
    assert "have no plot scale in common" in page and "moved across" not in page
    assert growth_json(other)["moved_walls"] == []


def test_without_plans_there_is_nothing_about_rooms(growth):
    bare = Growth("p", (), (), {}, growth.moves, None, None)
    page = str(growth_section_html(bare))
    assert "New rooms" not in page and "New stations" in page
    assert growth_json(bare)["moved_walls"] == []
