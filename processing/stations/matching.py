# SPDX-License-Identifier: GPL-2.0-or-later
"""Poses under which two captures may overlap, without or with a starting guess.

Turns come from a histogram of direction differences of the faces, shifts from pairs of
non-parallel faces; every hypothesis is then judged by both captures (`overlap`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from .connect_frames import apart, turned
from .overlap import COARSE_M, View, agreement, readings_agree, rough_worth
from .overlap_refine import refine
from .overlap_vertices import vertex_shifts

TURN_BIN_RAD = np.radians(1.0)
TURN_GATE_RAD = np.radians(4.0)
MOST_TURNS = 6
MOST_TRIED = 2000
MOST_SHIFTS = 60
SHIFT_CELL_M = 0.1
FARTHEST_M = 40.0
"""Stations farther apart share nothing that such an instrument measures."""

MOST_REFINED = 16
MOST_KEPT = 5
COARSE_RAD = np.radians(8.0)
LEAST_COARSE_M = 0.5
READINGS_WEIGHT_M = 10.0
"""Readings that all agree are worth this many metres of face."""

SAME_SHIFT_M, SAME_TURN_RAD = 0.12, np.radians(1.5)


@dataclass(frozen=True, eq=False)
class Prior:
    """What is known before: the turn (rad) with its 1-sigma error, and optionally the shift of the
    second station in the first one's frame (m) with its 1-sigma error."""

    turn_rad: float
    sigma_turn_rad: float
    shift_m: Floats | None = None
    sigma_shift_m: float = np.inf


@dataclass(frozen=True, eq=False)
class Hypotheses:
    """Poses of the second capture in the first one's frame, best first.

    `pose (H, 3)`, `covariance (H, 3, 3)`, `agreed_m (H,)` and `through_m (H,)` metres of face,
    `score_m (H,)` what they are worth together, `pairs (H,)` faces seen by both, `shared (H,)` and
    `sound (H,)` what single readings say (`overlap.Readings`).
    """

    pose: Floats
    covariance: Floats
    agreed_m: Floats
    through_m: Floats
    score_m: Floats
    pairs: Ints
    shared: Floats
    sound: Floats

    def __len__(self) -> int:
        return len(self.pose)

    @property
    def gap(self) -> float:
        """How far the second-best score lies below the best: 1 when there is no other, 0 when
        another pose explains the captures as well."""
        if not len(self) or self.score_m[0] <= 0:
            return 0.0
        if len(self) == 1:
            return 1.0
        return float(1.0 - max(self.score_m[1], 0.0) / self.score_m[0])

    @property
    def sigma_m(self) -> Floats:
        """Largest standard error ``(H,)`` of the position in any direction."""
        if not len(self):
            return np.empty(0)
        return np.sqrt(np.linalg.eigvalsh(self.covariance[:, :2, :2])[:, 1])


def no_hypotheses() -> Hypotheses:
    """When nothing fits."""
    none = np.empty(0)
    return Hypotheses(
        pose=np.empty((0, 3)),
        covariance=np.empty((0, 3, 3)),
        agreed_m=none,
        through_m=none,
        score_m=none,
        pairs=np.empty(0, dtype=np.int64),
        shared=none,
        sound=none,
    )


def match(first: View, second: View, prior: Prior | None = None) -> Hypotheses:
    """The poses of the second capture in the first one's frame that the two support, best first."""
    if len(first.faces) < 2 or len(second.faces) < 2:
        return no_hypotheses()
    starts, worth = [], []
    for turn in _turns(first, second, prior):
        shift = _shifts(first, second, float(turn), prior)
        if not len(shift):
            continue
        rough = rough_worth(first, second, shift, float(turn))
        best = np.argsort(-rough, kind="stable")[:MOST_SHIFTS]
        starts.append(np.column_stack([shift[best], np.full(len(best), turn)]))
        worth.append(rough[best])
    if not starts:
        return no_hypotheses()
    return _settled(first, second, np.concatenate(starts), np.concatenate(worth))


def settled(first: View, second: View, starts: Floats) -> Hypotheses:
    """Judge, refine and rank starting poses ``(H, 3)``; poses that come out the same are one."""
    if not len(starts):
        return no_hypotheses()
    coarse = agreement(first, second, starts, COARSE_M, COARSE_RAD, thin=True).score_m
    return _settled(first, second, starts, coarse)


def _settled(first: View, second: View, starts: Floats, coarse: Floats) -> Hypotheses:
    order = distinct(starts, coarse, 0.25, np.radians(3.0), MOST_REFINED)
    order = order[coarse[order] > max(LEAST_COARSE_M, 0.25 * coarse[order[0]])]
    if not len(order):
        return no_hypotheses()
    fine = tolerance_m(first, second)
    gates = ((0.25, 0.10), (0.15, 0.07), (2 * fine, 0.05), (fine, 0.03), (fine, 0.03))
    refined = refine(first, second, starts[order], gates)
    judged = agreement(first, second, refined.pose, fine, np.radians(4.0))
    said = readings_agree(first, second, refined.pose, fine)
    score = said.sound**3 * (judged.score_m + READINGS_WEIGHT_M * said.shared)
    keep = distinct(refined.pose, score, SAME_SHIFT_M, SAME_TURN_RAD, MOST_KEPT)
    keep = keep[(score[keep] > 0) & (refined.pairs[keep] >= 2)]
    return Hypotheses(
        refined.pose[keep],
        refined.covariance[keep],
        judged.agreed_m[keep],
        judged.through_m[keep],
        score[keep],
        refined.pairs[keep],
        said.shared[keep],
        said.sound[keep],
    )


def tolerance_m(first: View, second: View) -> float:
    """How near two faces lie that are one, by the captures' noise."""
    return 0.03 + 3.0 * float(np.hypot(first.noise_m, second.noise_m))


def distinct(pose: Floats, score: Floats, shift_m: float, turn_rad: float, most: int) -> Ints:
    """The best poses, best first, leaving out those near a better one."""
    order = np.argsort(-score, kind="stable")
    kept: list[int] = []
    free = np.ones(len(pose), dtype=bool)
    for index in order:
        if not free[index]:
            continue
        kept.append(int(index))
        if len(kept) == most:
            break
        shift, turn = apart(pose, pose[index])
        free &= (shift > shift_m) | (turn > turn_rad)
    return np.array(kept, dtype=np.int64)


def _turns(first: View, second: View, prior: Prior | None) -> Floats:
    """Turns (rad) under which many faces become parallel, best first."""
    difference = wrap_half(
        first.faces.normal_rad[:, None] - second.faces.normal_rad[None, :]
    ).ravel()
    weight = np.minimum(
        np.minimum(first.faces.length_m[:, None], second.faces.length_m[None, :]), 2.0
    ).ravel()
    if prior is not None:
        allowed = np.maximum(4 * prior.sigma_turn_rad, TURN_GATE_RAD)
        near = np.abs(wrap_half(difference - prior.turn_rad)) <= allowed
        difference, weight = difference[near], weight[near]
    if not len(difference):
        return np.empty(0)
    count = round(2 * np.pi / TURN_BIN_RAD)
    place = np.floor((difference + np.pi) / TURN_BIN_RAD).astype(np.int64) % count
    votes = np.bincount(place, weights=weight, minlength=count)
    smooth = votes + 0.8 * (np.roll(votes, 1) + np.roll(votes, -1))
    smooth += 0.3 * (np.roll(votes, 2) + np.roll(votes, -2))
    turns = []
    left = smooth.copy()
    for _ in range(MOST_TURNS):
        top = int(np.argmax(left))
        if left[top] <= 0.25 * smooth.max():
            break
        centre = (top + 0.5) * TURN_BIN_RAD - np.pi
        near = np.abs(wrap_half(difference - centre)) < 2.5 * TURN_BIN_RAD
        off = wrap_half(difference[near] - centre)
        turns.append(centre + float(np.average(off, weights=weight[near] + 1e-12)))
        away = (np.arange(-5, 6) + top) % count
        left[away] = 0.0
    return np.array(turns)


def _shifts(first: View, second: View, turn: float, prior: Prior | None) -> Floats:
    """Starting poses ``(H, 3)`` at one turn: intersections of what pairs of faces ask for."""
    a, b = first.faces, second.faces
    off = np.abs(wrap_half(a.normal_rad[:, None] - b.normal_rad[None, :] - turn))
    i, j = np.nonzero(off < TURN_GATE_RAD)
    weight = np.minimum(a.length_m[i], b.length_m[j])
    if len(i) > 120:
        best = np.argsort(-weight, kind="stable")[:120]
        i, j, weight = i[best], j[best], weight[best]
    normal = a.normal[i]
    asked = np.einsum("ij,ij->i", normal, a.centre_m[i] - turned(b.centre_m[j], turn))
    p, q = np.triu_indices(len(i), 1)
    cross = normal[p, 0] * normal[q, 1] - normal[p, 1] * normal[q, 0]
    steep = np.abs(cross) > 0.3
    p, q, cross = p[steep], q[steep], cross[steep]
    x = (asked[p] * normal[q, 1] - asked[q] * normal[p, 1]) / cross
    y = (normal[p, 0] * asked[q] - normal[q, 0] * asked[p]) / cross
    vote = np.minimum(weight[p], weight[q])
    by_end, end_vote = vertex_shifts(first.vertices, second.vertices, turn, TURN_GATE_RAD)
    x, y = np.append(x, by_end[:, 0]), np.append(y, by_end[:, 1])
    vote = np.append(vote, end_vote)
    if prior is not None and prior.shift_m is not None:
        near = np.hypot(x - prior.shift_m[0], y - prior.shift_m[1]) < 4 * prior.sigma_shift_m
        x, y, vote = x[near], y[near], vote[near]
    return _gathered(x, y, vote) if len(x) else np.empty((0, 2))


def _gathered(x: Floats, y: Floats, vote: Floats) -> Floats:
    """One shift ``(n, 2)`` for each occupied cell of 0.1 m, those with most votes first."""
    near = (np.abs(x) < FARTHEST_M) & (np.abs(y) < FARTHEST_M)
    x, y, vote = x[near], y[near], vote[near]
    side = int(2 * FARTHEST_M / SHIFT_CELL_M) + 2
    column = ((x + FARTHEST_M) / SHIFT_CELL_M).astype(np.int64)
    row = ((y + FARTHEST_M) / SHIFT_CELL_M).astype(np.int64)
    _, member = np.unique(column * side + row, return_inverse=True)
    total = np.bincount(member, weights=vote)
    mean_x = np.bincount(member, weights=vote * x) / total
    mean_y = np.bincount(member, weights=vote * y) / total
    best = np.argsort(-total, kind="stable")[:MOST_TRIED]
    return np.column_stack([mean_x[best], mean_y[best]])
