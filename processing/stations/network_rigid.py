# SPDX-License-Identifier: GPL-2.0-or-later
"""Which stations of a group the observations really fix to each other."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from .network_motions import LEVER_M, StationNormals
from .observations import Bools, Observations, Unknowns

LOOSE_M = 0.25
"""A relative position known no better than this is not fixed."""

LOOSE_ALONE_M = 0.03
"""A station that all others together fix no better than this would slide along a wall when its
surfaces are found again."""

_MOVES = 0.02


class Loose(Exception):
    """A group falls apart: `parts` are lists of its stations (places in the group) that the
    observations fix to each other."""

    def __init__(self, parts: list[list[int]]) -> None:
        super().__init__("the group is not rigid")
        self.parts = parts


def rigid_parts(
    unknowns: Unknowns,
    observations: Observations,
    used: Bools,
    alone_m: float | Floats = LOOSE_ALONE_M,
) -> list[list[int]]:
    """Sets of stations that no motion, unseen by the observations, moves against each other.

    The normal equations between stations (`network_motions`) are searched for motions with a
    standard error above `LOOSE_M`, the three motions of the whole among them. Common walls of one
    direction, for instance, leave the shift along them open. A station whose position all others
    fix no better than `alone_m` (one for all, or ``(S,)``) is a part of its own.
    """
    count = len(unknowns.station)
    normals = StationNormals.of(unknowns, observations, used)
    if count > 2 and (loose := _loose_alone(normals.of_each(), alone_m)):
        return [[k for k in range(count) if k not in loose], *([k] for k in loose)]
    parts: list[list[int]] = []
    piece = normals.pieces()
    for number in range(piece.max(initial=-1) + 1):
        of = np.flatnonzero(piece == number)
        motions = normals.among(of).open_motions(LOOSE_M)
        parts += _moving_together(of, unknowns.station_xy_m[of], motions)
    return sorted(parts)


def _moving_together(stations: Ints, xy_m: Floats, motions: Floats) -> list[list[int]]:
    """The stations in sets that move as one in every open motion ``(3S, k)``."""
    left = np.arange(len(stations))
    parts = []
    while len(left):
        moves = _against(xy_m, motions, left[0])
        together = moves[left] < _MOVES
        together[0] = True
        parts.append(stations[left[together]].tolist())
        left = left[~together]
    return parts


def _loose_alone(blocks: Floats, alone_m: float | Floats) -> list[int]:
    """Stations whose positions, all others held, are known no better than `alone_m`."""
    # Without the orientation: what is left for the position.
    turn = np.maximum(blocks[:, 2, 2], 1e-12)
    left = blocks[:, :2, :2] - blocks[:, :2, 2:] * blocks[:, 2:, :2] / turn[:, None, None]
    limit = np.broadcast_to(alone_m, len(blocks)) ** -2.0
    return [int(k) for k in np.flatnonzero(np.linalg.eigvalsh(left)[:, 0] < limit)]


def _against(xy_m: Floats, motions: Floats, anchor: int) -> Floats:
    """How much each station ``(S,)`` moves against the anchor's frame in any of the motions
    ``(3S, k)`` of unit length."""
    poses = motions.reshape(len(xy_m), 3, -1)
    turn = poses[:, 2] - poses[anchor, 2]
    away = xy_m - xy_m[anchor]
    # A clockwise turn of the anchor moves a point at (x, y) from it by (y, -x).
    shift_x = poses[:, 0] - poses[anchor, 0] - away[:, 1:2] * poses[anchor, 2]
    shift_y = poses[:, 1] - poses[anchor, 1] + away[:, 0:1] * poses[anchor, 2]
    return np.sqrt((shift_x**2 + shift_y**2 + (LEVER_M * turn) ** 2).sum(axis=1))
