# SPDX-License-Identifier: GPL-2.0-or-later
"""How likely captures show one place, by how finely their faces agree.

Rooms that were built alike differ by some millimetres and milliradians, walls seen twice by the
readings' noise and the unevenness of plaster. So each wall that two groups of captures see gives a
logarithm of a likelihood ratio (nats): the density of its residuals if it is one wall, over that if
the places are only alike. A wall counts once, however many captures see it and in however many
pieces. What captures looked at and through is weighed in `connect_sight`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Ints
from .connect_frames import apart
from .overlap_refine import (
    UNEVEN_NORMAL_RAD,
    UNEVEN_OFFSET_M,
    joined_faces,
    pair_faces,
    refine_faces,
)

ALIKE = (
    (0.35, 0.012, np.radians(0.4)),
    (0.35, 0.004, np.radians(0.1)),
)
"""How many of the faces that lie near each other in a wrong pose do so because places are alike,
and how far these lie apart (1 sigma): one half by the tolerances of building, another by a third of
them (common practice, from memory). The rest are near each other by chance."""

GATE_M, GATE_RAD = 0.05, np.radians(1.5)
CHANCE_AREA = 4 * GATE_M * GATE_RAD
FINE_GATES = ((0.05, 0.03), (0.03, 0.02), (0.03, 0.02))
NEAR_GATES = ((0.02, 0.01), (0.02, 0.01), (0.02, 0.01))
MOST_DRIFT_M, MOST_DRIFT_RAD = 0.03, np.radians(0.4)
ONE_LINE_M, ONE_LINE_RAD = 0.012, np.radians(0.5)

MOST_AGAINST = -4.0
"""A single pair of faces speaks against a pose by so many nats at most: doors move."""

SURELY_COMMON_M = 0.5
"""Faces that overlap by less may be two, the end of one at the beginning of the other."""

POSE_NATS = 5.0
"""What the three unknowns of the pose take from the evidence: two faces always fit."""

MEDIAN_OF_TWO = 1.386
"""The median of chi-square of two degrees of freedom."""


@dataclass(frozen=True, eq=False)
class Walls:
    """Faces of one or more captures in one frame, with the wall (line) ``line (F,)`` that each lies
    on, from 0 to `lines` - 1."""

    faces: Faces
    line: Ints
    lines: int

    def __len__(self) -> int:
        return len(self.line)


def walls_of(faces: Sequence[Faces], pose: Floats) -> Walls:
    """The walls that captures at poses ``(n, 3)`` see."""
    joined = joined_faces(faces, pose)
    if not len(joined):
        return Walls(joined, np.empty(0, dtype=np.int64), 0)
    away = joined.centre_m[None] - joined.centre_m[:, None]
    across = np.abs(np.einsum("abi,ai->ab", away, joined.normal))
    turn = np.abs(wrap_half(joined.normal_rad[None] - joined.normal_rad[:, None]))
    one = (np.maximum(across, across.T) < ONE_LINE_M) & (turn < ONE_LINE_RAD)
    lines, line = connected_components(one, directed=False)
    return Walls(joined, line.astype(np.int64), int(lines))


def refined(first: Walls, second: Walls, pose: Floats) -> tuple[Floats, Floats]:
    """Poses ``(H, 3)`` moved to where the faces agree best, with their covariances. One that would
    go further than a hypothesis can be off is moved by the nearest faces only, or stays."""
    found = refine_faces(first.faces, second.faces, pose, FINE_GATES)
    shift, turn = apart(found.pose, pose)
    far = np.flatnonzero((shift > MOST_DRIFT_M) | (turn > MOST_DRIFT_RAD))
    at, covariance = found.pose.copy(), found.covariance.copy()
    if len(far):
        near = refine_faces(first.faces, second.faces, pose[far], NEAR_GATES)
        shift, turn = apart(near.pose, pose[far])
        held = (shift > MOST_DRIFT_M) | (turn > MOST_DRIFT_RAD)
        at[far] = np.where(held[:, None], pose[far], near.pose)
        covariance[far] = near.covariance
    return at, covariance


def wall_nats(
    first: Walls, second: Walls, pose: Floats, scatter: float = 1.0
) -> tuple[Floats, Floats]:
    """Evidence of common walls (nats) for poses ``(H, 3)`` of the second walls' frame in the first
    one's, and how many walls are common, each ``(H,)``. `scatter` is a factor on all errors."""
    a, b = first.faces, second.faces
    if not len(a) or not len(b):
        return np.zeros(len(pose)), np.zeros(len(pose))
    pairs = face_pairs(a, b, pose)
    which, i, j = pairs.pose, pairs.first, pairs.second
    nats = _nats(pairs.across_m, pairs.turn_rad, scatter * pairs.sigma_m, scatter * pairs.sigma_rad)
    sure = np.clip(pairs.common_m(a, b) / SURELY_COMMON_M, 0.1, 1.0)
    nats = np.maximum(nats, MOST_AGAINST * sure)
    # All pieces of a wall together: their mean, by how much of it both see.
    size = first.lines * second.lines
    key = which * size + first.line[i] * second.lines + second.line[j]
    pair, of = np.unique(key, return_inverse=True)
    total = np.bincount(of, sure, len(pair))
    mean = np.bincount(of, sure * nats, len(pair)) / np.maximum(total, 1e-12)
    pose_of, rest = pair // size, pair % size
    one, two = rest // second.lines, rest % second.lines
    # Of several that lie side by side, the one that fits best is the wall; but what lies in its
    # line is that wall, well or badly, and no short piece beside it excuses it.
    line = (np.abs(pairs.across_m) < ONE_LINE_M) & (np.abs(pairs.turn_rad) < ONE_LINE_RAD)
    in_line = np.zeros(len(pair))
    np.maximum.at(in_line, of, np.where(line, sure, 0.0))
    best = _best_of(pose_of * first.lines + one, in_line, mean) & _best_of(
        pose_of * second.lines + two, in_line, mean
    )
    walls = np.bincount(pose_of[best], minlength=len(pose)).astype(float)
    return np.asarray(np.bincount(pose_of[best], mean[best], len(pose))), np.asarray(walls)


@dataclass(frozen=True, eq=False)
class FacePairs:
    """Faces that may be one, ``n`` of them at some of the poses: residuals and their errors."""

    pose: Ints
    first: Ints
    second: Ints
    across_m: Floats
    turn_rad: Floats
    along_m: Floats
    sigma_m: Floats
    sigma_rad: Floats

    def common_m(self, a: Faces, b: Faces) -> Floats:
        """The lengths ``(n,)`` that the paired faces have in common."""
        low = np.maximum(a.span_m[self.first, 0], self.along_m + b.span_m[self.second, 0])
        high = np.minimum(a.span_m[self.first, 1], self.along_m + b.span_m[self.second, 1])
        return np.asarray(high - low)


def face_pairs(a: Faces, b: Faces, pose: Floats) -> FacePairs:
    """The faces that may be one at poses ``(H, 3)`` of the second ones' frame in the first's."""
    pairing = pair_faces(a, b, pose, GATE_M, GATE_RAD, GATE_M)
    at = which, i, j = np.nonzero(pairing.weight > 0)
    along = pairing.along_m[at]
    sigma_o = np.sqrt(
        a.sigma_offset_m[i] ** 2
        + b.sigma_offset_m[j] ** 2
        + 2 * UNEVEN_OFFSET_M**2
        + along**2 * (a.sigma_normal_rad[i] ** 2 + UNEVEN_NORMAL_RAD**2)
    )
    sigma_n = np.sqrt(
        a.sigma_normal_rad[i] ** 2 + b.sigma_normal_rad[j] ** 2 + 2 * UNEVEN_NORMAL_RAD**2
    )
    return FacePairs(
        which, i, j, pairing.across_m[at], pairing.turn_rad[at], along, sigma_o, sigma_n
    )


def misfit(first: Walls, second: Walls, pose: Floats) -> float:
    """Median square of the standardised residuals of faces that may be one at a pose ``(3,)``, by
    which it exceeds that of normal ones (chi-square of two degrees); NaN without faces."""
    pairs = face_pairs(first.faces, second.faces, pose[None])
    if not len(pairs.pose):
        return float("nan")
    z = (pairs.across_m / pairs.sigma_m) ** 2 + (pairs.turn_rad / pairs.sigma_rad) ** 2
    return float(np.median(z) / MEDIAN_OF_TWO)


def _best_of(group: Ints, first: Floats, then: Floats) -> np.ndarray:
    """Which ``(n,)`` have the largest first value of their group, of equal ones the largest second,
    and of those the first."""
    order = np.lexsort((np.arange(len(then)), -then, -first, group))
    best = np.zeros(len(then), dtype=bool)
    begins = np.ones(len(then), dtype=bool)
    begins[1:] = np.diff(group[order]) != 0
    best[order[begins]] = True
    return best


def _nats(across: Floats, turn: Floats, sigma_o: Floats, sigma_n: Floats) -> Floats:
    """Logarithm of the likelihood ratio of pairs of faces: one wall, or walls of places that are
    alike or near each other by chance."""
    z = (across / sigma_o) ** 2 + (turn / sigma_n) ** 2
    one = np.exp(-z / 2) / (2 * np.pi * sigma_o * sigma_n)
    other = np.full(across.shape, (1.0 - sum(share for share, _, _ in ALIKE)) / CHANCE_AREA)
    for share, apart_m, apart_rad in ALIKE:
        alike_o, alike_n = np.hypot(apart_m, sigma_o), np.hypot(apart_rad, sigma_n)
        near = (across / alike_o) ** 2 + (turn / alike_n) ** 2
        other += share * np.exp(-near / 2) / (2 * np.pi * alike_o * alike_n)
    return np.log(np.maximum(one, 1e-30) / other)
