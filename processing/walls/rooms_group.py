# SPDX-License-Identifier: GPL-2.0-or-later
"""The rooms and openings of one connected group of stations on one level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..angles import Floats
from ..captures.model import Ints, Survey
from ..progress import Progress
from ..stations.model import Network
from .arrangement import arrange, seen_of_cells
from .arrangement_backing import backed_intervals
from .arrangement_crossed import looked_through, passed
from .arrangement_cut import edge_prices, inside_cells
from .arrangement_lines import wall_pieces
from .free_space import FreeSpace
from .free_space_star import Star, star_of
from .identity import room_key
from .model import WallFaces
from .openings import Opening, closed_stretches, find_openings
from .openings_gaps import find_gaps
from .panes import seen_through_panes, with_glass
from .rooms_area import Boundary, sigma_area, sigma_perimeter
from .rooms_blocks import Block
from .rooms_cells import Sight, rooms_of_cells
from .rooms_doubt import doubts_of
from .rooms_edges import backed_edges, edge_kinds
from .rooms_errors import FaceErrors
from .rooms_furniture import WallsBefore, fill_islands
from .rooms_outline import outlines, segments
from .rooms_seen import backed_stretches
from .rooms_slots import ROUNDS, Readings, with_what_stands_free
from .rooms_trifles import without_trifles

LEAST_SEEN_SHARE = 0.3
LEAST_SHARE_WITH_STATION = 0.2
"""Less of the boundary than this makes no room; a station within is evidence of its own."""


@dataclass(frozen=True, eq=False)
class Group:
    """Indices of the stations and wall faces of one connected group on one level."""

    level: int
    network: int
    stations: Ints
    walls: Ints


@dataclass(frozen=True)
class Room:
    """One room: `key` names it in the survey's name space, `stations` stand in it."""

    polygon: Polygon
    sigma_area_m2: float
    sigma_seen_m2: float
    sigma_perimeter_m: float
    seen_share: float
    stations: tuple[str, ...]
    key: str


def groups_of(survey: Survey, network: Network, walls: WallFaces) -> list[Group]:
    """What is drawn together: the stations and faces of a storey and connected group."""
    level = np.array([capture.level for capture in survey.captures], dtype=np.int64)
    return [
        Group(
            lv,
            nw,
            np.flatnonzero((level == lv) & (network.network == nw)),
            np.flatnonzero((walls.level == lv) & (walls.network == nw)),
        )
        for lv, nw in sorted(set(zip(walls.level.tolist(), walls.network.tolist())))
    ]


def draw_group(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    errors: FaceErrors,
    group: Group,
    smallest_m2: float,
    niches: bool,
    progress: Progress,
) -> tuple[list[Room], list[Opening]]:
    """The rooms of a group, and its openings with rooms by index into these."""
    progress.at(0.0)
    stars = _stars(survey, network, walls, group, progress.part(0.0, 0.02))
    backed = backed_intervals(survey, network, walls, group.walls, progress.part(0.02, 0.04))
    pane_m = seen_through_panes(survey, walls, backed, stars, progress.part(0.04, 0.06))
    progress.at(0.06)
    survey = with_glass(survey, pane_m)
    stars = _stars(survey, network, walls, group, progress.part(0.06, 0.08), pane_m)
    free = FreeSpace(tuple(stars.values()))
    backed = backed_intervals(survey, network, walls, group.walls, progress.part(0.08, 0.09))
    pieces = wall_pieces(walls, backed)
    progress.at(0.1)
    gaps = find_gaps(walls, pieces, free, niches, progress.part(0.1, 0.4))
    stations_m = network.xy_m[group.stations]
    arrangement = arrange(pieces, stations_m, progress.part(0.4, 0.5))
    progress.at(0.5)
    seen = seen_of_cells(arrangement, free, progress.part(0.5, 0.7))
    progress.at(0.7)
    crossed = passed(arrangement, pieces, seen, free, progress.part(0.7, 0.75))
    prices = edge_prices(arrangement, pieces, crossed)
    inside = inside_cells(arrangement, pieces, seen, prices)
    progress.at(0.8)
    passable = ~backed_edges(arrangement, pieces).any(axis=1)
    passable &= (arrangement.left >= 0) & (arrangement.right >= 0)
    passable[passable] &= inside[arrangement.left[passable]] & inside[arrangement.right[passable]]
    sight = Sight(
        inside=inside,
        free=seen.free,
        looked_through=looked_through(arrangement, free, passable, progress.part(0.8, 0.82)),
        price=np.minimum(*prices) / arrangement.edge_length_m,
    )
    rooms, gaps = rooms_of_cells(
        arrangement, pieces, gaps, sight, stations_m, smallest_m2, progress.part(0.82, 0.85)
    )
    progress.at(0.85)
    drawn = outlines(arrangement, rooms)
    readings = Readings.of(survey, network, walls, group.stations)
    kinds = edge_kinds(arrangement, pieces, gaps)
    untold: list[tuple[int, Block]] = []
    for _ in range(ROUNDS):
        progress.at(0.88)
        fuller, more = with_what_stands_free(
            arrangement,
            rooms,
            drawn,
            WallsBefore.of(arrangement, kinds, rooms),
            pieces,
            walls.curves,
            readings,
            progress.part(0.88, 0.9),
        )
        if np.array_equal(fuller, rooms):
            break
        rooms, drawn = fuller, outlines(arrangement, fuller)
        untold += more
    rooms = without_trifles(arrangement, fill_islands(arrangement, rooms))
    drawn = outlines(arrangement, rooms)
    progress.at(0.9)
    found: list[Room] = []
    seen_of: list[list[Floats]] = []
    closed_of: list[list[Floats]] = []
    for number, polygon in enumerate(progress.part(0.9, 0.98).over(drawn)):
        seen_m = backed_stretches(segments(polygon), pieces)
        share = sum(float(np.diff(stretch).sum()) for stretch in seen_m) / polygon.length
        at = shapely.contains_xy(polygon, stations_m[:, 0], stations_m[:, 1])
        if share < (LEAST_SHARE_WITH_STATION if at.any() else LEAST_SEEN_SHARE):
            continue
        within = tuple(survey.captures[s].station for s in group.stations[at])
        near = _nearest(survey, network, group.stations, polygon)
        from_station = survey.captures[near].station
        key = room_key(polygon, within, group.level, from_station, network.xy_m[near])
        boundary = Boundary.of(arrangement, pieces, rooms, number)
        sigma = sigma_area(boundary, pieces, walls, errors)
        perimeter = sigma_perimeter(boundary, pieces, walls, errors)
        closed_m = closed_stretches(polygon, gaps)
        taken = [block for room, block in untold if room == number]
        doubts = doubts_of(polygon, seen_m, closed_m, pieces, free, walls.curves, taken)
        of_area, of_perimeter = np.sqrt(np.square([sigma, perimeter]) + doubts.variance)
        seen_share = min(share, 1.0)
        found.append(Room(polygon, of_area, sigma, of_perimeter, seen_share, within, key))
        seen_of.append(seen_m)
        closed_of.append(closed_m)
    polygons = tuple(room.polygon for room in found)
    progress.at(0.98)
    openings = find_openings(gaps, polygons, seen_of, closed_of, free, progress.part(0.98, 1.0))
    progress.at(1.0)
    return found, openings


def _stars(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    group: Group,
    progress: Progress,
    pane_m: dict[int, Floats] | None = None,
) -> dict[int, Star]:
    """The free space of each station of a group; `pane_m` as `seen_through_panes` returns it."""
    none = np.empty(0, dtype=np.int64)
    stars = {}
    for s in progress.over(group.stations.tolist()):
        owner = walls.wall_of_reading[s] if s < len(walls.wall_of_reading) else none
        stars[s] = star_of(survey.captures[s], network, s, owner, pane_m[s] if pane_m else None)
    return stars


def _nearest(survey: Survey, network: Network, stations: Ints, polygon: Polygon) -> int:
    """The station nearest to a room's centroid, to the decimetre, then by name."""
    centre = np.array(polygon.centroid.coords[0])
    distance = np.hypot(*(network.xy_m[stations] - centre).T)
    order = sorted(
        zip(stations.tolist(), distance.tolist()),
        key=lambda item: (round(item[1], 1), survey.captures[item[0]].station),
    )
    return order[0][0]
