# SPDX-License-Identifier: GPL-2.0-or-later
"""Invented storeys of rooms in a grid, with doors, and captures of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.model import Network, NetworkStatistics, Status, Targets, Ties
from roomtie.processing.walls.faces import find_walls
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry import box as rectangle
from simulated import capture_of, loop


@dataclass(frozen=True)
class Door:
    """A doorway between two rooms, by index, with its clear width and the wall's thickness."""

    rooms: tuple[int, int]
    width_m: float
    thickness_m: float


@dataclass(frozen=True)
class Storey:
    """Rooms, the segments that an instrument sees, the doors and one station a room."""

    rooms: list[Polygon]
    segments: np.ndarray
    doors: list[Door]
    stations_m: np.ndarray


def storey(rng, columns=2, rows=2, skew=0.0, turn=0.0, closed=()):
    """Rooms in a grid: random widths and wall thicknesses, a doorway in every inner wall but the
    `closed` ones (by pairs of rooms). `skew` shears the plan, `turn` turns it."""
    width = rng.uniform(2.5, 5.0, columns)
    height = rng.uniform(2.5, 5.0, rows)
    across = rng.uniform(0.1, 0.3, columns)
    up = rng.uniform(0.1, 0.3, rows)
    x0 = np.concatenate([[0.0], np.cumsum(width + across)[:-1]])
    y0 = np.concatenate([[0.0], np.cumsum(height + up)[:-1]])
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    matrix = matrix @ np.array([[1.0, skew], [0.0, 1.0]])
    boxes = [
        (x0[i], y0[j], x0[i] + width[i], y0[j] + height[j])
        for j in range(rows)
        for i in range(columns)
    ]
    cuts = {k: [] for k in range(len(boxes))}
    doors, jambs = [], []
    for j in range(rows):
        for i in range(columns):
            k = j * columns + i
            if i + 1 < columns and (k, k + 1) not in closed:
                w = rng.uniform(0.75, 1.2)
                y = rng.uniform(y0[j] + 0.3, y0[j] + height[j] - 0.3 - w)
                a, b = boxes[k][2], boxes[k + 1][0]
                cuts[k].append(("right", y, y + w))
                cuts[k + 1].append(("left", y, y + w))
                jambs += [[(a, y), (b, y)], [(a, y + w), (b, y + w)]]
                slope = np.hypot(*(matrix @ [0.0, 1.0]))
                doors.append(Door((k, k + 1), w * slope, (b - a) / slope))
            if j + 1 < rows and (k, k + columns) not in closed:
                w = rng.uniform(0.75, 1.2)
                x = rng.uniform(x0[i] + 0.3, x0[i] + width[i] - 0.3 - w)
                a, b = boxes[k][3], boxes[k + columns][1]
                cuts[k].append(("top", x, x + w))
                cuts[k + columns].append(("bottom", x, x + w))
                jambs += [[(x, a), (x, b)], [(x + w, a), (x + w, b)]]
                doors.append(Door((k, k + columns), w, b - a))
    segments = list(jambs)
    for k, (xa, ya, xb, yb) in enumerate(boxes):
        for side, along_x, fixed, low, high in (
            ("bottom", True, ya, xa, xb),
            ("top", True, yb, xa, xb),
            ("left", False, xa, ya, yb),
            ("right", False, xb, ya, yb),
        ):
            at = low
            for _, a, b in sorted(c for c in cuts[k] if c[0] == side):
                segments.append([(at, fixed), (a, fixed)] if along_x else [(fixed, at), (fixed, a)])
                at = b
            last = [(at, fixed), (high, fixed)] if along_x else [(fixed, at), (fixed, high)]
            segments.append(last)
    polygons = [
        Polygon(np.array([(xa, ya), (xb, ya), (xb, yb), (xa, yb)]) @ matrix.T)
        for xa, ya, xb, yb in boxes
    ]
    stations = [
        (
            xa + (xb - xa) * rng.uniform(0.35, 0.65),
            ya + (yb - ya) * rng.uniform(0.35, 0.65),
        )
        for xa, ya, xb, yb in boxes
    ]
    return Storey(polygons, np.array(segments) @ matrix.T, doors, np.array(stations) @ matrix.T)


def survey_of(plan, rng, *, level=0, names=None, readings=1200, extra=()):
    """Captures from the plan's stations, each turned at random, with their true orientations.

    `extra` are more segments that an instrument sees (furniture)."""
    segments = np.concatenate([plan.segments, *extra]) if len(extra) else plan.segments
    orientation = rng.uniform(-np.pi, np.pi, len(plan.stations_m))
    captures = []
    for k, station in enumerate(plan.stations_m):
        name = names[k] if names else f"S{k + 1:02d}"
        capture, _ = capture_of(
            segments, station, orientation[k], rng=rng, readings=readings, station=name
        )
        captures.append(replace(capture, level=level))
    return Survey(tuple(captures)), orientation


def network_of(survey, xy_m, orientation_rad, covariance=None, group=None, status=None):
    """A network without ties whose stations lie where they are said to."""
    count = len(survey)
    none = np.empty(0, dtype=np.int64)
    empty = np.empty(0)
    ties = Ties((), (), none, none, none, empty, empty, empty, empty, none.astype(bool), ())
    return Network(
        station=survey.names,
        xy_m=np.asarray(xy_m, dtype=float),
        orientation_rad=np.asarray(orientation_rad, dtype=float),
        covariance=np.zeros((3 * count, 3 * count)) if covariance is None else covariance,
        network=np.ones(count, dtype=np.int64) if group is None else np.asarray(group),
        status=(Status.ADJUSTED,) * count if status is None else status,
        ties=ties,
        targets=Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), none, none),
        statistics=NetworkStatistics(1.0, 0, 0.0, np.inf, 0.0, 0, 0),
    )


def walls_of(survey, network):
    """The wall faces of a survey as measured."""
    return find_walls(survey, [fit_faces(capture) for capture in survey.captures], network)[0]


def box(x0, y0, x1, y1):
    """The segments of a rectangle: a cupboard."""
    return loop([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def furniture(plan, rng):
    """Cupboards before walls, away from corners, and desks within rooms, as (x0, y0, x1, y1): clear
    of stations, of doorways and of each other. The plan must not be turned or skewed."""
    jambs = [LineString(s) for s in plan.segments[: 2 * len(plan.doors)]]
    clear = [a.union(b).convex_hull.buffer(0.5) for a, b in zip(jambs[::2], jambs[1::2])]
    clear += [Point(station).buffer(0.4) for station in plan.stations_m]
    found = []
    for room in plan.rooms:
        x0, y0, x1, y1 = room.bounds
        for _ in range(2):
            long, deep = rng.uniform(0.6, 1.6), rng.uniform(0.35, 0.6)
            a = rng.uniform(x0 + 0.4, x1 - 0.4 - long)
            b = rng.uniform(y0 + 0.4, y1 - 0.4 - long)
            at = rng.integers(5)
            corners = (
                (a, y0, a + long, y0 + deep),
                (a, y1 - deep, a + long, y1),
                (x0, b, x0 + deep, b + long),
                (x1 - deep, b, x1, b + long),
                (a, b, a + long, b + deep),
            )[at]
            piece = rectangle(*corners)
            if not any(piece.intersects(other) for other in clear):
                clear.append(piece)
                found.append(corners)
    return found
