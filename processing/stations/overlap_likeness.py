# SPDX-License-Identifier: GPL-2.0-or-later
"""How likely two captures see something in common, told for all pairs at once and cheaply.

Walls of most buildings keep to two directions. So of each capture only the distances of its walls
across these are taken, with the side that they face; two captures are laid over each other at each
quarter turn, along one direction and then along the other, by a histogram of the shifts that their
walls ask for. Ends of walls and what was looked through are left to `matching`: this says where it
is worth while to look, no more.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.model import Ints
from ..progress import SILENT, Progress

AXIS_RAD = np.radians(4.0)
"""Walls that differ more from a capture's own axes say nothing."""

SHORTEST_M, LONGEST_M = 0.25, 3.0
"""Shorter walls say nothing either, longer ones no more than this."""

CELL_M, FARTHEST_M = 0.03, 15.0
CELLS = round(2 * FARTHEST_M / CELL_M)


def likeness(faces: Sequence[Faces], progress: Progress = SILENT) -> Floats:
    """The metres of wall that two captures share at most, ``(n, n)``, as a share of what each of
    them shares with captures in general (geometric mean); 0 with itself."""
    count = len(faces)
    sides = [_Side.of(faces, k) for k in range(4)]
    shared = np.zeros((count, count))
    for i in progress.over(range(count)):
        for quarter in range(4):
            both = [_shared(sides, i, axis, quarter) for axis in (0, 1)]
            shared[i, i + 1 :] = np.maximum(shared[i, i + 1 :], both[0] + both[1])
    shared += shared.T
    usual = shared.sum(axis=1) / max(count - 1, 1)
    return shared / np.sqrt(np.maximum(np.outer(usual, usual), 1e-6))


class _Side:
    """Walls that face one of the four sides of their captures' axes, capture by capture: the
    distance from the instrument, the length that counts and the capture of each; those of capture
    i begin at ``begin[i]``."""

    def __init__(self, distance_m: Floats, length_m: Floats, owner: Ints, count: int) -> None:
        self.distance_m, self.length_m, self.owner = distance_m, length_m, owner
        self.begin = np.searchsorted(owner, np.arange(count + 1))

    @classmethod
    def of(cls, faces: Sequence[Faces], side: int) -> _Side:
        distance, length, owner = [], [], []
        for number, own in enumerate(faces):
            weight = np.minimum(own.length_m, LONGEST_M)
            axis = np.angle(np.sum(weight * np.exp(4j * own.normal_rad))) / 4
            off = (own.normal_rad - axis) / (np.pi / 2)
            near = np.abs(off - np.round(off)) * (np.pi / 2) < AXIS_RAD
            chosen = near & (np.round(off) % 4 == side) & (own.length_m > SHORTEST_M)
            distance.append(-np.einsum("ij,ij->i", own.normal, own.centre_m)[chosen])
            length.append(weight[chosen])
            owner.append(np.full(int(chosen.sum()), number, dtype=np.int64))
        return cls(
            np.concatenate([np.empty(0), *distance]),
            np.concatenate([np.empty(0), *length]),
            np.concatenate([np.empty(0, dtype=np.int64), *owner]),
            len(faces),
        )


def _shared(sides: Sequence[_Side], i: int, axis: int, quarter: int) -> Floats:
    """Metres of wall ``(n - i - 1,)`` that capture i and each later one, turned by quarters, share
    at the best shift across the walls of an axis."""
    later = len(sides[0].begin) - i - 2
    total = np.zeros(later * CELLS)
    for side, sign in ((axis, 1.0), (axis + 2, -1.0)):
        own, other = sides[side], sides[(side - quarter) % 4]
        mine, theirs = slice(own.begin[i], own.begin[i + 1]), slice(other.begin[i + 1], None)
        shift = sign * (other.distance_m[theirs] - own.distance_m[mine, None])
        weight = np.minimum(other.length_m[theirs], own.length_m[mine, None])
        cell = np.floor((shift + FARTHEST_M) / CELL_M).astype(np.int64)
        inside = (cell >= 0) & (cell < CELLS)
        place = ((other.owner[theirs] - i - 1) * CELLS + cell)[inside]
        total += np.bincount(place, weight[inside], later * CELLS)
    table = total.reshape(later, CELLS)
    # A shift may lie near the edge of a cell.
    return np.asarray((table[:, 1:] + table[:, :-1]).max(axis=1))
