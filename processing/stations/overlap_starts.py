# SPDX-License-Identifier: GPL-2.0-or-later
"""Where a search for the pose of one capture in another's frame starts.

Turns come from a histogram of direction differences of the faces, shifts from pairs of
non-parallel faces, and where the captures share faces of one direction only or none, from ends of
faces and from edges past which the range jumps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from .connect_frames import turned
from .overlap import View
from .overlap_vertices import vertex_shifts

TURN_BIN_RAD = np.radians(1.0)
TURN_GATE_RAD = np.radians(4.0)
MOST_TURNS = 8
LEAST_TURN_SHARE = 0.15
"""A turn that fewer faces ask for, as a share of the best, is not tried."""

MOST_PAIRS = 120
STEEP = 0.3
"""Least sine between two faces that fix a shift together."""

JUMP_VOTE_M = 0.05
"""What two edges of unknown faces are worth, in metres of face, where the best shifts are kept."""

SHIFT_CELL_M = 0.1
MOST_TRIED = 2000
FARTHEST_M = 40.0
"""Stations farther apart share nothing that such an instrument measures."""

GATE_SIGMAS = 4.0


@dataclass(frozen=True, eq=False)
class Prior:
    """What is known before: the turn (rad) with its 1-sigma error, and optionally the shift of the
    second station in the first one's frame (m) with its 1-sigma error."""

    turn_rad: float
    sigma_turn_rad: float
    shift_m: Floats | None = None
    sigma_shift_m: float = np.inf


def turns(first: View, second: View, prior: Prior | None) -> Floats:
    """Turns (rad) under which many faces become parallel, best first."""
    difference = wrap_half(
        first.faces.normal_rad[:, None] - second.faces.normal_rad[None, :]
    ).ravel()
    weight = np.minimum(
        np.minimum(first.faces.length_m[:, None], second.faces.length_m[None, :]), 2.0
    ).ravel()
    if prior is not None:
        allowed = np.maximum(GATE_SIGMAS * prior.sigma_turn_rad, TURN_GATE_RAD)
        near = np.abs(wrap_half(difference - prior.turn_rad)) <= allowed
        difference, weight = difference[near], weight[near]
    if not len(difference):
        return np.empty(0)
    count = round(2 * np.pi / TURN_BIN_RAD)
    place = np.floor((difference + np.pi) / TURN_BIN_RAD).astype(np.int64) % count
    votes = np.bincount(place, weights=weight, minlength=count)
    smooth = votes + 0.8 * (np.roll(votes, 1) + np.roll(votes, -1))
    smooth += 0.3 * (np.roll(votes, 2) + np.roll(votes, -2))
    found = []
    left = smooth.copy()
    for _ in range(MOST_TURNS):
        top = int(np.argmax(left))
        if left[top] <= LEAST_TURN_SHARE * smooth.max():
            break
        centre = (top + 0.5) * TURN_BIN_RAD - np.pi
        near = np.abs(wrap_half(difference - centre)) < 2.5 * TURN_BIN_RAD
        off = wrap_half(difference[near] - centre)
        found.append(centre + float(np.average(off, weights=weight[near] + 1e-12)))
        away = (np.arange(-5, 6) + top) % count
        left[away] = 0.0
    return np.array(found)


def shifts(first: View, second: View, turn: float, prior: Prior | None) -> Floats:
    """Starting shifts ``(H, 2)`` at one turn, those with most votes first."""
    a, b = first.faces, second.faces
    off = np.abs(wrap_half(a.normal_rad[:, None] - b.normal_rad[None, :] - turn))
    i, j = np.nonzero(off < TURN_GATE_RAD)
    weight = np.minimum(a.length_m[i], b.length_m[j])
    if len(i) > MOST_PAIRS:
        best = np.argsort(-weight, kind="stable")[:MOST_PAIRS]
        i, j, weight = i[best], j[best], weight[best]
    normal = a.normal[i]
    asked = np.einsum("ij,ij->i", normal, a.centre_m[i] - turned(b.centre_m[j], turn))
    p, q = np.triu_indices(len(i), 1)
    cross = normal[p, 0] * normal[q, 1] - normal[p, 1] * normal[q, 0]
    steep = np.abs(cross) > STEEP
    p, q, cross = p[steep], q[steep], cross[steep]
    x = (asked[p] * normal[q, 1] - asked[q] * normal[p, 1]) / cross
    y = (normal[p, 0] * asked[q] - normal[q, 0] * asked[p]) / cross
    vote = np.minimum(weight[p], weight[q])
    by_end, end_vote = vertex_shifts(first.vertices, second.vertices, turn, TURN_GATE_RAD)
    x, y = np.append(x, by_end[:, 0]), np.append(y, by_end[:, 1])
    vote = np.append(vote, end_vote)
    by_jump = (first.jump_m[:, None] - turned(second.jump_m, turn)).reshape(-1, 2)
    x, y = np.append(x, by_jump[:, 0]), np.append(y, by_jump[:, 1])
    vote = np.append(vote, np.full(len(by_jump), JUMP_VOTE_M))
    if prior is not None and prior.shift_m is not None:
        near = (
            np.hypot(x - prior.shift_m[0], y - prior.shift_m[1]) < GATE_SIGMAS * prior.sigma_shift_m
        )
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
