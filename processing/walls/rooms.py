# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms and openings of a survey at one plot scale.

The wall lines, extended, cut the plan into cells (`arrangement`); a minimum cut says which cells
are inside (`arrangement_cut`); what hangs together without a wall or a doorway between is a room
(`rooms_cells`). So every boundary lies on wall lines, and every corner is an intersection of two.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network, Status
from .arrangement import arrange, looked_through, seen_of_cells
from .arrangement_backing import backed_intervals
from .arrangement_cut import edge_prices, inside_cells
from .arrangement_lines import wall_pieces
from .free_space import FreeSpace, star_of
from .identity import identify, room_key, room_names, survey_space
from .model import Openings, Rooms, WallFaces
from .openings import Opening, find_openings
from .openings_gaps import find_gaps
from .rooms_area import FaceErrors, boundary_lines, face_errors, sigma_area
from .rooms_cells import edge_kinds, rooms_of_cells
from .rooms_outline import outlines, segments
from .rooms_seen import backed_stretches


@dataclass(frozen=True, eq=False)
class _Group:
    """Stations and wall faces of one connected group on one level."""

    level: int
    network: int
    stations: Ints
    walls: Ints


@dataclass(frozen=True, eq=False)
class _Drawn:
    """The rooms and openings of one group."""

    group: _Group
    polygons: tuple[Polygon, ...]
    sigma_area_m2: list[float]
    seen_share: list[float]
    inside: list[tuple[str, ...]]
    key: list[str]
    openings: list[Opening]


def build_rooms(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    *,
    smallest_room_m2: float = 1.0,
    progress: Progress = SILENT,
) -> tuple[Rooms, Openings]:
    """The rooms and openings that the wall faces of one plot scale bound.

    Levels and unconnected groups of stations are kept apart. A room is drawn where a station
    stands or where at least half of it was seen, from `smallest_room_m2` up; where too little is
    known to close an outline, nothing is drawn. Raises `Cancelled`.
    """
    errors = face_errors(survey, network, walls)
    groups = _groups(survey, network, walls)
    drawn = []
    for k, group in enumerate(groups):
        step = progress.part(k / len(groups), (k + 1) / len(groups))
        drawn.append(_draw(survey, network, walls, errors, group, smallest_room_m2, step))
    return _collect(survey, walls.plot_scale, drawn)


def _groups(survey: Survey, network: Network, walls: WallFaces) -> list[_Group]:
    """Groups in the order of level and number; unconnected stations each by itself."""
    level = np.array([capture.level for capture in survey.captures], dtype=np.int64)
    alone = np.array([status is Status.UNCONNECTED for status in network.status], dtype=bool)
    seen_from = np.array(
        [survey.index(names[0]) if names else -1 for names in walls.stations], dtype=np.int64
    )
    groups = []
    for lv, nw in sorted(set(zip(walls.level.tolist(), walls.network.tolist()))):
        faces = np.flatnonzero((walls.level == lv) & (walls.network == nw))
        members = np.flatnonzero((level == lv) & (network.network == nw))
        apart = [s for s in members if alone[s]]
        for s in apart:
            own = faces[seen_from[faces] == s]
            if len(own):
                groups.append(_Group(lv, nw, np.array([s]), own))
        together = faces[~np.isin(seen_from[faces], apart)]
        if len(together):
            groups.append(_Group(lv, nw, np.setdiff1d(members, apart), together))
    return groups


def _draw(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    errors: FaceErrors,
    group: _Group,
    smallest_m2: float,
    progress: Progress,
) -> _Drawn:
    progress.at(0.0)
    none = np.empty(0, dtype=np.int64)
    free = FreeSpace(
        tuple(
            star_of(
                survey.captures[s],
                network,
                int(s),
                walls.wall_of_reading[s] if s < len(walls.wall_of_reading) else none,
            )
            for s in group.stations
        )
    )
    backed = backed_intervals(survey, network, walls, group.walls)
    pieces = wall_pieces(walls, backed)
    progress.at(0.1)
    gaps = find_gaps(walls, pieces, free)
    progress.at(0.2)
    arrangement = arrange(pieces, network.xy_m[group.stations])
    progress.at(0.4)
    seen, veiled = seen_of_cells(arrangement, free)
    progress.at(0.6)
    inside = inside_cells(arrangement, pieces, seen, veiled)
    progress.at(0.7)
    stations_m = network.xy_m[group.stations]
    price = np.minimum(*edge_prices(arrangement, pieces)) / arrangement.edge_length_m
    rooms = rooms_of_cells(
        arrangement,
        edge_kinds(arrangement, pieces, gaps),
        inside,
        gaps,
        stations_m,
        seen,
        looked_through(arrangement, free),
        price,
        smallest_m2,
    )
    polygons = outlines(arrangement, rooms)
    progress.at(0.8)
    sigma, share, standing, keys, stretches = [], [], [], [], []
    for room, polygon in enumerate(polygons):
        progress.at(0.8 + 0.2 * room / len(polygons))
        boundary = boundary_lines(arrangement, pieces, rooms, room)
        sigma.append(sigma_area(arrangement, pieces, walls, network, errors, boundary))
        stretch = backed_stretches(segments(polygon), pieces)
        stretches.append(stretch)
        share.append(sum(float(np.diff(s).sum()) for s in stretch) / polygon.length)
        at = shapely.contains_xy(polygon, stations_m[:, 0], stations_m[:, 1])
        names = tuple(survey.captures[s].station for s in group.stations[at])
        standing.append(names)
        from_station = _nearest(survey, network, group.stations, polygon)
        keys.append(
            room_key(
                polygon,
                names,
                group.level,
                survey.captures[from_station].station,
                network.xy_m[from_station],
            )
        )
    openings = find_openings(gaps, polygons, stretches)
    return _Drawn(group, polygons, sigma, share, standing, keys, openings)


def _nearest(survey: Survey, network: Network, stations: Ints, polygon: Polygon) -> int:
    """The station nearest to a room's centroid, to the decimetre, then by name."""
    centre = np.array(polygon.centroid.coords[0])
    distance = np.hypot(*(network.xy_m[stations] - centre).T)
    order = sorted(
        zip(stations.tolist(), distance.tolist()),
        key=lambda item: (round(item[1], 1), survey.captures[item[0]].station),
    )
    return order[0][0]


def _collect(survey: Survey, plot_scale: int, drawn: list[_Drawn]) -> tuple[Rooms, Openings]:
    polygons = [p for part in drawn for p in part.polygons]
    level = [part.group.level for part in drawn for _ in part.polygons]
    group = [part.group.network for part in drawn for _ in part.polygons]
    centre = np.array([p.centroid.coords[0] for p in polygons]).reshape(-1, 2)
    space = survey_space(survey)
    room = identify(space, [key for part in drawn for key in part.key])
    name = room_names(level, group, centre)
    order = sorted(range(len(polygons)), key=lambda i: (level[i], name[i]))
    sigma = [s for part in drawn for s in part.sigma_area_m2]
    share = [s for part in drawn for s in part.seen_share]
    inside = [s for part in drawn for s in part.inside]
    rooms = Rooms(
        room=tuple(room[i] for i in order),
        name=tuple(name[i] for i in order),
        plot_scale=plot_scale,
        level=np.array([level[i] for i in order], dtype=np.int64),
        network=np.array([group[i] for i in order], dtype=np.int64),
        polygon=tuple(polygons[i] for i in order),
        area_m2=np.array([polygons[i].area for i in order]),
        sigma_area_m2=np.array([sigma[i] for i in order]),
        perimeter_m=np.array([polygons[i].length for i in order]),
        seen_share=np.array([share[i] for i in order]).clip(0.0, 1.0),
        stations=tuple(inside[i] for i in order),
    )
    return rooms, _openings(space, plot_scale, drawn, room)


def _openings(
    space: uuid.UUID, plot_scale: int, drawn: list[_Drawn], room: tuple[str, ...]
) -> Openings:
    rows: list[tuple[Opening, _Group, str, str]] = []
    first = 0
    for part in drawn:
        for o in part.openings:
            a = room[first + o.room_a] if o.room_a >= 0 else ""
            b = room[first + o.room_b] if o.room_b >= 0 else ""
            rows.append((o, part.group, a, b))
        first += len(part.polygons)
    keys = [f"opening\x00{o.kind}\x00{a}\x00{b}" for o, _, a, b in rows]
    return Openings(
        opening=identify(space, keys),
        kind=tuple(o.kind for o, *_ in rows),
        plot_scale=plot_scale,
        level=np.array([g.level for _, g, _, _ in rows], dtype=np.int64),
        network=np.array([g.network for _, g, _, _ in rows], dtype=np.int64),
        line=tuple(o.line for o, *_ in rows),
        width_m=np.array([o.width_m for o, *_ in rows], dtype=float),
        sigma_width_m=np.array([o.sigma_m for o, *_ in rows], dtype=float),
        wall_thickness_m=np.array([o.thickness_m for o, *_ in rows], dtype=float),
        room_a=tuple(a for *_, a, _ in rows),
        room_b=tuple(b for *_, b in rows),
    )
