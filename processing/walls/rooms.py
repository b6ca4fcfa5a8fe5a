# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms and openings of a survey at one plot scale.

The wall lines, extended, cut the plan into cells (`arrangement`); a minimum cut says which cells
are inside (`arrangement_cut`); what hangs together without a wall or a doorway between is a room
(`rooms_cells`). So every boundary lies on wall lines, and every corner is an intersection of two.
"""

from __future__ import annotations

import uuid
from dataclasses import replace

import numpy as np

from ..captures.model import Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .identity import identify, room_names, survey_space
from .model import Openings, Rooms, WallFaces
from .openings import Opening
from .rooms_errors import face_errors
from .rooms_group import Group, Room, draw_group, groups_of

ODD_DIRECTION = np.array([1.0, 0.41])


def build_rooms(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    *,
    smallest_room_m2: float = 1.0,
    niches: bool = True,
    progress: Progress = SILENT,
) -> tuple[Rooms, Openings]:
    """The rooms and openings that the wall faces of one plot scale bound.

    Levels and unconnected groups of stations are kept apart. A room is drawn from
    `smallest_room_m2` up, where half of the area was seen and 0.3 of the boundary, or a station
    stands and 0.2 of the boundary was seen; where too little is known to close an outline, nothing
    is drawn.

    Areas lie inside the faces at the instrument's height. Reveals of windows that showed glass,
    and of doorways, are not counted; `niches` says whether other shallow recesses of walls (up to
    0.35 m deep: niches, closed doors in their reveals) are.

    The standard error of an area holds the errors of the walls and stations (`rooms_area`), and
    what the room may be off by where nobody saw its wall or where furniture may have been taken
    for one (`rooms_doubt`). Widths of openings that nothing
    seen ends have no standard error (NaN). Raises `Cancelled`.
    """
    errors = face_errors(survey, network, walls, progress.part(0.0, 0.05))
    groups = groups_of(survey, network, walls)
    rooms: list[tuple[Group, Room]] = []
    openings: list[tuple[Group, Opening, int]] = []
    for step, group in progress.part(0.05, 1.0).each(groups):
        drawn, gaps = draw_group(
            survey, network, walls, errors, group, smallest_room_m2, niches, step
        )
        openings.extend((group, opening, len(rooms)) for opening in gaps)
        rooms.extend((group, room) for room in drawn)
    ids = identify(survey_space(survey), [room.key for _, room in rooms])
    made = replace(_rooms(walls.plot_scale, rooms, ids), niches=niches)
    return made, _openings(walls.plot_scale, openings, ids, made, survey_space(survey))


def _rooms(plot_scale: int, rows: list[tuple[Group, Room]], ids: tuple[str, ...]) -> Rooms:
    level = [group.level for group, _ in rows]
    network = [group.network for group, _ in rows]
    centre = np.array([room.polygon.centroid.coords[0] for _, room in rows]).reshape(-1, 2)
    order, names = room_names(level, network, centre)
    rooms = [rows[i][1] for i in order]
    return Rooms(
        room=tuple(ids[i] for i in order),
        name=names,
        plot_scale=plot_scale,
        level=np.array([level[i] for i in order], dtype=np.int64),
        network=np.array([network[i] for i in order], dtype=np.int64),
        polygon=tuple(room.polygon for room in rooms),
        area_m2=np.array([room.polygon.area for room in rooms], dtype=float),
        sigma_area_m2=np.array([room.sigma_area_m2 for room in rooms], dtype=float),
        sigma_seen_m2=np.array([room.sigma_seen_m2 for room in rooms], dtype=float),
        perimeter_m=np.array([room.polygon.length for room in rooms], dtype=float),
        sigma_perimeter_m=np.array([room.sigma_perimeter_m for room in rooms], dtype=float),
        seen_share=np.array([room.seen_share for room in rooms], dtype=float),
        stations=tuple(room.stations for room in rooms),
    )


def _openings(
    plot_scale: int,
    found: list[tuple[Group, Opening, int]],
    ids: tuple[str, ...],
    rooms: Rooms,
    space: uuid.UUID,
) -> Openings:
    """Openings in the order of their rooms' names; `found` has the number of the first room of
    each opening's group."""
    place = {room: k for k, room in enumerate(rooms.room)}
    rows = []
    for group, opening, first in found:
        ends = [ids[first + k] for k in (opening.room_a, opening.room_b) if k >= 0]
        ends = sorted(ends, key=place.__getitem__)
        # along an odd direction, in which no two openings of a building lie abreast
        middle = np.mean(opening.line.coords, axis=0) @ ODD_DIRECTION
        order = (group.level, group.network, opening.kind, [place[e] for e in ends], middle)
        rows.append((order, group, opening, [*ends, "", ""][:2]))
    rows.sort(key=lambda row: row[0])
    openings = [opening for _, _, opening, _ in rows]
    keys = [f"opening\x00{opening.kind}\x00{a}\x00{b}" for _, _, opening, (a, b) in rows]
    return Openings(
        opening=identify(space, keys),
        kind=tuple(opening.kind for opening in openings),
        plot_scale=plot_scale,
        level=np.array([group.level for _, group, _, _ in rows], dtype=np.int64),
        network=np.array([group.network for _, group, _, _ in rows], dtype=np.int64),
        line=tuple(opening.line for opening in openings),
        width_m=np.array([opening.width_m for opening in openings], dtype=float),
        sigma_width_m=np.array([opening.sigma_m for opening in openings], dtype=float),
        wall_thickness_m=np.array([opening.thickness_m for opening in openings], dtype=float),
        room_a=tuple(a for _, _, _, (a, _) in rows),
        room_b=tuple(b for _, _, _, (_, b) in rows),
    )
