# SPDX-License-Identifier: GPL-2.0-or-later
"""How far the walls of an earlier plan moved in a new drawing, and which rooms came and went."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, unit
from .earlier import EarlierDrawing, rows_at
from .model import Plan


@dataclass(frozen=True, eq=False)
class WallMoves:
    """Walls that moved by `offset_m (n,)` across themselves (positive to their free side), with the
    standard errors `sigma_m (n,)` that the earlier plan stated; `new` walls, and those that are
    `gone`. All at one `plot_scale`; 0 where the two plans have none in common: what generalising
    moves would be taken for movement, and no offsets are known (NaN)."""

    plot_scale: int
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
    alike = bool((earlier.walls.plot_scale == walls.plot_scale).any())
    before = {earlier.walls.wall[row]: int(row) for row in rows}
    wall, offset, sigma = [], [], []
    for i, name in enumerate(walls.wall):
        row = before.get(name)
        if row is None or int(earlier.walls.network[row]) not in networks:
            continue
        middle = earlier.walls.ends_m[row].mean(axis=0)
        away = float((walls.drawn_m[i, 0] - middle) @ unit(walls.normal_rad[i]))
        wall.append(name)
        offset.append(away if alike else float("nan"))
        sigma.append(float(earlier.walls.sigma_offset_m[row]))
    now = set(walls.wall)
    return WallMoves(
        walls.plot_scale if alike else 0,
        tuple(wall),
        np.array(offset, dtype=float),
        np.array(sigma, dtype=float),
        tuple(name for name in walls.wall if name not in before),
        tuple(name for name in before if name not in now),
    )


def comparable(earlier: EarlierDrawing, plans: Sequence[Plan]) -> Plan | None:
    """The plan to compare with an earlier one: of the finest plot scale that both have, else the
    finest; None where there is none."""
    known = set(earlier.walls.plot_scale.tolist())
    both = [plan for plan in plans if plan.walls.plot_scale in known]
    return min(both or plans, key=lambda plan: plan.walls.plot_scale, default=None)


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
