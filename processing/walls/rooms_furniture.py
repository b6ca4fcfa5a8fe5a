# SPDX-License-Identifier: GPL-2.0-or-later
"""Corrections to rooms: walls hidden by furniture come out, what furniture hides comes in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..captures.model import Bools, Ints
from .arrangement import Arrangement
from .rooms_edges import EdgeKinds, components

DEEPEST_POCKET_M = 1.0
"""What hides a wall that goes on at both sides is furniture up to this depth."""
NARROWEST_POCKET_M = 0.35
"""What is narrower along the wall is a pilaster or the end of a wall."""
LARGEST_ISLAND_M2 = 1.5
"""What stands free in a room is filled up to this area: furniture, or a column (its area stays in
the room's, as net areas count it)."""
THICKEST_LEAF_M = 0.06
"""What is thinner and sticks out into a room is a door leaf or a screen: partitions are thicker
(common practice)."""
ENCLOSED = 0.8
"""A leaf has the room on this share of its outline at least: on both sides and at its end."""
UNSEEN_SHARE = 0.2
"""Of a cell less seen than this, nothing is known."""


def without_walls(arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints, free: Floats) -> Ints:
    """Take from rooms what nobody saw behind the wall faces of other rooms: the wall itself."""
    result = rooms.copy()
    walled = WallsBefore.of(arrangement, kinds, rooms).of_others(np.arange(len(rooms)), rooms)
    result[walled & (rooms >= 0) & (free < UNSEEN_SHARE)] = -1
    return result


@dataclass(frozen=True, eq=False)
class WallsBefore:
    """The lowest and the highest number ``(C,)`` of the rooms into which the walls right before
    each cell look that were seen there or on both sides; the highest is -1 where there is none."""

    lowest: Ints
    highest: Ints

    @classmethod
    def of(cls, arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints) -> WallsBefore:
        lowest = np.full(len(rooms), np.iinfo(np.int64).max)
        highest = np.full(len(rooms), -1, dtype=np.int64)
        left, right = arrangement.left, arrangement.right
        for side, front, back in ((0, left, right), (1, right, left)):
            edges = np.flatnonzero((left >= 0) & (right >= 0))
            edges = edges[kinds.backed[edges, side] | kinds.closure[edges, side]]
            edges = edges[rooms[front[edges]] >= 0]
            np.minimum.at(lowest, back[edges], rooms[front[edges]])
            np.maximum.at(highest, back[edges], rooms[front[edges]])
        return cls(lowest, highest)

    def of_others(self, cells: Ints, rooms: Ints | int) -> Bools:
        """Whether one of the walls before each of the cells looks into another room than the one
        (or the one of each cell) of these numbers."""
        known = self.highest[cells] >= 0
        return known & ((self.lowest[cells] != rooms) | (self.highest[cells] != rooms))


def fill_pockets(arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints) -> Ints:
    """Give a room what is hidden between it and a wall that goes on at both sides."""
    solid = kinds.backed.any(axis=1) | kinds.closure.any(axis=1)
    pocket = components(arrangement, (rooms < 0) & ~arrangement.frame, ~solid)
    count = int(pocket.max(initial=-1)) + 1
    if not count:
        return rooms
    area = np.bincount(pocket[pocket >= 0], arrangement.area_m2[pocket >= 0], count)
    length = arrangement.edge_length_m
    owner = np.full(count, -1, dtype=np.int64)
    spoilt = np.zeros(count, dtype=bool)
    behind = np.zeros(count)
    for mine, other, side in (
        (arrangement.left, arrangement.right, 0),
        (arrangement.right, arrangement.left, 1),
    ):
        edges = np.flatnonzero((mine >= 0) & (pocket[mine] >= 0))
        outer = edges[(other[edges] < 0) | (pocket[other[edges]] != pocket[mine[edges]])]
        for e in outer:
            k = pocket[mine[e]]
            room = rooms[other[e]] if other[e] >= 0 else -1
            if kinds.closure[e, side] or kinds.backed[e, side]:
                # the wall's own line, looking into the pocket
                behind[k] += length[e] * kinds.closure[e, side]
            elif room >= 0 and (owner[k] < 0 or owner[k] == room):
                owner[k] = room
            else:
                spoilt[k] = True
    filled = (owner >= 0) & ~spoilt & (behind >= NARROWEST_POCKET_M)
    filled &= area <= DEEPEST_POCKET_M * behind
    result = rooms.copy()
    inside = (pocket >= 0) & filled[pocket]
    result[inside] = owner[pocket[inside]]
    return result


def fill_leaves(arrangement: Arrangement, kinds: EdgeKinds, rooms: Ints) -> Ints:
    """Give a room the open leaves of its doors, which are a few centimetres thick and end where the
    line of the wall goes on that they hang on."""
    length = arrangement.edge_length_m
    left, right = arrangement.left, arrangement.right
    count = len(arrangement.cell)
    outline = np.bincount(left[left >= 0], length[left >= 0], count)
    outline += np.bincount(right[right >= 0], length[right >= 0], count)
    thin = 2.0 * arrangement.area_m2 <= THICKEST_LEAF_M * outline
    solid = kinds.backed.any(axis=1) | kinds.closure.any(axis=1) | kinds.bounds
    leaf = components(arrangement, thin & (rooms < 0) & ~arrangement.frame, ~solid)
    leaves = int(leaf.max(initial=-1)) + 1
    result = rooms.copy()
    if not leaves or not (rooms >= 0).any():
        return result
    total = np.zeros(leaves)
    beside = np.zeros((leaves, int(rooms.max(initial=-1)) + 2))
    for mine, other in ((left, right), (right, left)):
        edges = np.flatnonzero((mine >= 0) & (leaf[mine] >= 0))
        outer = edges[(other[edges] < 0) | (leaf[other[edges]] != leaf[mine[edges]])]
        of = leaf[mine[outer]]
        np.add.at(total, of, length[outer])
        beyond = np.where(other[outer] >= 0, rooms[other[outer]], -1)
        np.add.at(beside, (of, beyond), length[outer])
    owner = np.argmax(beside[:, :-1], axis=1)
    filled = beside[np.arange(leaves), owner] >= ENCLOSED * total
    inside = (leaf >= 0) & filled[leaf]
    result[inside] = owner[leaf[inside]]
    return result


def fill_islands(arrangement: Arrangement, rooms: Ints) -> Ints:
    """Give a room the small things that stand free in it."""
    every = np.ones(len(arrangement.edge), dtype=bool)
    island = components(arrangement, rooms < 0, every)
    count = int(island.max(initial=-1)) + 1
    result = rooms.copy()
    if not count:
        return result
    area = np.bincount(island[island >= 0], arrangement.area_m2[island >= 0], count)
    spoilt = np.zeros(count, dtype=bool)
    spoilt[island[(island >= 0) & arrangement.frame]] = True
    owner = np.full(count, -1, dtype=np.int64)
    for mine, other in (
        (arrangement.left, arrangement.right),
        (arrangement.right, arrangement.left),
    ):
        edges = np.flatnonzero((mine >= 0) & (other >= 0))
        edges = edges[(island[mine[edges]] >= 0) & (island[other[edges]] < 0)]
        for k, room in zip(island[mine[edges]], rooms[other[edges]]):
            if owner[k] >= 0 and owner[k] != room:
                spoilt[k] = True
            owner[k] = room
    filled = (owner >= 0) & ~spoilt & (area <= LARGEST_ISLAND_M2)
    inside = (island >= 0) & filled[island]
    result[inside] = owner[island[inside]]
    return result
