# SPDX-License-Identifier: GPL-2.0-or-later
"""What the area of a room is worth.

A room is bounded by wall lines. Moving line i by δ towards the room takes ``L_i δ`` from its area,
turning it about its centre by ε takes ``M_i ε``, where L is the length of boundary on the line and
M that length times its distance along the line from the line's centre: first-order propagation of
variance (Ghilani, Adjustment Computations, ch. 6). A line's error has a part of its own and a part
that it shares with every other line seen from the same stations. The second is propagated through
the covariance of the stations, so that an error which moves a room as a whole does not count: the
L of a closed outline add up to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints, Survey
from ..stations.model import Network
from .arrangement import Arrangement
from .arrangement_pieces import Pieces
from .model import WallFaces


@dataclass(frozen=True, eq=False)
class FaceErrors:
    """Errors of ``W`` wall faces, split: `own_offset_m2`, `own_direction_rad2 (W,)` variances of
    the face's own readings; `share (W, S)` of its readings by station."""

    own_offset_m2: Floats
    own_direction_rad2: Floats
    share: Floats


def face_errors(survey: Survey, network: Network, walls: WallFaces) -> FaceErrors:
    """Split the faces' variances into their own part and their stations' part."""
    count, stations = len(walls), len(survey)
    share = np.zeros((count, stations))
    for index, owner in enumerate(walls.wall_of_reading):
        used = owner[owner >= 0]
        share[:, index] = np.bincount(used, minlength=count)[:count]
    for w, names in enumerate(walls.stations):
        if not share[w].any():
            for name in names:
                share[w, survey.index(name)] = 1.0
    share /= np.maximum(share.sum(axis=1, keepdims=True), 1.0)
    readings = np.maximum(walls.readings, 2)
    length = np.maximum(walls.span_m[:, 1] - walls.span_m[:, 0], 0.05)
    rms = np.nan_to_num(walls.rms_m)
    floor = rms**2 / readings
    floor_direction = 12.0 * floor / length**2
    offset = np.where(np.isfinite(walls.sigma_offset_m), walls.sigma_offset_m, 0.0) ** 2
    direction = np.where(np.isfinite(walls.sigma_normal_rad), walls.sigma_normal_rad, 0.0) ** 2
    covariance = np.nan_to_num(network.covariance)
    own_offset, own_direction = floor.copy(), floor_direction.copy()
    for w in range(count):
        towards = np.zeros(3 * stations)
        turning = np.zeros(3 * stations)
        for s in np.flatnonzero(share[w]):
            towards[3 * s : 3 * s + 3] = share[w, s] * _across(walls, w, network.xy_m[s])
            turning[3 * s + 2] = share[w, s]
        own_offset[w] = max(offset[w] - towards @ covariance @ towards, min(floor[w], offset[w]))
        own_direction[w] = max(
            direction[w] - turning @ covariance @ turning, min(floor_direction[w], direction[w])
        )
        if offset[w] == 0.0:
            own_offset[w], own_direction[w] = floor[w], floor_direction[w]
    return FaceErrors(own_offset, own_direction, share)


def _across(walls: WallFaces, w: int, station_m: Floats) -> Floats:
    """How far face w's centre moves along its normal as a station moves in x, y and turns."""
    normal = walls.normal[w]
    ray = walls.centre_m[w] - station_m
    return np.array([normal[0], normal[1], normal[0] * ray[1] - normal[1] * ray[0]])


def boundary_lines(
    arrangement: Arrangement, pieces: Pieces, rooms: Ints, room: int
) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """The edges that bound a room, the piece each lies on (-1: none), and whether the room lies
    to the edge's left."""
    left = np.where(arrangement.left >= 0, rooms[arrangement.left], -1) == room
    right = np.where(arrangement.right >= 0, rooms[arrangement.right], -1) == room
    edges = np.flatnonzero(left != right)
    best = np.full(len(arrangement.edge), -1, dtype=np.int64)
    rank = np.full(len(arrangement.edge), 99, dtype=np.int64)
    edge, piece = arrangement.piece.T
    # the free side of a piece lies to its right: the room should
    faces_room = np.where(arrangement.forward, right[edge], left[edge])
    order = pieces.kind[piece] + 3 * ~faces_room
    for k in np.lexsort((piece, order))[::-1]:
        if order[k] <= rank[edge[k]]:
            rank[edge[k]], best[edge[k]] = order[k], piece[k]
    return edges, best[edges], left[edges]


def sigma_area(
    arrangement: Arrangement,
    pieces: Pieces,
    walls: WallFaces,
    network: Network,
    errors: FaceErrors,
    boundary: tuple[Ints, Ints, NDArray[np.bool_]],
) -> float:
    """The standard error of a room's area in m²."""
    edges, piece, on_left = boundary
    known = piece >= 0
    edges, piece, on_left = edges[known], piece[known], on_left[known]
    ends = arrangement.node_m[arrangement.edge[edges]]
    way = ends[:, 1] - ends[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    to_left = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, None]
    into_room = np.where(on_left[:, None], to_left, -to_left)
    takes = np.zeros(len(walls))
    takes_turning = np.zeros(len(walls))
    for column in (0, 1):
        wall = pieces.wall[piece, column]
        sign = np.sign(np.einsum("ij,ij->i", into_room, walls.normal[wall]))
        lever = np.einsum(
            "ij,ij->i", ends.mean(axis=1) - walls.centre_m[wall], walls.direction[wall]
        )
        np.add.at(takes, wall, 0.5 * sign * length)
        np.add.at(takes_turning, wall, 0.5 * sign * length * lever)
    gradient = np.zeros(3 * len(network))
    for w in np.flatnonzero((takes != 0) | (takes_turning != 0)):
        for s in np.flatnonzero(errors.share[w]):
            part = takes[w] * _across(walls, w, network.xy_m[s])
            part[2] += takes_turning[w]
            gradient[3 * s : 3 * s + 3] += errors.share[w, s] * part
    shared = gradient @ np.nan_to_num(network.covariance) @ gradient
    own = takes**2 @ errors.own_offset_m2 + takes_turning**2 @ errors.own_direction_rad2
    return float(np.sqrt(max(shared, 0.0) + own))
