# SPDX-License-Identifier: GPL-2.0-or-later
"""What counts to a room though no station saw it."""

import numpy as np
import pytest
import shapely
from roomtie.processing.walls.arrangement import arrange
from roomtie.processing.walls.arrangement_pieces import Pieces
from roomtie.processing.walls.rooms_edges import EdgeKinds
from roomtie.processing.walls.rooms_furniture import fill_leaves


def outlines(*boxes):
    """The arrangement of the sides of boxes, and the cell of each point asked for."""
    rings = [shapely.get_coordinates(shapely.box(*box)) for box in boxes]
    ends = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    count = len(ends)
    pieces = Pieces(
        ends_m=ends,
        kind=np.zeros(count, dtype=np.int64),
        wall=np.zeros((count, 2), dtype=np.int64),
        from_wall_m=np.zeros((count, 2)),
        backed_m=np.ones(count),
    )
    arrangement = arrange(pieces, np.zeros((1, 2)))

    def cell_at(x, y):
        (found,) = arrangement.places.query(shapely.Point(x, y), predicate="within")
        return int(found)

    return arrangement, cell_at


def kinds_of(arrangement, *lines_y):
    """On which edges walls go on: on those of some heights."""
    count = len(arrangement.edge)
    bounds = np.zeros(count, dtype=bool)
    for y in lines_y:
        bounds |= np.abs(arrangement.node_m[arrangement.edge][..., 1] - y).max(axis=1) < 1e-9
    return EdgeKinds(np.zeros((count, 2), dtype=bool), np.zeros((count, 2), dtype=bool), bounds)


@pytest.mark.parametrize(("thickness", "filled"), [(0.04, True), (0.12, False)])
def test_a_leaf_in_a_room_belongs_to_it_and_a_partition_does_not(thickness, filled):
    arrangement, cell_at = outlines((0, 0, 4, 3), (1, 1, 1.8, 1 + thickness))
    rooms = np.full(len(arrangement.cell), -1)
    rooms[cell_at(3, 2)] = 0
    leaf = cell_at(1.4, 1 + thickness / 2)
    assert (fill_leaves(arrangement, kinds_of(arrangement), rooms)[leaf] == 0) == filled


def test_without_rooms_a_leaf_belongs_to_none():
    arrangement, cell_at = outlines((0, 0, 4, 3), (1, 1, 1.8, 1.04))
    rooms = np.full(len(arrangement.cell), -1)
    assert (fill_leaves(arrangement, kinds_of(arrangement), rooms) == -1).all()
    assert cell_at(1.4, 1.02) != cell_at(3, 2)


def test_a_leaf_where_no_room_is_belongs_to_none():
    arrangement, _ = outlines((0, 0, 4, 3), (1, 1, 1.8, 1.04))
    rooms = np.full(len(arrangement.cell), -1)
    np.testing.assert_array_equal(fill_leaves(arrangement, kinds_of(arrangement), rooms), rooms)


def test_a_leaf_ends_at_the_line_of_the_wall_that_it_hangs_on():
    """Between the jamb and the next wall's line lie slivers as thin as a leaf."""
    wall = (0, -0.05, 4, 0.0), (1.0, -0.05, 1.04, 0.0)
    arrangement, cell_at = outlines((0, 0, 4, 3), *wall, (1, 0, 1.04, 0.8))
    rooms = np.full(len(arrangement.cell), -1)
    rooms[cell_at(3, 2)] = 0
    kinds = kinds_of(arrangement, 0.0)
    filled = fill_leaves(arrangement, kinds, rooms)
    assert filled[cell_at(1.02, 0.4)] == 0
    assert filled[cell_at(1.02, -0.02)] == filled[cell_at(3, -0.02)] == -1
