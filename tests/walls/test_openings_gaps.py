# SPDX-License-Identifier: GPL-2.0-or-later
"""Gaps of walls, by what stands at their ends."""

import numpy as np
import pytest
from roomtie.processing.walls.arrangement_backing import backed_intervals
from roomtie.processing.walls.arrangement_lines import wall_pieces
from roomtie.processing.walls.arrangement_pieces import Pieces
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.free_space_star import Star, star_of
from roomtie.processing.walls.openings_gaps import find_gaps, is_recess, passed_by_beams
from roomtie.processing.walls.openings_jambs import Gap
from shapely.geometry import Polygon
from simulated import loop
from simulated_rooms import Storey, network_of, survey_of, walls_of

ROOM = [(0, 0), (2.5, 0), (2.5, 2.6), (0, 2.6)]


DOORWAY = Gap(
    np.array([0.0, 0.0]), np.array([1.0, 0.0]), np.array([0.0, 1.0]), (0, 0), 0.0, "open", 0.2
)


def looking(*stations_m):
    """Stations that see as far as 9 m all round: what lies between is not their business."""
    bearing = np.linspace(-np.pi, np.pi, 721)[:-1]
    many, none = np.full(720, 9.0), np.zeros(720, dtype=bool)
    empty, step = np.empty((0, 2)), np.full(720, np.pi / 360)
    return FreeSpace(
        tuple(
            Star(
                np.array(at), bearing, many, step, none, none, none, ~none, empty,
                bearing[:0], empty, np.empty(0, dtype=np.int64),
            )
            for at in stations_m
        )
    )  # fmt: skip


def gaps_of(survey, network):
    faces = walls_of(survey, network)
    every = np.arange(len(faces))
    pieces = wall_pieces(faces, backed_intervals(survey, network, faces, every))
    stars = (
        star_of(capture, network, s, faces.wall_of_reading[s])
        for s, capture in enumerate(survey.captures)
    )
    return find_gaps(faces, pieces, FreeSpace(tuple(stars)))


@pytest.mark.parametrize("hung_off_m", [0.02, 0.04])
@pytest.mark.parametrize("thickness", [0.2, 0.4])
@pytest.mark.parametrize("station_m", [(0.9, 1.0), (1.4, 0.3)], ids=["two jambs", "one jamb"])
def test_a_leaf_that_hides_the_wall_beside_its_doorway(thickness, hung_off_m, station_m):
    """From within the wall at the hinge is never seen: that it ends there its jamb tells, also
    where the other jamb looks away from the station."""
    far = -thickness
    walls = [*loop(ROOM)[:3], [(0, 2.6), (0, 1.7)], [(0, 0.8), (0, 0)]]
    jambs = [[(0, 0.8), (far, 0.8)], [(0, 1.7), (far, 1.7)]]
    corridor = [
        [(far, 0.8), (far, -3)], [(far, 1.7), (far, 6)], [(far - 1.6, -3), (far - 1.6, 6)],
        [(far, -3), (far - 1.6, -3)], [(far, 6), (far - 1.6, 6)],
    ]  # fmt: skip
    low = 1.7 - hung_off_m
    leaf = loop([(0.02, low), (0.87, low + 0.08), (0.87, low + 0.12), (0.02, low + 0.04)])
    stations = np.array([station_m])
    plan = Storey([Polygon(ROOM)], np.array([*walls, *jambs, *corridor]), [], stations)
    survey, orientation = survey_of(plan, np.random.default_rng(6), extra=[leaf])
    network = network_of(survey, plan.stations_m, orientation)
    gaps = gaps_of(survey, network)
    doorways = [gap for gap in gaps if gap.kind == "doorway" and gap.normal[0] > 0.9]
    (doorway,) = doorways
    # the last reading on a jamb is some centimetres before its end
    assert doorway.thickness_m == pytest.approx(thickness, abs=0.06)
    assert doorway.width_m == pytest.approx(0.9, abs=0.03)
    assert not doorway.cornered
    assert np.abs([doorway.start_m[0], doorway.end_m[0]]).max() < 0.01


@pytest.mark.parametrize("recess", [True, False])
def test_a_recess_beside_a_cupboard_is_no_doorway(recess):
    """What is seen of the wall beside it stands behind the cupboard's front as a jamb would; but
    it ends at a wall that looks into the room, where a jamb ends at one that looks away."""
    back = [(0.0, 0.0), (0.0, 0.3)] if recess else [(0.0, 0.0), (0.0, -0.3)]
    ends = np.array([back, [(0.6, 0.0), (0.0, 0.0)]])
    none = np.zeros(2, dtype=np.int64)
    pieces = Pieces(ends, none, np.zeros((2, 2), dtype=np.int64), np.zeros((2, 2)), np.ones(2))
    assert pieces.normal[0].tolist() == [1.0 if recess else -1.0, 0.0]
    line, normal = np.array([(0.6, 1.0), (0.6, 0.0)]), np.array([1.0, 0.0])
    front = Gap(*line, normal, (0, 0), 0.0, "open", 0.0)
    assert is_recess(front, np.zeros(2), pieces) == recess


@pytest.mark.parametrize(("station_m", "passed"), [((0.5, 2.0), True), ((0.5, -3.0), True)])
def test_beams_through_a_gap(station_m, passed):
    assert passed_by_beams(DOORWAY, 0.75, looking(station_m)) == passed


def test_what_is_seen_behind_a_gap_from_elsewhere_passed_no_beam_through_it():
    """From beside, along the wall's back, and from the room, aside of the gap."""
    assert not passed_by_beams(DOORWAY, 0.75, looking((-2.0, -0.6), (3.0, -0.3)))
    assert not passed_by_beams(DOORWAY, 0.75, looking((4.0, 0.2)))
    assert not passed_by_beams(DOORWAY, 0.75, FreeSpace(()))
