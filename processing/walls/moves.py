# SPDX-License-Identifier: GPL-2.0-or-later
"""How far the walls of an earlier plan moved in a new drawing, and which rooms came and went."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, unit
from .earlier import EarlierDrawing, rows_at
from .model import Plan


@dataclass(frozen=True, eq=False)
class WallMoves:
    """Walls that moved by `offset_m (n,)` across themselves (positive to their free side), with the
    standard errors `sigma_m (n,)` that the earlier plan stated; `new` walls, and those that are
    `gone`."""

    wall: tuple[str, ...]
    offset_m: Floats
    sigma_m: Floats
    new: tuple[str, ...]
    gone: tuple[str, ...]


@dataclass(frozen=True)
class RoomChanges:
    """Names of rooms that are new, and of those that are gone."""

    kept: tuple[str, ...]
    new: tuple[str, ...]
    gone: tuple[str, ...]


def wall_moves(earlier: EarlierDrawing, plan: Plan, networks: Collection[int]) -> WallMoves:
    """The moves of the walls that an earlier plan drew and a new one does, at one plot scale;
    of these earlier `networks`, whose coordinates the new plan goes on in."""
    walls = plan.walls
    rows = rows_at(earlier.walls.plot_scale, walls.plot_scale)
    before = {earlier.walls.wall[row]: int(row) for row in rows}
    wall, offset, sigma = [], [], []
    for i, name in enumerate(walls.wall):
        row = before.get(name)
        if row is None or int(earlier.walls.network[row]) not in networks:
            continue
        middle = earlier.walls.ends_m[row].mean(axis=0)
        wall.append(name)
        offset.append(float((walls.drawn_m[i, 0] - middle) @ unit(walls.normal_rad[i])))
        sigma.append(float(earlier.walls.sigma_offset_m[row]))
    now = set(walls.wall)
    return WallMoves(
        tuple(wall),
        np.array(offset, dtype=float),
        np.array(sigma, dtype=float),
        tuple(name for name in walls.wall if name not in before),
        tuple(name for name in before if name not in now),
    )


def room_changes(earlier: EarlierDrawing, plan: Plan) -> RoomChanges:
    """The rooms of an earlier plan and a new one at one plot scale, by identifier."""
    rows = rows_at(earlier.rooms.plot_scale, plan.rooms.plot_scale)
    before = {earlier.rooms.room[row]: earlier.rooms.name[row] for row in rows}
    after = dict(zip(plan.rooms.room, plan.rooms.name))
    return RoomChanges(
        tuple(name for room, name in after.items() if room in before),
        tuple(name for room, name in after.items() if room not in before),
        tuple(name for room, name in before.items() if room not in after),
    )
