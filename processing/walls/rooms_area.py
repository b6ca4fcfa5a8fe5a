# SPDX-License-Identifier: GPL-2.0-or-later
"""What the area and the perimeter of a room are worth where its walls were seen.

A room is bounded by wall lines. Moving line i by δ towards the room takes ``L_i δ`` from its area,
turning it about its centre by ε takes ``M_i ε``, where L is the length of boundary on the line and
M that length times its distance along the line from the line's centre: first-order propagation of
variance (Ghilani, Adjustment Computations, ch. 6). At either end of
its stretch of boundary, where that turns to the left by t, a line takes ``tan(t / 2)`` times its
move there from the perimeter: the corner slides along the other line, by the move over sin t, of
which 1 - cos t is lost. A line's error has a part of its own and a part that it shares with every
other line seen from the same stations. The second is propagated through the covariance of the
stations (`rooms_errors`), so that an error which moves a room as a whole does not count: the L of a
closed outline add up to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of
from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import Pieces
from .model import WallFaces
from .rooms_errors import FaceErrors

TURNS_BACK = -0.98
"""Cosine of the turn beyond which a corner is so sharp that its place says nothing."""


@dataclass(frozen=True, eq=False)
class Boundary:
    """The edges that bound a room, each run through with the room on its left: the node that each
    begins and the one that it ends at ``(n, 2)``, their places ``(n, 2, 2)``, the unit direction
    ``(n, 2)``, and the piece each lies on (-1: none)."""

    node: Ints
    ends_m: Floats
    way: Floats
    piece: Ints

    @classmethod
    def of(cls, arrangement: Arrangement, pieces: Pieces, rooms: Ints, room: int) -> Boundary:
        """That of the room with this number, given the rooms ``(C,)`` of the cells."""
        left = np.where(arrangement.left >= 0, rooms[arrangement.left], -1) == room
        right = np.where(arrangement.right >= 0, rooms[arrangement.right], -1) == room
        edges = np.flatnonzero(left != right)
        best = np.full(len(arrangement.edge), -1, dtype=np.int64)
        own = np.flatnonzero((left != right)[arrangement.piece[:, 0]])
        edge, piece = arrangement.piece[own].T
        # the free side of a piece lies to its right: the room should
        faces_room = np.where(arrangement.forward[own], right[edge], left[edge])
        rank = pieces.kind[piece] + 3 * ~faces_room
        last_wins = np.lexsort((piece, rank))[::-1]
        best[edge[last_wins]] = piece[last_wins]
        ahead = arrangement.edge[edges]
        node = np.where(left[edges, None], ahead, ahead[:, ::-1])
        ends = arrangement.node_m[node]
        way = ends[:, 1] - ends[:, 0]
        return cls(node, ends, way / np.hypot(way[:, 0], way[:, 1])[:, None], best[edges])

    def only(self, chosen: Ints) -> Boundary:
        return Boundary(
            self.node[chosen], self.ends_m[chosen], self.way[chosen], self.piece[chosen]
        )

    @property
    def length_m(self) -> Floats:
        return np.hypot(*(self.ends_m[:, 1] - self.ends_m[:, 0]).T)


def sigma_area(side: Boundary, pieces: Pieces, walls: WallFaces, errors: FaceErrors) -> float:
    """The standard error of a room's area in m², of the walls' lines alone."""
    takes = _takes(pieces, walls, side, side.ends_m.mean(axis=1), side.length_m)
    return float(np.sqrt(errors.variance(takes)))


def sigma_perimeter(side: Boundary, pieces: Pieces, walls: WallFaces, errors: FaceErrors) -> float:
    """The standard error of a room's perimeter in metres, of the walls' lines alone."""
    before, after = _corners(side)
    cross = side.way[before, 0] * side.way[after, 1] - side.way[before, 1] * side.way[after, 0]
    along = np.sum(side.way[before] * side.way[after], axis=1)
    # tan(t / 2) = sin t / (1 + cos t); a boundary that turns back has no corner that it could move
    half = np.where(along > TURNS_BACK, cross / np.maximum(1.0 + along, 1e-9), 0.0)
    takes = _takes(pieces, walls, side.only(before), side.ends_m[before, 1], half)
    takes += _takes(pieces, walls, side.only(after), side.ends_m[after, 0], half)
    return float(np.sqrt(errors.variance(takes)))


def _takes(
    pieces: Pieces, walls: WallFaces, side: Boundary, at_m: Floats, factor: Floats
) -> Floats:
    """The sum over edges of a factor ``(n,)`` times the move of the edge's line towards the room at
    a point ``(n, 2)``, as weights ``(2W,)`` of the parameters of the walls."""
    known = side.piece >= 0
    piece, way, at_m, factor = side.piece[known], side.way[known], at_m[known], factor[known]
    into_room = np.column_stack([-way[:, 1], way[:, 0]])
    takes = np.zeros(2 * len(walls))
    for column in (0, 1):
        wall = pieces.wall[piece, column]
        # a step between two walls runs along neither: it moves with none
        sign = np.rint(np.einsum("ij,ij->i", into_room, walls.normal[wall]))
        lever = np.einsum("ij,ij->i", at_m - walls.centre_m[wall], walls.direction[wall])
        np.add.at(takes, 2 * wall, 0.5 * sign * factor)
        np.add.at(takes, 2 * wall + 1, 0.5 * sign * factor * lever)
    return takes


def _corners(side: Boundary) -> tuple[Ints, Ints]:
    """Which edge ``(n,)`` follows which at each node of a boundary. Where the boundary touches
    itself, that is the first clockwise from the one that leads there: the room lies between."""
    order = np.argsort(side.node[:, 0], kind="stable")
    begins, ends = side.node[order, 0], side.node[:, 1]
    low, high = (np.searchsorted(begins, ends, side=which) for which in ("left", "right"))
    before = np.repeat(np.arange(len(ends)), high - low)
    place = np.arange(len(before)) - np.repeat(np.cumsum(high - low) - (high - low), high - low)
    after = order[np.repeat(low, high - low) + place]
    turned = (azimuth_of(side.way[after]) - azimuth_of(-side.way[before])) % (2 * np.pi)
    first = np.lexsort((turned, before))
    _, kept = np.unique(before[first], return_index=True)
    return before[first][kept], after[first][kept]
