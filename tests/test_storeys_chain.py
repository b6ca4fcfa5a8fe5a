# SPDX-License-Identifier: GPL-2.0-or-later
"""The whole chain on a survey of two storeys: one network by the stair, a plan of each storey."""

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

sys.path.append(str(Path(__file__).resolve().parent / "stations"))
sys.path.append(str(Path(__file__).resolve().parent / "captures"))

from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, tie_stations
from roomtie.processing.layers.rows import targets
from roomtie.processing.reports.network_section import network_section_html
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from simulated_buildings import simulated_building
from simulated_plan import WELL
from simulated_targets import Mark, Sighted
from written_captures import write_captures

SEED = 6
"""A building whose storeys are one network each by their walls: the stair is what is tested."""


def surveyed(folder, stair):
    survey, truth = simulated_building(
        SEED, rooms=3, storeys=2, stair=stair, targets=False, compass=True, readings=1200
    )
    write_captures(folder, survey)
    tied = tie_stations(import_captures(folder), NetworkOptions())
    return tied, truth


@pytest.fixture(scope="module")
def two_storeys(tmp_path_factory):
    tied, truth = surveyed(tmp_path_factory.mktemp("storeys"), stair=2)
    return tied, truth, draw_plans(tied, (50,))


def test_two_storeys_are_one_network_in_place(two_storeys):
    tied, truth, _ = two_storeys
    network = tied.network
    assert set(network.network) == {1}
    here = np.column_stack([network.xy_m, network.orientation_rad])
    # Against a station in the well below: there the storeys hang together.
    first = tied.survey.index(truth.in_the_well(0)[0])
    error = between(here[first], here) - between(truth.pose[first], truth.pose)
    assert np.hypot(*error[:, :2].T).max() < 0.02
    (join,) = network.storeys
    assert (join.lower, join.upper) == (0, 1) and join.targets == ("stair 10", "stair 11")


def test_walls_never_tie_one_storey_to_another(two_storeys):
    tied, truth, _ = two_storeys
    ties = tied.network.ties
    between_stations = ties.to_station >= 0
    first, second = ties.from_station[between_stations], ties.to_station[between_stations]
    assert between_stations.any()
    assert (truth.level[first] == truth.level[second]).all()


def test_each_storey_has_its_plan_and_the_well_lies_over_itself(two_storeys):
    _, truth, drawn = two_storeys
    rooms = drawn.plans[0].rooms
    wells = []
    for level in (0, 1):
        own = np.flatnonzero(rooms.level == level)
        assert len(own) == len(truth.storeys[level].rooms)
        shapes = [rooms.polygon[k] for k in own]
        assert shapely.area(shapes).sum() - shapely.union_all(shapes).area < 1e-9
        (well,) = (k for k in own if set(truth.in_the_well(level)) & set(rooms.stations[k]))
        wells.append(rooms.polygon[well])
        # Furniture in a corner may be taken for the wall.
        assert wells[-1].area == pytest.approx(WELL.area, rel=0.05)
    common = wells[0].intersection(wells[1]).area
    # 14 m2 with 15.6 m of outline: 10 mm out of place would cost 0.5 %.
    assert common / min(well.area for well in wells) > 0.99


def test_a_target_of_the_stair_belongs_to_the_lower_storey(two_storeys):
    tied, _, _ = two_storeys
    table = targets(tied.survey, tied.network)
    level = dict(zip(table.column("target"), table.column("level")))
    assert level == {"stair 10": 0, "stair 11": 0}


def test_a_name_of_two_places_has_a_storey_for_each():
    """Upstairs two stations call by one name what two others below call so: two targets."""
    at = {"A": (-2.0, -1.7), "B": (2.3, -1.1), "C": (1.4, 2.2), "E": (0.3, 2.9), "F": (-0.6, -2.8)}
    truth = Sighted(
        np.array([(0.0, 0.0, 0.3), (1.2, -0.8, -2.0), (-0.9, 0.7, 1.4), (0.6, 1.0, 2.4)]),
        np.array([0, 0, 1, 1]),
        {name: Mark(*xy) for name, xy in at.items()},
        ["ABCE", "ABCE", "ABCF", "ABCF"],
        {(2, "F"): "E", (3, "F"): "E"},
    )
    taken = truth.survey(np.random.default_rng(1))
    faces = [no_faces(len(capture)) for capture in taken.captures]
    table = targets(taken, adjust_survey(taken, faces, NetworkOptions(use_overlap=False)))
    level = dict(zip(table.column("target"), table.column("level")))
    assert level["E"] == 0 and level["E (2)"] == 1


def test_the_report_has_a_picture_and_a_row_of_each_storey(two_storeys):
    tied, _, _ = two_storeys
    html = str(network_section_html(tied.survey, tied.network))
    for level in (0, 1):
        assert f"Level {level}: stations (dots" in html
    assert "<h2>Storeys</h2>" in html and "stair 10, stair 11" in html


def test_without_targets_in_the_stair_each_storey_is_a_network_of_its_own(tmp_path):
    tied, truth = surveyed(tmp_path, stair=0)
    network = tied.network
    assert not set(network.network[truth.level == 0]) & set(network.network[truth.level == 1])
    told = " ".join(network.warnings)
    assert "No target ties level 0 to" in told and "No target ties level 1 to" in told
    html = str(network_section_html(tied.survey, network))
    assert "No target joins one storey to another." in html
    rooms = draw_plans(tied, (50,)).plans[0].rooms
    assert not set(rooms.network[rooms.level == 0]) & set(rooms.network[rooms.level == 1])
