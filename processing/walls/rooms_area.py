# SPDX-License-Identifier: GPL-2.0-or-later
"""What the area of a room is worth where its walls were seen.

A room is bounded by wall lines. Moving line i by δ towards the room takes ``L_i δ`` from its area,
turning it about its centre by ε takes ``M_i ε``, where L is the length of boundary on the line and
M that length times its distance along the line from the line's centre: first-order propagation of
variance (Ghilani, Adjustment Computations, ch. 6). A line's error has a part of its own and a part
that it shares with every other line seen from the same stations. The second is propagated through
the covariance of the stations (`rooms_errors`), so that an error which moves a room as a whole does
not count: the L of a closed outline add up to nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import Pieces
from .model import WallFaces
from .rooms_errors import FaceErrors


def boundary_lines(
    arrangement: Arrangement, pieces: Pieces, rooms: Ints, room: int
) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """The edges that bound a room, the piece each lies on (-1: none), and whether the room lies
    to the edge's left."""
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
    return edges, best[edges], left[edges]


def sigma_area(
    arrangement: Arrangement,
    pieces: Pieces,
    walls: WallFaces,
    errors: FaceErrors,
    boundary: tuple[Ints, Ints, NDArray[np.bool_]],
) -> float:
    """The standard error of a room's area in m², of the walls' lines alone."""
    edges, piece, on_left = boundary
    known = piece >= 0
    edges, piece, on_left = edges[known], piece[known], on_left[known]
    ends = arrangement.node_m[arrangement.edge[edges]]
    way = ends[:, 1] - ends[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    to_left = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, None]
    into_room = np.where(on_left[:, None], to_left, -to_left)
    takes = np.zeros(2 * len(walls))
    for column in (0, 1):
        wall = pieces.wall[piece, column]
        # a step between two walls runs along neither: it moves with none
        sign = np.rint(np.einsum("ij,ij->i", into_room, walls.normal[wall]))
        lever = np.einsum(
            "ij,ij->i", ends.mean(axis=1) - walls.centre_m[wall], walls.direction[wall]
        )
        np.add.at(takes, 2 * wall, 0.5 * sign * length)
        np.add.at(takes, 2 * wall + 1, 0.5 * sign * length * lever)
    return float(np.sqrt(errors.variance(takes)))
