# SPDX-License-Identifier: GPL-2.0-or-later
"""Which wall, room or opening of a new plan is which of an earlier one.

The rule is one for all: pairs that have enough in common are taken in the order of how much that
is, and each thing is in one pair at most. So the largest part of what was split keeps the
identifier, and what was merged has that of its largest part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.model import Ints, Survey
from .earlier import EarlierDrawing, EarlierOpenings, EarlierRooms, EarlierWalls
from .model import Openings, Rooms, WallFaces
from .openings_jambs import THICKEST_WALL_M

MOSTLY = 0.5
PARALLEL_RAD = np.radians(5.0)
SAME_FACE_M = 0.05
"""Faces of one wall from different readings lie nearer to each other than this; a face this far
before a wall is another thing."""


def wall_pairs(walls: WallFaces, survey: Survey, earlier: EarlierDrawing) -> dict[int, str]:
    """The earlier identifier of each new face (by index) that an earlier one goes on in: the one
    that most readings are shared with, more than half of those of one of the two; where readings
    do not tell, as all were taken again, the one that lies at the same place."""
    found = _one_to_one(_shared_readings(walls, survey, earlier))
    pairs = {int(new): str(old) for new, old in found}
    taken = set(pairs.values())
    rest = [i for i in range(len(walls)) if i not in pairs]
    free = [i for i in rows_of_finest(earlier.walls) if earlier.walls.wall[i] not in taken]
    for new, old in _one_to_one(_at_one_place(walls, rest, earlier.walls, free)):
        pairs[int(new)] = earlier.walls.wall[int(old)]
    return pairs


def rows_of_finest(walls: EarlierWalls) -> list[int]:
    """For each wall the row of the finest plot scale at which it is drawn."""
    order = np.argsort(walls.plot_scale, kind="stable")
    rows: dict[str, int] = {}
    for row in order.tolist():
        rows.setdefault(walls.wall[row], row)
    return list(rows.values())


def _shared_readings(
    walls: WallFaces, survey: Survey, earlier: EarlierDrawing
) -> list[tuple[float, Any, Any]]:
    count: dict[tuple[int, str], int] = {}
    of_old: dict[str, int] = {}
    for _, words in earlier.wall_of_reading.values():
        for word, number in zip(*np.unique(words[words != ""], return_counts=True)):
            of_old[str(word)] = of_old.get(str(word), 0) + int(number)
    for capture, wall in zip(survey.captures, walls.wall_of_reading):
        if capture.station not in earlier.wall_of_reading:
            continue
        seq, words = earlier.wall_of_reading[capture.station]
        _, here, there = np.intersect1d(capture.seq, seq, return_indices=True)
        both = (wall[here] >= 0) & (words[there] != "")
        keys, numbers = np.unique(
            np.stack([wall[here][both].astype(str), words[there][both].astype(str)]),
            axis=1,
            return_counts=True,
        )
        for new, old, number in zip(keys[0], keys[1], numbers):
            key = (int(new), str(old))
            count[key] = count.get(key, 0) + int(number)
    return [
        (float(n), new, old)
        for (new, old), n in count.items()
        if n > MOSTLY * min(of_old[old], int(walls.readings[new]))
    ]


def _at_one_place(
    walls: WallFaces, rest: Sequence[int], earlier: EarlierWalls, free: Sequence[int]
) -> Iterable[tuple[float, Any, Any]]:
    near = _near(earlier.ends_m[list(free)], walls.drawn_m[list(rest)], SAME_FACE_M)
    for j, i in ((free[a], rest[b]) for a, b in near):
        own, ends = walls.drawn_m[i], earlier.ends_m[j]
        normal = float(azimuth_of(ends[1] - ends[0])) + np.pi / 2
        turned = abs(float(wrap_half(walls.normal_rad[i] - normal)))
        if walls.level[i] != earlier.level[j] or turned > PARALLEL_RAD:
            continue
        common, apart = common_stretch(own, ends)
        shorter = min(float(np.hypot(*np.diff(line, axis=0)[0])) for line in (own, ends))
        if apart <= SAME_FACE_M and common > MOSTLY * shorter:
            yield common, i, j


def _near(lines: Floats, others: Floats, reach_m: float) -> list[tuple[int, int]]:
    """Places of lines ``(n, 2, 2)`` and others ``(m, 2, 2)`` that lie within a reach of each other,
    in order: only they are looked at, so that the time does not grow with the square of a plan."""
    tree = shapely.STRtree(shapely.linestrings(others))
    # Lines that run side by side are nowhere nearer than they are apart; a little for rounding.
    line, other = tree.query(
        shapely.linestrings(lines), predicate="dwithin", distance=reach_m + 1e-6
    )
    return sorted(zip(line.tolist(), other.tolist()))


def room_pairs(rooms: Rooms, earlier: EarlierRooms, rows: Ints) -> list[tuple[int, int]]:
    """Index of the new room and row of the earlier one that it goes on in: those that share most
    ground, more than half of the smaller of the two, on one storey."""
    old = np.array([earlier.polygon[row] for row in rows], dtype=object)
    new = np.array(rooms.polygon, dtype=object)
    if not len(old) or not len(new):
        return []
    j, i = shapely.STRtree(new).query(old, predicate="intersects")[:2]
    common = shapely.area(shapely.intersection(old[j], new[i]))
    smaller = np.minimum(shapely.area(old[j]), shapely.area(new[i]))
    same = (rooms.level[i] == earlier.level[rows][j]) & (common > MOSTLY * smaller)
    score = zip(common[same].tolist(), i[same].tolist(), j[same].tolist())
    return [(int(new), int(rows[int(old)])) for new, old in _one_to_one(score)]


def opening_pairs(
    openings: Openings, earlier: EarlierOpenings, rows: Ints
) -> list[tuple[int, int]]:
    """Index of the new opening and row of the earlier one that it goes on in: those that lie side
    by side, no further apart than a wall is thick, over more than half of the narrower; of several
    those between the same rooms (whose identifiers are the earlier ones already)."""
    score: list[tuple[float, Any, Any]] = []
    before = _ends([earlier.line[row] for row in rows])
    now = _ends(openings.line)
    for at, i in _near(before, now, THICKEST_WALL_M):
        row, old, new = int(rows[at]), before[at], now[i]
        if openings.level[i] != earlier.level[row] or _turned(old, new) > 2.0 * PARALLEL_RAD:
            continue
        common, apart = common_stretch(new, old)
        narrower = min(float(np.hypot(*(line[1] - line[0]))) for line in (old, new))
        if apart <= THICKEST_WALL_M and common > MOSTLY * narrower:
            sides = {openings.room_a[i], openings.room_b[i]} - {""}
            alike = len(sides & earlier.rooms[row]) / max(len(sides | earlier.rooms[row]), 1)
            score.append(((common - apart) * (1.0 + alike), i, row))
    return [(int(new), int(old)) for new, old in _one_to_one(score)]


def common_stretch(line: Floats, other: Floats) -> tuple[float, float]:
    """How much two nearly parallel lines ``(2, 2)`` run side by side, and how far they are apart in
    the middle of that (m)."""
    way = line[1] - line[0]
    length = float(np.hypot(*way))
    if length == 0.0:
        return 0.0, np.inf
    azimuth = float(azimuth_of(way))
    along = (other - line[0]) @ unit(azimuth)
    across = (other - line[0]) @ unit(azimuth + np.pi / 2)
    low, high = max(0.0, float(along.min())), min(length, float(along.max()))
    if high <= low or along[0] == along[1]:
        return 0.0, np.inf
    share = (0.5 * (low + high) - along[0]) / (along[1] - along[0])
    return high - low, abs(float(across[0] + share * (across[1] - across[0])))


def _ends(lines: Sequence[LineString]) -> Floats:
    ends = [shapely.get_coordinates(line)[[0, -1]] for line in lines]
    return np.array(ends, dtype=float).reshape(-1, 2, 2)


def _turned(a: Floats, b: Floats) -> float:
    """The angle between two lines, whichever way they run (rad)."""
    turned = float(azimuth_of(a[1] - a[0]) - azimuth_of(b[1] - b[0])) % np.pi
    return min(turned, np.pi - turned)


def _one_to_one(score: Iterable[tuple[float, Any, Any]]) -> list[tuple[Any, Any]]:
    """Pairs (new, old) by falling score, each thing once; ties in the order given."""
    news: set[Any] = set()
    olds: set[Any] = set()
    pairs = []
    for _, new, old in sorted(score, key=lambda one: -one[0]):
        if new in news or old in olds:
            continue
        news.add(new)
        olds.add(old)
        pairs.append((new, old))
    return pairs
