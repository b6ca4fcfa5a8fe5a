# SPDX-License-Identifier: GPL-2.0-or-later
"""The drawn plan: two storeys of the Quillhaven Reading Rooms, an invented public building.

Everything is in the building's own axes (metres, x along the long front, y away from it), as an
architect would draw it: rooms as polygons of their wall faces, openings through the walls,
furniture that reaches instrument height. What is solid follows: the outline without the rooms and
the openings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon, box
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

Floats = NDArray[np.float64]
XY = tuple[float, float]

WING_TURN_DEG = 3.7
WING_ORIGIN = (13.95, 7.45)
FRONT_TURN_DEG = 0.4
PANE_DEPTH_M = 0.12
OVERLAP_M = 0.05


@dataclass(frozen=True)
class Room:
    name: str
    polygon: Polygon


@dataclass(frozen=True)
class Opening:
    """A hole through a wall: jambs ``p`` and ``q`` on one face, the other face ``thickness`` to the
    left of p -> q. `rooms` are (this side, other side); empty is the open air."""

    p: XY
    q: XY
    thickness: float
    rooms: tuple[str, str]
    glazed: bool = False

    @property
    def across(self) -> Floats:
        along = np.subtract(self.q, self.p)
        return np.array([-along[1], along[0]]) / np.hypot(*along)

    @property
    def width(self) -> float:
        return float(np.hypot(*np.subtract(self.q, self.p)))

    @property
    def centre(self) -> Floats:
        return np.add(self.p, self.q) / 2 + self.across * self.thickness / 2

    def quad(self, before: float = 0.0, beyond: float = 0.0) -> Polygon:
        """The reveal, lengthened on this side and on the other."""
        near, far = -before * self.across, (self.thickness + beyond) * self.across
        return Polygon([self.p + near, self.q + near, self.q + far, self.p + far])

    @property
    def pane(self) -> tuple[Floats, Floats]:
        """The glass of a window, seen in plan."""
        depth = PANE_DEPTH_M * self.across
        return self.p + depth, self.q + depth


@dataclass(frozen=True)
class Furniture:
    name: str
    room: str
    polygon: Polygon


@dataclass(frozen=True)
class Storey:
    """One level; `outside` are walls beyond the building that can be seen through its openings."""

    level: int
    outline: Polygon
    rooms: tuple[Room, ...]
    doorways: tuple[Opening, ...]
    windows: tuple[Opening, ...]
    furniture: tuple[Furniture, ...]
    outside: tuple[tuple[XY, XY], ...]

    @property
    def solid(self) -> Polygon:
        """What is wall: one or more polygons."""
        voids = [room.polygon for room in self.rooms]
        voids += [d.quad(OVERLAP_M, OVERLAP_M if d.rooms[1] else 0.5) for d in self.doorways]
        voids += [w.quad(OVERLAP_M, 0.5) for w in self.windows]
        return self.outline.difference(unary_union(voids))

    def faces(self) -> Floats:
        """Wall faces ``(F, 2, 2)``, start to end with the free side to the right, in an order that
        no release of the geometry library can change."""
        solid = self.solid
        parts = getattr(solid, "geoms", [solid])
        rings = [r for part in parts for r in (orient(part).exterior, *orient(part).interiors)]
        faces = np.concatenate([straightened(np.asarray(r.coords)[:-1]) for r in rings]).round(9)
        return faces[np.lexsort(faces.reshape(-1, 4).T)]

    def room_at(self, x: float, y: float) -> str:
        """The room at a point; empty where there is none."""
        return next((r.name for r in self.rooms if r.polygon.contains(Point(x, y))), "")


def straightened(ring: Floats) -> Floats:
    """Segments ``(S, 2, 2)`` of a ring ``(n, 2)`` without the nodes that lie within its sides."""
    before, after = ring - np.roll(ring, 1, 0), np.roll(ring, -1, 0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    sine = cross / (np.hypot(*before.T) * np.hypot(*after.T))
    nodes = ring[np.abs(sine) > 1e-6]
    return np.stack([nodes, np.roll(nodes, -1, 0)], axis=1)


def wing(x: float, y: float) -> XY:
    """A point of the wing's own axes, which stand out of square, in the building's."""
    s, c = np.sin(np.radians(WING_TURN_DEG)), np.cos(np.radians(WING_TURN_DEG))
    return float(WING_ORIGIN[0] + x * c + y * s), float(WING_ORIGIN[1] - x * s + y * c)


def front(x: float) -> XY:
    """A point on the reading room's front wall, which is not parallel to the others."""
    return x, 0.33 + (x - 7.60) * float(np.tan(np.radians(FRONT_TURN_DEG)))


def _turned(cx: float, cy: float, width: float, depth: float, turn_deg: float) -> Polygon:
    s, c = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (width / 2, depth / 2)
    return Polygon(corners @ np.array([(c, -s), (s, c)]) + (cx, cy))


def _in_wing(corners: Iterable[XY]) -> Polygon:
    return Polygon([wing(*corner) for corner in corners])


def _wing_box(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    return _in_wing([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _placed(room: str) -> Callable[[str, Polygon], Furniture]:
    return lambda name, polygon: Furniture(name, room, polygon)


def ground_floor() -> Storey:
    """Entrance, corridor, reading rooms, services and the out-of-square wing."""
    hall = Polygon(
        [(0.40, 0.40), (5.00, 0.40), (5.00, 6.10), (0.40, 6.10)]
        + [(0.40, 4.40), (0.20, 4.40), (0.20, 3.00), (0.40, 3.00)]  # a niche
    )
    reading = Polygon(
        [front(7.60), front(17.60), (17.60, 7.20), (14.20, 7.20), (14.20, 4.35)]
        + [(11.35, 4.35), (11.35, 4.15), (11.00, 4.15), (11.00, 4.35), (7.60, 4.35)]  # a pilaster
    )
    skew = 4.6 * float(np.tan(np.radians(WING_TURN_DEG)))
    rooms = (
        Room("Entrance hall", hall),
        Room("Corridor", box(5.20, 4.50, 14.05, 6.10)),
        Room("Stair", box(0.40, 6.25, 3.10, 10.00)),
        Room("Kitchenette", box(3.25, 6.25, 6.60, 10.00)),
        Room("Office", box(6.70, 6.25, 10.40, 10.00)),
        Room("Toilets", box(10.55, 6.25, 13.80, 10.00)),
        Room("Store", box(5.20, 0.40, 7.40, 4.35)),
        Room("Reading room", reading),
        Room("Map room", _in_wing([(0, 0), (0, 3.4), (4.6, 3.4), (4.6, skew)])),
        Room("Workshop", _wing_box(0, 3.52, 4.6, 6.2)),
    )
    doorways = (
        Opening((3.40, 0.40), (2.20, 0.40), 0.40, ("Entrance hall", "")),
        Opening((5.00, 5.90), (5.00, 4.70), 0.20, ("Entrance hall", "Corridor")),
        Opening((1.40, 6.10), (2.40, 6.10), 0.15, ("Entrance hall", "Stair")),
        Opening((5.45, 6.10), (6.35, 6.10), 0.15, ("Corridor", "Kitchenette")),
        Opening((9.10, 6.10), (10.00, 6.10), 0.15, ("Corridor", "Office")),
        Opening((11.20, 6.10), (12.00, 6.10), 0.15, ("Corridor", "Toilets")),
        Opening((6.60, 4.50), (5.80, 4.50), 0.15, ("Corridor", "Store")),
        Opening((10.30, 4.50), (9.30, 4.50), 0.15, ("Corridor", "Reading room")),
        Opening((14.05, 5.85), (14.05, 4.75), 0.15, ("Corridor", "Reading room")),
        Opening((15.00, 7.20), (16.00, 7.20), 0.25, ("Reading room", "Map room")),
        Opening(wing(1.2, 3.4), wing(2.1, 3.4), 0.12, ("Map room", "Workshop")),
    )
    windows = (
        _window((0.40, 1.00), (0.40, 2.40), 0.40, "Entrance hall"),
        _window((4.20, 10.00), (5.40, 10.00), 0.40, "Kitchenette"),
        _window((9.15, 10.00), (10.15, 10.00), 0.40, "Office"),
        _window((10.95, 10.00), (11.55, 10.00), 0.40, "Toilets"),
        _window(front(12.90), front(11.30), 0.40, "Reading room"),
        _window(front(15.20), front(13.60), 0.40, "Reading room"),
        _window((17.60, 4.60), (17.60, 3.40), 0.40, "Reading room"),
        _window(wing(4.6, 2.6), wing(4.6, 1.2), 0.36, "Map room"),
        _window(wing(2.5, 6.2), wing(3.8, 6.2), 0.36, "Workshop"),
    )
    in_hall, in_reading = _placed("Entrance hall"), _placed("Reading room")
    furniture = (
        in_hall("counter", box(3.70, 1.10, 4.35, 3.10)),
        in_hall("notice stand", _turned(1.35, 1.75, 0.90, 0.08, 30.0)),
        Furniture("cupboard", "Corridor", box(7.10, 5.75, 8.30, 6.12)),
        Furniture("stair flight", "Stair", box(0.38, 8.50, 1.50, 9.00)),
        Furniture("refrigerator", "Kitchenette", box(3.30, 9.33, 3.92, 9.96)),
        Furniture("tall cupboard", "Kitchenette", box(6.00, 7.60, 6.62, 9.00)),
        Furniture("door leaf", "Kitchenette", box(6.31, 6.27, 6.35, 7.12)),
        Furniture("shelves", "Office", box(7.20, 9.65, 8.50, 10.02)),
        Furniture("desk screen", "Office", _turned(9.30, 8.50, 1.20, 0.05, -4.0)),
        Furniture("cubicle side", "Toilets", box(12.60, 8.46, 12.64, 10.02)),
        Furniture("cubicle front", "Toilets", box(12.64, 8.46, 13.05, 8.50)),
        Furniture("shelves", "Store", box(5.50, 0.38, 7.10, 0.78)),
        in_reading("bookcase", box(8.60, 0.30, 10.60, 0.70)),
        in_reading("bookcase", box(7.58, 1.50, 7.93, 3.20)),
        in_reading("bookcase", box(17.25, 1.00, 17.62, 2.70)),
        in_reading("double bookcase", box(11.70, 1.60, 12.30, 3.10)),
        in_reading("reading desks", _turned(15.90, 2.10, 1.70, 0.60, 18.0)),
        in_reading("display case", box(16.40, 6.00, 17.10, 6.50)),
        Furniture("plan chest", "Map room", _wing_box(2.9, 1.3, 3.8, 1.85)),
        Furniture("bookcase", "Map room", _wing_box(-0.02, 1.3, 0.34, 2.7)),
        Furniture("workbench rack", "Workshop", _wing_box(3.9, 4.1, 4.62, 5.4)),
        Furniture("cupboard", "Workshop", _wing_box(-0.02, 4.30, 0.45, 5.20)),
    )
    outline = unary_union([box(0, 0, 18.0, 10.4), _wing_box(-0.30, -0.05, 4.96, 6.56)])
    outside = (
        ((-2.0, -3.0), (9.0, -3.0)),
        ((-4.0, 15.5), (12.0, 16.0)),
        ((23.0, -1.0), (23.5, 14.0)),
    )
    return Storey(0, outline, rooms, doorways, windows, furniture, outside)


def first_floor() -> Storey:
    """The western part of the building only: the rest is roof."""
    rooms = (
        Room("Upper stair", box(0.40, 6.25, 3.10, 10.00)),
        Room("Landing", box(0.40, 4.40, 6.00, 6.10)),
        Room("Study room", box(0.40, 0.40, 6.00, 4.25)),
        Room("Meeting room", box(3.25, 6.25, 10.00, 10.00)),
        Room("Archive", box(6.15, 0.40, 10.00, 6.10)),
    )
    doorways = (
        Opening((1.60, 6.10), (2.70, 6.10), 0.15, ("Landing", "Upper stair")),
        Opening((4.50, 6.10), (5.50, 6.10), 0.15, ("Landing", "Meeting room")),
        Opening((3.60, 4.40), (2.70, 4.40), 0.15, ("Landing", "Study room")),
        Opening((6.00, 5.55), (6.00, 4.70), 0.15, ("Landing", "Archive")),
    )
    windows = (
        _window((2.40, 0.40), (1.00, 0.40), 0.40, "Study room"),
        _window((5.20, 0.40), (3.80, 0.40), 0.40, "Study room"),
        _window((4.60, 10.00), (6.00, 10.00), 0.40, "Meeting room"),
        _window((7.20, 10.00), (8.60, 10.00), 0.40, "Meeting room"),
        _window((10.00, 2.60), (10.00, 1.40), 0.40, "Archive"),
    )
    furniture = (
        Furniture("cupboard", "Landing", box(0.36, 4.38, 0.80, 5.30)),
        Furniture("bookcase", "Study room", box(0.38, 0.50, 0.75, 1.80)),
        Furniture("study screen", "Study room", _turned(4.20, 2.30, 1.40, 0.06, 62.0)),
        Furniture("cupboard", "Meeting room", box(9.55, 7.00, 10.02, 8.60)),
        Furniture("flip chart", "Meeting room", _turned(4.10, 9.00, 0.80, 0.05, 40.0)),
        Furniture("shelves", "Archive", box(8.55, 1.90, 9.00, 3.90)),
        Furniture("shelves", "Archive", box(6.90, 0.38, 8.70, 0.85)),
    )
    outside = (((-4.0, 15.5), (12.0, 16.0)),)
    return Storey(1, box(0, 0, 10.4, 10.4), rooms, doorways, windows, furniture, outside)


def _window(p: XY, q: XY, thickness: float, room: str) -> Opening:
    return Opening(p, q, thickness, (room, ""), glazed=True)


STOREYS = (ground_floor(), first_floor())
