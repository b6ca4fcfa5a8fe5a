# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether a building has rooms of one series, told from its captures.

Where one does, two captures of different rooms have walls on all four sides in common to some
centimetres, and only millimetres, or what stands in the rooms, tell that these are not one. Then
that captures fit nowhere else says little for a pose: another room of the series, perhaps one
without a capture, may be the true place. Where the rooms are bare, another one would show as well
what captures look at, and as many walls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import IntEnum

import numpy as np

from ..angles import Floats, wrap_half
from .connect_sight import sight_nats
from .connect_weigh import Walls, face_pairs, refined, wall_nats, walls_of
from .matching import Hypotheses
from .overlap import View

SERIES_M, SERIES_RAD = 0.025, np.radians(0.7)
"""So near lie the walls of rooms of one series (common practice, from memory)."""

LEAST_WALL_M, LEAST_SHARE = 0.8, 0.6
"""A side of a room is a wall so long, of which the two captures have such a share in common."""

LEAST_SHARED = 0.25
"""Captures of rooms of one series agree in such a share of their readings; others are not asked."""

SQUARE_RAD = np.radians(10.0)

ONE_PLACE_NATS, NO_PLACE_NATS = 4.0, 3.0
"""Two captures with so much evidence for a pose are of one place, and so no pair of rooms, which
may lie on itself turned by half a circle; with less than the latter a pose is none in which they
stand. Of the simulated buildings tuned on all 18 with rooms of one series had such pairs, and one
of 12 without."""

LEAST_SIGHT_NATS = -38.0
"""Rooms are bare where two captures say no more than this against a pose: of the buildings tuned on
9 of 12 with much furniture said more in all such pairs, and of 29 with little or none one did."""

_HERE = np.zeros((1, 3))


class Series(IntEnum):
    """Whether rooms are of one series."""

    NONE = 0
    FURNISHED = 1
    """They are, and what stands in them tells them apart."""
    BARE = 2
    """Only their walls do."""


def series_of(
    views: Sequence[View], found: Mapping[tuple[int, int], Hypotheses], scatter: float
) -> Series:
    """Whether two captures of different places have the walls of a room in common, by the poses
    `found`; `scatter` is a factor on the errors of faces."""
    told = Series.NONE
    walls: dict[int, Walls] = {}
    for (i, j), h in sorted(found.items()):
        pose = h.pose[(h.shared > LEAST_SHARED) & np.isfinite(h.sigma_m)]
        if not len(pose):
            continue
        for s in (i, j):
            if s not in walls:
                walls[s] = walls_of([views[s].faces], _HERE)
        first, second = walls[i], walls[j]
        pose, _ = refined(first, second, pose)
        closed = _closed(first, second, pose)
        if not closed.any():
            continue
        sight = sight_nats(views[i], views[j], pose)
        nats = wall_nats(first, second, pose, scatter)[0] + sight
        other = closed & (nats < NO_PLACE_NATS)
        if nats.max() > ONE_PLACE_NATS or not other.any():
            continue
        if sight[other].max() > LEAST_SIGHT_NATS:
            return Series.BARE
        told = Series.FURNISHED
    return told


def _closed(first: Walls, second: Walls, pose: Floats) -> np.ndarray:
    """At which poses ``(H, 3)`` of the second walls in the frame of the first the two have walls on
    all four sides in common."""
    a, b = first.faces, second.faces
    if not len(a) or not len(b):
        return np.zeros(len(pose), dtype=bool)
    pairs = face_pairs(a, b, pose)
    shorter = np.minimum(a.length_m[pairs.first], b.length_m[pairs.second])
    side = (
        (np.abs(pairs.across_m) < SERIES_M)
        & (np.abs(pairs.turn_rad) < SERIES_RAD)
        & (shorter > LEAST_WALL_M)
        & (pairs.common_m(a, b) > LEAST_SHARE * shorter)
    )
    normal = a.normal_rad[pairs.first]
    return np.array([_four_sides(normal[side & (pairs.pose == k)]) for k in range(len(pose))])


def _four_sides(normal_rad: Floats) -> bool:
    """Whether normals look into four directions at right angles."""
    if len(normal_rad) < 4:
        return False
    turn = wrap_half(normal_rad - normal_rad[0]) / (np.pi / 2)
    quarter = np.round(turn)
    near = np.abs(turn - quarter) * (np.pi / 2) < SQUARE_RAD
    return len(np.unique(quarter[near] % 4)) == 4
