# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms and openings of a survey at one plot scale.

The wall lines, extended, cut the plan into cells (`arrangement`); a minimum cut says which cells
are inside (`arrangement_cut`); what hangs together without a wall or a doorway between is a room
(`rooms_cells`). So every boundary lies on wall lines, and every corner is an intersection of two.
"""

from __future__ import annotations

import numpy as np

from ..captures.model import Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .identity import identify, room_names, survey_space
from .model import Openings, Rooms, WallFaces
from .openings import Opening
from .rooms_errors import face_errors
from .rooms_group import Group, Room, draw_group, groups_of


def build_rooms(
    survey: Survey,
    network: Network,
    walls: WallFaces,
    *,
    smallest_room_m2: float = 1.0,
    progress: Progress = SILENT,
) -> tuple[Rooms, Openings]:
    """The rooms and openings that the wall faces of one plot scale bound.

    Levels and unconnected groups of stations are kept apart. A room is drawn from
    `smallest_room_m2` up, where a station stands or half of the area was seen, and 0.3 of the
    boundary; where too little is known to close an outline, nothing is drawn.

    The standard error of an area holds the errors of the walls and stations, not a mistake about
    what is a wall: furniture that fills a corner looks like one. Raises `Cancelled`.
    """
    errors = face_errors(survey, network, walls)
    groups = groups_of(survey, network, walls)
    rooms: list[tuple[Group, Room]] = []
    openings: list[tuple[Group, Opening, int]] = []
    for k, group in enumerate(groups):
        step = progress.part(k / len(groups), (k + 1) / len(groups))
        drawn, gaps = draw_group(survey, network, walls, errors, group, smallest_room_m2, step)
        openings.extend((group, opening, len(rooms)) for opening in gaps)
        rooms.extend((group, room) for room in drawn)
    space = survey_space(survey)
    ids = identify(space, [room.key for _, room in rooms])
    keys = []
    for _, opening, first in openings:
        a, b = _ends(opening, first, ids)
        keys.append(f"opening\x00{opening.kind}\x00{a}\x00{b}")
    return (
        _rooms(walls.plot_scale, rooms, ids),
        _openings(walls.plot_scale, openings, ids, identify(space, keys)),
    )


def _ends(opening: Opening, first: int, ids: tuple[str, ...]) -> tuple[str, str]:
    """The identifiers of an opening's rooms, which are numbered from `first`; empty: none."""
    a, b = opening.room_a, opening.room_b
    return ids[first + a] if a >= 0 else "", ids[first + b] if b >= 0 else ""


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
        perimeter_m=np.array([room.polygon.length for room in rooms], dtype=float),
        seen_share=np.array([room.seen_share for room in rooms], dtype=float),
        stations=tuple(room.stations for room in rooms),
    )


def _openings(
    plot_scale: int,
    rows: list[tuple[Group, Opening, int]],
    ids: tuple[str, ...],
    own: tuple[str, ...],
) -> Openings:
    openings = [opening for _, opening, _ in rows]
    ends = [_ends(opening, first, ids) for _, opening, first in rows]
    return Openings(
        opening=own,
        kind=tuple(opening.kind for opening in openings),
        plot_scale=plot_scale,
        level=np.array([group.level for group, _, _ in rows], dtype=np.int64),
        network=np.array([group.network for group, _, _ in rows], dtype=np.int64),
        line=tuple(opening.line for opening in openings),
        width_m=np.array([opening.width_m for opening in openings], dtype=float),
        sigma_width_m=np.array([opening.sigma_m for opening in openings], dtype=float),
        wall_thickness_m=np.array([opening.thickness_m for opening in openings], dtype=float),
        room_a=tuple(a for a, _ in ends),
        room_b=tuple(b for _, b in ends),
    )
