# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import shapely
from roomtie.processing.walls.bounding import bounds_room
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.model import Openings, Rooms, WallFaces


def faces(ends: list, level: list[int] | None = None) -> WallFaces:
    drawn = np.array(ends, dtype=float).reshape(-1, 2, 2)
    n = len(drawn)
    none = np.zeros(n)
    return WallFaces(
        wall=tuple(f"W{i}" for i in range(n)),
        plot_scale=50,
        level=np.array(level or [0] * n),
        network=np.ones(n, dtype=np.int64),
        centre_m=drawn.mean(axis=1),
        normal_rad=none,
        sigma_normal_rad=none,
        sigma_offset_m=none,
        span_m=np.zeros((n, 2)),
        drawn_m=drawn,
        readings=np.full(n, 10),
        stations=(("S1",),) * n,
        rms_m=none,
        largest_residual_m=none,
        squared_by_rad=none,
        wall_of_reading=(),
        residual_of_reading_m=(),
        curves=no_curves(n),
    )


def room(polygon: shapely.Polygon) -> Rooms:
    one = np.ones(1)
    return Rooms(
        ("r",), ("0.01",), 50, np.array([0]), np.array([1]), (polygon,), *(one,) * 6, ((),)
    )


def doorway(ends: list, thickness: float) -> Openings:
    return Openings(
        ("o",),
        ("doorway",),
        50,
        np.array([0]),
        np.array([1]),
        (shapely.LineString(ends),),
        np.ones(1),
        np.ones(1),
        np.array([thickness]),
        ("r",),
        ("",),
    )


ROOM = room(shapely.box(0, 0, 5, 4))
DOOR = doorway([(2, 4), (3, 4)], 0.2)


def test_faces_of_the_room_bound_it_and_furniture_does_not():
    walls = faces(
        [
            [(0, 0), (0, 4)],  # a wall
            [(0, 4), (1.99, 4)],  # the wall beside the door
            [(1, 1), (2, 1)],  # a table
            [(0.4, 3.6), (1.4, 3.6)],  # a cupboard 40 cm before the wall
            [(6, 0), (6, 4)],  # seen through glass
        ]
    )
    assert bounds_room(walls, ROOM, DOOR).tolist() == [True, True, False, False, False]


def test_the_reveal_of_a_doorway_counts():
    walls = faces([[(2, 4), (2, 4.2)], [(3, 4.2), (3, 4)], [(2.5, 4.6), (2.5, 5)]])
    assert bounds_room(walls, ROOM, DOOR).tolist() == [True, True, False]


def test_a_long_wall_counts_when_only_a_part_of_it_bounds():
    walls = faces([[(0, 0), (0, 40)], [(5, -3), (5, 0.2)]])
    assert bounds_room(walls, ROOM, DOOR).tolist() == [True, False]


def test_other_storeys_are_other_places():
    walls = faces([[(0, 0), (0, 4)], [(0, 0), (0, 4)]], level=[0, 1])
    assert bounds_room(walls, ROOM, DOOR).tolist() == [True, False]


def test_no_faces():
    assert bounds_room(faces(np.empty((0, 2, 2)).tolist()), ROOM, DOOR).shape == (0,)
