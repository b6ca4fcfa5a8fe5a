# SPDX-License-Identifier: GPL-2.0-or-later
"""What a distance can be taken between on a plan, and which of it lies under a point.

The names are those that `distances` understands: walls, targets, and corners as the two walls that
meet there.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
import shapely

from ..angles import Floats
from ..captures.model import Ints
from ..stations.model import Targets
from .distances import CORNER, STEEPEST
from .model import WallFaces

MEET_M = 0.005
"""Walls drawn to one corner end there to rounding; a wall that runs against another's face may stop
this much before it."""

NO_LEVEL = -(2**31)
"""A target of which no storey is known: it counts to every one."""


class ReferenceKind(IntEnum):
    """What a reference is; where several lie under a point, the first of these is meant."""

    TARGET = 0
    CORNER = 1
    WALL = 2


@dataclass(frozen=True, eq=False)
class References:
    """``n`` things with names: `kind (n,)` of `ReferenceKind`, storey `level (n,)`, connected group
    `network (n,)`, and `ends (n, 2, 2)`, the ends of a wall and twice the place of a point, in any
    one coordinate system."""

    name: tuple[str, ...]
    kind: Ints
    level: Ints
    network: Ints
    ends: Floats

    def __len__(self) -> int:
        return len(self.name)

    def placed(self, place: Callable[[int, Floats], Floats]) -> References:
        """The same where ``place(network, xy (m, 2)) -> (m, 2)`` puts them."""
        ends = self.ends.copy()
        for group in np.unique(self.network):
            rows = self.network == group
            ends[rows] = place(int(group), ends[rows].reshape(-1, 2)).reshape(-1, 2, 2)
        return replace(self, ends=ends)

    def near(self, point: Floats, within: float, levels: Collection[int] | None = None) -> int:
        """The place in the list of what lies under a point ``(2,)``: the nearest target that is not
        further than `within`, else the nearest corner, else the nearest wall; -1 for nothing.
        `levels` are the storeys that count (None: all)."""
        if not len(self):
            return -1
        away = _from_segments(np.asarray(point, dtype=float), self.ends)
        counts = away <= within
        if levels is not None:
            counts &= np.isin(self.level, [*levels, NO_LEVEL])
        if not counts.any():
            return -1
        first = counts & (self.kind == self.kind[counts].min())
        return int(np.argmin(np.where(first, away, np.inf)))


def references(
    walls: WallFaces, targets: Targets, target_level: Sequence[int | None] | None = None
) -> References:
    """The targets, corners and walls of a plan, in the plan frame. `target_level` is the storey of
    each target, where it is known."""
    spots = np.repeat(targets.xy_m[:, None, :], 2, axis=1)
    known = list(target_level) if target_level is not None else [None] * len(targets.name)
    first, second, corner_m = _corners(walls)
    names = [f"{walls.wall[i]}{CORNER}{walls.wall[j]}" for i, j in zip(first, second)]
    kinds = [
        np.full(len(targets.name), ReferenceKind.TARGET),
        np.full(len(names), ReferenceKind.CORNER),
        np.full(len(walls), ReferenceKind.WALL),
    ]
    levels = np.array([NO_LEVEL if level is None else level for level in known], dtype=np.int64)
    return References(
        name=(*targets.name, *names, *walls.wall),
        kind=np.concatenate(kinds).astype(np.int64),
        level=np.concatenate([levels, walls.level[first], walls.level]),
        network=np.concatenate([targets.network, walls.network[first], walls.network]),
        ends=np.concatenate([spots, np.repeat(corner_m[:, None], 2, axis=1), walls.drawn_m]),
    )


def _corners(walls: WallFaces) -> tuple[Ints, Ints, Floats]:
    """Pairs of walls of one storey and group of which one ends at the other, and where."""
    none = np.empty(0, dtype=np.int64)
    if len(walls) < 2:
        return none, none, np.empty((0, 2))
    tips = walls.drawn_m.reshape(-1, 2)
    lines = shapely.linestrings(walls.drawn_m)
    reach = np.concatenate([tips - MEET_M, tips + MEET_M], axis=1)
    tip, other = shapely.STRtree(lines).query(shapely.box(*reach.T))
    own = tip // 2
    slant = np.abs(np.einsum("ij,ij->i", walls.normal[own], walls.direction[other]))
    fits = (
        (own != other)
        & (walls.level[own] == walls.level[other])
        & (walls.network[own] == walls.network[other])
        & (slant > STEEPEST)
        & (shapely.distance(shapely.points(tips[tip]), lines[other]) <= MEET_M)
    )
    pairs = np.sort(np.column_stack([own, other])[fits], axis=1)
    pairs, place = np.unique(pairs, axis=0, return_index=True)
    return pairs[:, 0], pairs[:, 1], tips[tip[fits][place]]


def _from_segments(point: Floats, ends: Floats) -> Floats:
    """Distances ``(n,)`` of a point from segments ``(n, 2, 2)``."""
    along = ends[:, 1] - ends[:, 0]
    square = np.einsum("ij,ij->i", along, along)
    to = point - ends[:, 0]
    share = np.einsum("ij,ij->i", to, along) / np.where(square > 0.0, square, 1.0)
    foot = ends[:, 0] + np.clip(share, 0.0, 1.0)[:, None] * along
    return np.hypot(*(point - foot).T)
