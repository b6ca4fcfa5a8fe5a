# SPDX-License-Identifier: GPL-2.0-or-later
"""Openings between and around rooms: doorways, and stretches of boundary that nobody saw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..angles import Floats
from ..progress import SILENT, Progress
from .free_space import FreeSpace
from .openings_jambs import THICKEST_WALL_M, THINNEST_WALL_M, Gap
from .rooms_outline import segments
from .rooms_seen import unbacked_stretches, united

NARROWEST_DOORWAY_M = 0.6
"""Clear width (common practice); a narrower slot parts rooms but is not called a doorway."""
SHORTEST_UNSEEN_M = 0.3
"""Shorter stretches without readings are the usual spacing at corners and flat angles."""
PROBE_M = 0.05
ALIKE = 0.95
"""The cosine between normals of two gaps from which they are parallel."""
FEWEST_THROUGH_GLASS = 3
"""So many readings flagged as seen through glass make an unseen stretch a window."""


@dataclass(frozen=True)
class Opening:
    """One opening: rooms by index, -1 where none was found."""

    kind: str
    line: LineString
    width_m: float
    sigma_m: float
    thickness_m: float
    room_a: int
    room_b: int


def find_openings(
    gaps: tuple[Gap, ...],
    polygons: tuple[Polygon, ...],
    backed: list[list[Floats]],
    closed: list[list[Floats]],
    free: FreeSpace,
    progress: Progress = SILENT,
) -> list[Opening]:
    """The openings of the rooms of one connected group on one level, in a fixed order.

    `backed` and `closed` have, for each room and straight stretch of its boundary, the intervals
    that readings back (`rooms_seen.backed_stretches`) and that gaps close (`closed_stretches`).
    """
    wide = [g for g in gaps if g.kind == "doorway" and g.width_m >= NARROWEST_DOORWAY_M]
    panes = [g for g in gaps if g.kind == "window"]
    found = _between_rooms(wide + panes, polygons, progress.part(0.0, 0.5))
    found += _unseen(gaps, polygons, backed, closed, free, progress.part(0.5, 1.0))
    return sorted(found, key=lambda o: (o.kind, o.room_a, o.room_b, *o.line.coords[0]))


def _between_rooms(
    gaps: list[Gap], polygons: tuple[Polygon, ...], progress: Progress
) -> list[Opening]:
    """Doorways and windows with the rooms on both sides; a gap found in both faces of a wall is
    one, and a window if a pane was seen from either side."""
    gaps = sorted(gaps, key=lambda g: (g.cornered, not g.sigma_m >= 0, g.sigma_m, *g.start_m))
    near = _near(gaps)
    tree = shapely.STRtree(polygons)
    met = [False] * len(gaps)
    found = []
    for i, gap in enumerate(progress.over(gaps)):
        if met[i]:
            continue
        kind, thickness, width, sigma = gap.kind, gap.thickness_m, gap.width_m, gap.sigma_m
        for j in near[i]:
            if met[j]:
                continue
            depth = _other_side(gap, gaps[j])
            if depth is not None:
                thickness = depth
            met[j] = depth is not None or _same_side(gap, gaps[j])
            if met[j] and gaps[j].kind == "window":
                kind = "window"
        room_a = _first_room(gap, tree, -np.arange(1, 3) * PROBE_M)
        room_b = _first_room(gap, tree, np.arange(1, 17) * PROBE_M)
        if room_a == room_b:
            # nothing on either side, or a wall's end inside a room
            continue
        if room_a < 0 or 0 <= room_b < room_a:
            room_a, room_b = room_b, room_a
        line = LineString([gap.start_m, gap.end_m])
        found.append(Opening(kind, line, width, sigma, thickness, room_a, room_b))
    return found


def _near(gaps: list[Gap]) -> list[list[int]]:
    """For each gap the later ones that may be the same opening."""
    near: list[list[int]] = [[] for _ in gaps]
    if gaps:
        lines = shapely.linestrings([[gap.start_m, gap.end_m] for gap in gaps])
        # Two sides of one opening are abreast, in the middle no further apart than the thickest
        # wall, and not parallel by up to ALIKE.
        widest = max(gap.width_m for gap in gaps)
        reach = THICKEST_WALL_M + widest * float(np.tan(np.arccos(ALIKE)))
        first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=reach)
        later = first < second
        for i, j in sorted(zip(first[later].tolist(), second[later].tolist())):
            near[i].append(j)
    return near


def _other_side(gap: Gap, other: Gap) -> float | None:
    """The thickness of the wall when another gap is the same opening seen from its far side."""
    if float(gap.normal @ other.normal) > -ALIKE:
        return None
    place = gap.place(np.array([other.start_m, other.end_m]))
    low, high = np.sort(place[:, 0])
    common = min(high, gap.width_m) - max(low, 0.0)
    depth = float(place[:, 1].mean())
    if common < 0.5 * min(high - low, gap.width_m):
        return None
    return depth if THINNEST_WALL_M < depth < THICKEST_WALL_M else None


def _same_side(gap: Gap, other: Gap) -> bool:
    """Whether another gap is the same one in a second face found on the same side."""
    if float(gap.normal @ other.normal) < ALIKE:
        return False
    place = gap.place(np.array([other.start_m, other.end_m]))
    low, high = np.sort(place[:, 0])
    common = min(high, gap.width_m) - max(low, 0.0)
    return common > 0.5 * min(high - low, gap.width_m) and bool(
        np.abs(place[:, 1]).max() < 2 * THINNEST_WALL_M
    )


def _first_room(gap: Gap, rooms: shapely.STRtree, depth_m: Floats) -> int:
    """The first room met going through the gap's middle, then its quarters; -1: none."""
    share = np.repeat([0.5, 0.25, 0.75], len(depth_m))[:, None]
    middle = gap.start_m + share * (gap.end_m - gap.start_m)
    points = middle - np.tile(depth_m, 3)[:, None] * gap.normal
    rank, room = rooms.query(shapely.points(points), predicate="intersects")
    return int(room[np.lexsort((room, rank))[0]]) if len(rank) else -1


def _unseen(
    gaps: tuple[Gap, ...],
    polygons: tuple[Polygon, ...],
    backed: list[list[Floats]],
    closed: list[list[Floats]],
    free: FreeSpace,
    progress: Progress,
) -> list[Opening]:
    unseen = tuple(gap for gap in gaps if gap.kind == "unseen")
    ends_m = np.array([[gap.start_m, gap.end_m] for gap in unseen]).reshape(-1, 2, 2)
    found = []
    for room, polygon in enumerate(progress.over(polygons)):
        for (start, end), seen, shut in zip(segments(polygon), backed[room], closed[room]):
            length = float(np.hypot(*(end - start)))
            step = (end - start) / length
            covered = np.concatenate([seen, shut])
            for low, high in unbacked_stretches(united(covered), length):
                if high - low < SHORTEST_UNSEEN_M:
                    continue
                line = np.array([start + low * step, start + high * step])
                sigma = _sigma_of(line, unseen, ends_m)
                kind = "unseen"
                if free.through_glass(line[0], line[1]) >= FEWEST_THROUGH_GLASS:
                    kind = "window"
                width = float(high - low)
                found.append(Opening(kind, LineString(line), width, sigma, float("nan"), room, -1))
    return found


def closed_stretches(polygon: Polygon, gaps: tuple[Gap, ...]) -> list[Floats]:
    """For each straight stretch of a room's boundary the intervals ``(k, 2)`` along it, in metres
    from its start, that are doorways, windows or niches."""
    shut = [gap for gap in gaps if gap.kind in ("doorway", "window", "niche")]
    ends_m = np.array([[gap.start_m, gap.end_m] for gap in shut]).reshape(-1, 2, 2)
    normal = np.array([gap.normal for gap in shut]).reshape(-1, 2)
    found = []
    for start, end in segments(polygon):
        length = float(np.hypot(*(end - start)))
        step = (end - start) / length
        offset = ends_m - start
        aside = np.abs(offset @ np.array([-step[1], step[0]])).max(axis=1, initial=0.0)
        place = np.sort(offset @ step, axis=1)
        fits = (np.abs(normal @ step) <= 0.1) & (aside <= THICKEST_WALL_M)
        fits &= (place[:, 1] > 0) & (place[:, 0] < length)
        found.append(place[fits].clip(0.0, length))
    return found


def _sigma_of(line_m: Floats, unseen: tuple[Gap, ...], ends_m: Floats) -> float:
    """The standard error of the unseen gap that an unseen stretch of a boundary is; NaN if none."""
    near = np.abs(ends_m - line_m).max(axis=(1, 2), initial=0.0) < 0.2
    near |= np.abs(ends_m[:, ::-1] - line_m).max(axis=(1, 2), initial=0.0) < 0.2
    for gap in (unseen[k] for k in np.flatnonzero(near)):
        place = gap.place(line_m)
        same = np.abs(np.sort(place[:, 0]) - [0.0, gap.width_m]).max() < 0.1
        if same and np.abs(place[:, 1]).max() < 0.05:
            return gap.sigma_m
    return float("nan")
