# SPDX-License-Identifier: GPL-2.0-or-later
"""What stands before a wall does not go on where beams passed its end."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.walls.arrangement import arrange, seen_of_cells
from roomtie.processing.walls.arrangement_crossed import looked_through, passed
from roomtie.processing.walls.arrangement_pieces import Piece, Pieces
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.free_space_star import star_of
from roomtie.processing.walls.rooms import build_rooms
from shapely.geometry import Polygon
from simulated import capture_of, loop
from simulated_rooms import Storey, box, network_of, survey_of, walls_of

ROOM = [(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)]
STATION = (3.0, 2.5)


def beyond_the_front(deep_m, flagged=False):
    """What is told of a line 0.5 m before the left wall, below the end of a front at y = 2, where
    the wall behind lies so deep: whether it was looked through, and whether it is no wall, with its
    free side to the right and to the left."""
    corners = [(0.5 - deep_m, -4.0), (5.0, -4.0), (5.0, 4.0), (0.5 - deep_m, 4.0)]
    segments = np.concatenate([loop(corners), box(0.2, 2.0, 0.5, 3.0)])
    capture, _ = capture_of(segments, STATION, readings=3600)
    survey = Survey((capture,))
    network = network_of(survey, [STATION], [0.0])
    if flagged:
        x, y = network.to_plan(0, capture.xy_m).T
        mask = (x < 0.45) & (y < 2.0) & (np.arange(len(x)) % 2 == 0)
        capture = capture.with_flags(mask, Flag.THROUGH_GLASS)
    star = star_of(capture, network, 0, np.zeros(len(capture), dtype=np.int64))
    free = FreeSpace((star,))
    around = loop([(-2.0, -1.0), (5.0, -1.0), (5.0, 4.0), (-2.0, 4.0)])
    # the free side of a piece is to its right: upwards along x = 0.5 is the room
    ends = np.concatenate([around, [[(0.5, -1.0), (0.5, 0.6)], [(0.5, 0.6), (0.5, 4.0)]]])
    pieces = Pieces(
        ends_m=ends,
        kind=np.array([Piece.BACKED] * 4 + [Piece.EXTENSION, Piece.BACKED]),
        wall=np.zeros((6, 2), dtype=np.int64),
        from_wall_m=np.zeros((6, 2)),
        backed_m=np.ones(6),
    )
    arrangement = arrange(pieces, np.array([STATION]))
    seen = seen_of_cells(arrangement, free)
    (edge,) = np.flatnonzero(np.hypot(*(arrangement.middle_m - [0.5, -0.2]).T) < 0.01)
    told = passed(arrangement, pieces, seen, free)
    assert not np.delete(told, edge, axis=0).any()
    upward = arrangement.node_m[arrangement.edge[edge]][:, 1]
    right, left = (1, 0) if upward[1] > upward[0] else (0, 1)
    every = np.ones(len(arrangement.edge), dtype=bool)
    through = looked_through(arrangement, free, every)[edge]
    return bool(through), bool(told[edge, right]), bool(told[edge, left])


@pytest.mark.parametrize(
    ("deep_m", "flagged", "expected"),
    [
        (0.5, False, (True, True, False)),  # a wall that furniture stands before
        (2.0, False, (True, False, False)),  # through a doorway: nothing of the wall beside
        (0.01, False, (False, False, False)),  # on the line
        (0.2, True, (True, False, False)),  # a pane in its reveal
    ],
)
def test_a_front_ends_where_beams_meet_the_wall_shortly_behind(deep_m, flagged, expected):
    assert beyond_the_front(deep_m, flagged) == expected


def area_of(*extra, stations=(STATION,), corners=ROOM, seed=1):
    plan = Storey([Polygon(corners)], loop(np.asarray(corners)), [], np.array(stations))
    survey, turned = survey_of(plan, np.random.default_rng(seed), extra=extra, readings=1600)
    network = network_of(survey, plan.stations_m, turned)
    rooms, _ = build_rooms(survey, network, walls_of(survey, network))
    assert len(rooms) == 1
    return float(rooms.area_m2[0]), float(rooms.sigma_area_m2[0])


@pytest.mark.parametrize("seed", range(4))
def test_a_row_of_cupboards_is_no_wall(seed):
    """They leave a quarter of the wall to be seen, and a gap between them."""
    row = [box(0.02, 0.35, 0.33, 1.4), box(0.02, 1.65, 0.4, 3.45)]
    corners = [(0.0, 0.0), (4.6, 0.0), (4.6, 4.85), (0.0, 4.85)]
    area, _ = area_of(*row, stations=((1.75, 4.0), (1.95, 3.1)), corners=corners, seed=seed)
    assert area == pytest.approx(4.6 * 4.85, abs=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_a_cupboard_across_the_end_of_a_corridor_is_held_by_the_standard_error(seed):
    """Of the wall behind it 15 cm were seen, from far."""
    corridor = [(0.0, 0.0), (9.0, 0.0), (9.0, 1.6), (0.0, 1.6)]
    cupboard = box(0.02, 0.02, 0.35, 1.45)
    area, sigma = area_of(cupboard, stations=((5.0, 0.7), (7.0, 0.9)), corners=corridor, seed=seed)
    assert abs(area - 9.0 * 1.6) < 1.96 * sigma
    assert sigma < 0.6
