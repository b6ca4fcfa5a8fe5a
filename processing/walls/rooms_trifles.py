# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms without the pins and notches that the crossings of wall lines leave on their outlines.

Where a cupboard or a jamb ends at a wall, the lines of their faces cut cells of a few centimetres
off the room or the wall. Nobody measured such a thing: readings there are centimetres apart, and
those at the end of a face are of the next one as often as not. So a small cell goes to what
encloses it, from the smallest on, until none does: the boundary gets shorter each time, as in
Potts' model of labelled regions (Geman and Geman 1984, IEEE Trans. PAMI 6, 721-741).
"""

from __future__ import annotations

import numpy as np

from ..captures.model import Ints
from .arrangement import Arrangement

TRIFLE_M2 = 0.0025
"""A square of 5 cm: 1 mm on paper at 1:50."""
ENCLOSED = 0.62
"""A cell goes to what lies along this share of its outline: more than two sides of a triangle that
meet at a right angle (0.59 at most), so that no corner is cut off."""


def without_trifles(arrangement: Arrangement, rooms: Ints) -> Ints:
    """The room of each cell ``(C,)`` (-1: none), with small cells given to what encloses them.

    None leaves a room, or a room for another, that it holds together.
    """
    rooms = rooms.copy()
    cells, edges = _edges_of(arrangement)
    small = np.flatnonzero(~arrangement.frame & (arrangement.area_m2 < TRIFLE_M2))
    small = small[np.argsort(arrangement.area_m2[small], kind="stable")]
    waiting = dict.fromkeys(small[_touched(arrangement, rooms)[small]].tolist())
    eligible = set(small.tolist())
    while waiting:
        cell = next(iter(waiting))
        del waiting[cell]
        own = edges[cells[cell] : cells[cell + 1]]
        beyond = arrangement.left[own] + arrangement.right[own] - cell
        room = np.where(beyond >= 0, rooms[beyond], -1)
        length = np.bincount(room + 1, arrangement.edge_length_m[own], int(rooms[cell]) + 2)
        best = int(np.argmax(length)) - 1
        if best == rooms[cell] or length[best + 1] < ENCLOSED * length.sum():
            continue
        if rooms[cell] >= 0 and len(np.unique(beyond[room == rooms[cell]])) > 1:
            continue
        rooms[cell] = best
        waiting.update(dict.fromkeys(other for other in beyond.tolist() if other in eligible))
    return rooms


def _touched(arrangement: Arrangement, rooms: Ints) -> np.ndarray:
    """Which cells ``(C,)`` a boundary of a room runs along."""
    left, right = arrangement.left, arrangement.right
    of_left, of_right = (np.where(of >= 0, rooms[of], -1) for of in (left, right))
    touched = np.zeros(len(arrangement.cell) + 1, dtype=bool)
    for side in (left, right):
        touched[side[of_left != of_right]] = True
    return touched[:-1]


def _edges_of(arrangement: Arrangement) -> tuple[Ints, Ints]:
    """Where each cell's edges begin ``(C + 1,)`` in the list of all of them."""
    count = len(arrangement.cell)
    edge = np.tile(np.arange(len(arrangement.edge)), 2)
    cell = np.concatenate([arrangement.left, arrangement.right])
    loose = np.concatenate([arrangement.left == arrangement.right] * 2)
    edge, cell = edge[~loose & (cell >= 0)], cell[~loose & (cell >= 0)]
    order = np.argsort(cell, kind="stable")
    return np.searchsorted(cell[order], np.arange(count + 1)), edge[order]
