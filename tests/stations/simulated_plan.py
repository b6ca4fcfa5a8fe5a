# SPDX-License-Identifier: GPL-2.0-or-later
"""Invented storeys: a corridor with rooms on both sides, perhaps a skewed wing, openings,
furniture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union
from simulated_rays import Surface

REVEAL_M = 0.08
"""How far an opening reaches into the rooms that it joins, so that nothing is left between."""


@dataclass
class Parts:
    """What a storey is put together from; all polygons and lines are in the plan."""

    rooms: list[Polygon] = field(default_factory=list)
    halls: list[Polygon] = field(default_factory=list)
    doors: list[Polygon] = field(default_factory=list)
    niches: list[Polygon] = field(default_factory=list)
    panes: list[LineString] = field(default_factory=list)
    leaves: list[Polygon] = field(default_factory=list)
    alike: bool = False
    door: tuple[float, float] = (0.5, 0.9)
    notched: float = 0.4
    windows: float = 0.7
    furnished: float = 1.0


@dataclass(frozen=True, eq=False)
class Storey:
    """Segments ``(K, 2, 2)`` with what they are made of, the free space of each room (halls last)
    and how many of these are halls; the doorways, whose second edge is the clear width, and the
    window reveals and glazed doorways (`niches`), as rectangles that reach into the rooms."""

    segments: np.ndarray
    surface: np.ndarray
    rooms: tuple[Polygon, ...]
    halls: int
    doors: tuple[Polygon, ...] = ()
    niches: tuple[Polygon, ...] = ()


WELL = box(-5.2, -1.4, -0.2, 1.4)
"""The well of a stair, open to the storeys above and below it, before the head of the corridor."""


def storey(rng, rooms_wanted=None, well=False) -> Storey:
    """One storey; `rooms_wanted` is about how many rooms it shall have (default: 4 to 14). The
    `well` of a stair is its last room before the halls, where it has one."""
    wanted = int(rng.integers(4, 15)) if rooms_wanted is None else rooms_wanted
    parts = Parts(
        alike=bool(rng.random() < 0.4),
        door=(rng.random(), rng.uniform(0.8, 1.0)),
        notched=rng.choice([0.1, 0.4]),
        windows=rng.choice([0.2, 0.7]),
        furnished=rng.choice([0.0, 0.3, 1.0, 1.6]),
    )
    module = (rng.uniform(2.6, 4.6), rng.uniform(3.4, 5.5))
    skewed = wanted >= 6 and rng.random() < 0.5
    first = (wanted + 1) // 2 if skewed else wanted
    width = rng.uniform(1.2, 2.4)
    length = _wing(parts, rng, first, width, module, lambda shape: shape, beyond=3.0 * skewed)
    if skewed:
        turn = rng.choice([-1, 1]) * rng.uniform(15, 70)
        at = (length - 0.5 * width, 0.0)

        def place(shape):
            return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), *at)

        _wing(parts, rng, wanted - first, rng.uniform(1.2, 2.4), module, place, lead=1.5)
    if well:
        parts.rooms.append(WELL)
        parts.doors.append(box(WELL.bounds[2] - REVEAL_M, -0.45, REVEAL_M, 0.45))
    return _storey(parts, rng)


# --- wings ----------------------------------------------------------------------------------------


def _wing(parts, rng, wanted, corridor, module, place, lead=0.0, beyond=0.0):
    """Add a corridor along x and rooms on both sides of it, unless it would run through rooms that
    are there; `place` moves shapes of the wing into the plan, rooms start after `lead` and the
    corridor goes on by `beyond`. Returns the corridor's length."""
    bearing = rng.uniform(0.2, 0.4)
    taper = rng.normal(0, 0.01, 4)
    far = [0.0, 0.0]
    sides = [rng.uniform(0.0, 0.5) + lead, rng.uniform(0.0, 0.5) + lead]
    planned = []
    for _ in range(wanted):
        side = int(np.argmin(sides))
        width, depth = module
        if not parts.alike:
            width, depth = rng.uniform(2.2, 6.0), rng.uniform(2.4, 6.0)
        planned.append((side, sides[side], width, depth))
        sides[side] += width + rng.choice([rng.uniform(0.1, 0.2), bearing])
        far[side] = sides[side]
    length = max(*far, 4.0 + lead) + rng.uniform(-0.3, 1.2) + beyond
    half = corridor / 2
    hall = Polygon(
        [
            (0, -half + taper[0]),
            (length, -half + taper[1]),
            (length + taper[2], half + taper[2]),
            (0, half + taper[3]),
        ]
    )
    wall = rng.choice([rng.uniform(0.1, 0.2), bearing])
    if any(place(hall).distance(room) < 0.12 for room in parts.rooms):
        return length
    standing = unary_union(parts.rooms + parts.halls)
    for own in planned:
        room = _Room.drawn(rng, own, half + wall, parts)
        if room.low < 0.1 or room.high > length - 0.1:
            middle = (max(room.low, 0.1) + min(room.high, length - 0.1)) / 2
            if abs(middle - (room.low + room.high) / 2) > 0.4 * (room.high - room.low):
                continue
        if parts.halls and place(room.shape).distance(standing) < 0.45:
            continue
        room.open(parts, rng, half, length, place)
        parts.rooms.append(place(room.shape))
    parts.halls.append(place(hall))
    return length


@dataclass
class _Room:
    side: int
    low: float
    high: float
    near: float
    depth: float
    shape: Polygon

    @classmethod
    def drawn(cls, rng, own, near, parts):
        alike = parts.alike
        side, low, width, depth = own
        high = low + width
        corners = np.array(
            [(low, near), (high, near), (high, near + depth), (low, near + depth)], dtype=float
        )
        corners += np.clip(rng.normal(0, 0.004 if alike else 0.012, (4, 2)), -0.03, 0.03)
        if not alike and rng.random() < 0.2:
            corners[2 + rng.integers(2), 1] += rng.uniform(-0.6, 0.6)
        shape = Polygon(corners)
        if rng.random() < (0.5 if alike else 1.0) * parts.notched:
            w, h = rng.uniform(0.25, 1.1, 2)
            x = low - 0.05 if rng.random() < 0.5 else high + 0.05 - w
            notched = shape.difference(box(x, near + depth - h, x + w, near + depth + 0.7))
            if notched.geom_type == "Polygon":
                shape = notched
        if side:
            shape = affinity.scale(shape, 1, -1, origin=(0, 0))
        return cls(side, low, high, near, depth, shape)

    def open(self, parts, rng, half, length, place):
        """Add the room's door, its windows, and perhaps a pane of glass to the corridor."""

        def put(shape):
            shape = affinity.scale(shape, 1, -1, origin=(0, 0)) if self.side else shape
            return place(shape)

        share, width = parts.door if parts.alike else (rng.random(), rng.uniform(0.8, 1.0))
        low, high = max(self.low, 0.0) + 0.15, min(self.high, length) - 0.15 - width
        at = low + share * max(high - low, 0.0)
        parts.doors.append(put(box(at, half - REVEAL_M, at + width, self.near + REVEAL_M)))
        if rng.random() < 0.6:
            hinge = at if rng.random() < 0.5 else at + width
            swing = rng.uniform(80, 110) if hinge == at else rng.uniform(70, 100)
            leaf = box(hinge, self.near + 0.01, hinge + width - 0.05, self.near + 0.05)
            leaf = affinity.rotate(leaf, swing, origin=(hinge, self.near + 0.03))
            parts.leaves.append(put(leaf))
        back = self.near + self.depth
        if rng.random() < parts.windows:
            for _ in range(rng.integers(1, 3)):
                w = rng.uniform(0.7, 1.6)
                x = rng.uniform(self.low + 0.2, max(self.high - 0.2 - w, self.low + 0.21))
                deep = rng.uniform(0.08, 0.25)
                parts.niches.append(put(box(x, back - 0.7, x + w, back + deep)))
                parts.panes.append(put(LineString([(x, back + deep), (x + w, back + deep)])))
        if rng.random() < 0.12 and self.high - self.low > width + 1.6:
            x, w = (at + width + 0.2, 1.0) if at + width + 1.4 < high + width else (at - 1.2, 1.0)
            if x > low - 0.1:
                middle = (half + self.near) / 2
                parts.niches.append(put(box(x, half - REVEAL_M, x + w, self.near + REVEAL_M)))
                parts.panes.append(put(LineString([(x, middle), (x + w, middle)])))


# --- segments -------------------------------------------------------------------------------------


def _storey(parts, rng) -> Storey:
    free = unary_union(parts.rooms + parts.halls + parts.doors + parts.niches)
    free = _largest(free)
    rings = [free.exterior, *free.interiors]
    walls = np.concatenate([_edges(ring) for ring in rings])
    walls = walls[np.hypot(*(walls[:, 1] - walls[:, 0]).T) > 1e-4]
    surface = np.full(len(walls), int(Surface.WALL))
    added, made = [walls], [surface]
    middle = shapely.points(walls.mean(axis=1))
    for pane in parts.panes:
        on = shapely.distance(middle, pane) < 1e-3
        surface[on] = int(Surface.GLASS)
        if not on.any():
            inside = pane.intersection(free)
            if inside.geom_type == "LineString" and inside.length > 0.1:
                added.append(np.asarray(inside.coords)[None, [0, -1]])
                made.append(np.array([int(Surface.GLASS)]))
    keep_clear = unary_union([door.buffer(0.5) for door in parts.doors])
    for k, room in enumerate(parts.rooms + parts.halls):
        pieces = _furniture(room, rng, keep_clear, parts.furnished, hall=k >= len(parts.rooms))
        for piece in pieces:
            added.append(_edges(piece.exterior))
            made.append(np.full(len(added[-1]), int(Surface.FURNITURE)))
    for leaf in parts.leaves:
        if free.contains(leaf):
            added.append(_edges(leaf.exterior))
            made.append(np.full(len(added[-1]), int(Surface.LEAF)))
    around = free.envelope.buffer(rng.uniform(9, 16), quad_segs=2).simplify(0.5)
    added.append(_edges(around.exterior))
    made.append(np.full(len(added[-1]), int(Surface.OUTSIDE)))
    rooms = tuple(_largest(room.intersection(free)) for room in parts.rooms + parts.halls)
    return Storey(
        np.concatenate(added),
        np.concatenate(made),
        rooms,
        len(parts.halls),
        tuple(parts.doors),
        tuple(parts.niches),
    )


def _largest(shape):
    return max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)


def _edges(ring):
    corners = np.asarray(ring.coords)
    return np.stack([corners[:-1], corners[1:]], axis=1)


def _furniture(room, rng, keep_clear, much, hall):
    """Boxes that stand in a room, along its walls and free, clear of its doors."""
    found = []
    corners = np.asarray(room.exterior.coords)
    for _ in range(rng.poisson(much * room.area / (14 if hall else 5))):
        if rng.random() < 0.65:
            k = int(rng.integers(len(corners) - 1))
            a, e = corners[k], corners[k + 1] - corners[k]
            length = float(np.hypot(*e))
            width, depth = rng.uniform(0.3, 1.8), rng.uniform(0.25, 0.6 if not hall else 0.35)
            if length < width + 0.1:
                continue
            at = a + e / length * rng.uniform(0, length - width)
            piece = box(0, 0, width, depth)
            inward = 1 if room.exterior.is_ccw else -1
            piece = affinity.scale(piece, 1, inward, origin=(0, 0))
            piece = affinity.translate(piece, 0, inward * rng.uniform(0.005, 0.04))
            piece = affinity.rotate(piece, np.degrees(np.arctan2(e[1], e[0])), origin=(0, 0))
            piece = affinity.translate(piece, *at)
        else:
            low = np.array(room.bounds[:2])
            at = low + rng.random(2) * (np.array(room.bounds[2:]) - low)
            w, h = rng.uniform(0.08, 0.9, 2)
            piece = affinity.rotate(box(*(at - (w, h)), *at), rng.uniform(0, 90))
        if (
            room.contains(piece)
            and not piece.intersects(keep_clear)
            and not any(piece.intersects(other) for other in found)
        ):
            found.append(piece)
    return found
