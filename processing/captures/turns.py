# SPDX-License-Identifier: GPL-2.0-or-later
"""The turns of a capture and what two turns over the same directions say of each other."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats
from .faces_fit import ReadingNoise
from .model import Bools, Capture, Ints
from .sweeps import Sweep, sweeps_of

FULL_RAD = 2.0 * np.pi

SHARE = 1.6
"""Variance of a reading less the line between its two neighbours of another turn, in variances of
one reading: 1 and, on average over the places between two neighbours, 2/3."""


@dataclass(frozen=True, eq=False)
class Turn:
    """Ring readings ``(m,)`` of one passage of the beam over at most a full turn: their places in
    the capture, angles that ascend without a break (rad), horizontal distances (m); `step_rad` says
    how far apart readings usually are, `closed` that the turn is full."""

    at: Ints
    angle_rad: Floats
    distance_m: Floats
    step_rad: float
    closed: bool

    def __len__(self) -> int:
        return len(self.at)

    def only(self, kept: Bools) -> Turn:
        """The turn without the readings that are not kept ``(m,)``."""
        if kept.all():
            return self
        return replace(
            self, at=self.at[kept], angle_rad=self.angle_rad[kept], distance_m=self.distance_m[kept]
        )

    def begun_at(self, place: int) -> Turn:
        """The same full turn, begun at another of its readings."""
        roll = np.roll(np.arange(len(self)), -place)
        angle = self.angle_rad[roll]
        angle[len(angle) - place :] += FULL_RAD
        return replace(self, at=self.at[roll], angle_rad=angle, distance_m=self.distance_m[roll])


def only(turns: list[Turn], kept: Bools) -> list[Turn]:
    """The turns without the readings of the capture that are not kept ``(n,)``; they are still
    closed where readings are missing."""
    return [turn.only(kept[turn.at]) for turn in turns]


def turns_in(capture: Capture) -> list[Turn]:
    """The turns of all ring readings that brought a return, in the order taken: the sweeps, cut
    after each full turn."""
    returned = np.nan_to_num(capture.distance_m) > 0.0
    turns: list[Turn] = []
    for sweep in sweeps_of(capture):
        backward = len(sweep) > 1 and bool(sweep.at[0] > sweep.at[-1])
        parts = _full_turns(sweep)
        whole = sweep.closed or len(parts) > 1
        own = [
            Turn(at, angle, capture.distance_m[at], sweep.step_rad, whole)
            for at, angle in ((sweep.at[part], sweep.angle_rad[part]) for part in parts)
        ]
        if len(parts) > 1 and not sweep.closed:
            own[-1] = replace(own[-1], closed=False)
        turns.extend(reversed(own) if backward else own)
    return only(turns, returned)


def _full_turns(sweep: Sweep) -> list[slice]:
    """The parts of a sweep that each pass a full turn at most; a turn that ends on its beginning
    is one."""
    if sweep.closed:
        return [slice(None)]
    passed = sweep.angle_rad - sweep.angle_rad[0] + 0.5 * sweep.step_rad
    ends = np.searchsorted(passed, FULL_RAD * np.arange(1.0, passed[-1] // FULL_RAD + 1.0))
    edges = [0, *ends.tolist(), len(sweep)]
    return [slice(low, high) for low, high in zip(edges, edges[1:]) if high > low]


@dataclass(frozen=True, eq=False)
class Compared:
    """What one turn says at the directions ``(k,)`` of another one's readings.

    `place (k,)` are those readings in the other turn, `before_m` and `after_m` the distances that
    the turn has on either side of them, `seen_m` the distance on the line through both, `slope` the
    change of distance with direction there (m per rad)."""

    place: Ints
    angle_rad: Floats
    distance_m: Floats
    before_m: Floats
    after_m: Floats
    seen_m: Floats
    slope: Floats

    def __len__(self) -> int:
        return len(self.place)

    def sigma_m(self, noise: ReadingNoise) -> Floats:
        """Standard errors ``(k,)`` of the differences of distance."""
        return np.sqrt(SHARE) * np.hypot(noise.distance_m, self.slope * noise.angle_rad)


def compare(turn: Turn, other: Turn, reach: float = 2.5) -> Compared:
    """What a turn says at the directions of the readings of another one; directions where it has no
    two readings within `reach` of its usual steps are left out."""
    a, r = turn.angle_rad, turn.distance_m
    if len(turn) < 4 or not len(other):
        none = np.empty(0)
        return Compared(np.empty(0, dtype=np.int64), none, none, none, none, none, none)
    angle = a[0] + (other.angle_rad - a[0]) % FULL_RAD
    after = np.searchsorted(a, angle, side="right")
    wraps = after == len(a)
    before = after - 1
    after = np.where(wraps, 0, after)
    ahead = a[after] + np.where(wraps, FULL_RAD, 0.0) - angle
    back = angle - a[before]
    span = ahead + back
    there = (span > 0.0) & (span <= reach * turn.step_rad)
    place = np.flatnonzero(there)
    before, after, ahead, back, span = (x[there] for x in (before, after, ahead, back, span))
    r0, r1 = r[before], r[after]
    seen = np.sin(span) / (np.sin(ahead) / r0 + np.sin(back) / r1)
    # The slope over five steps: over one it is mostly noise.
    m = len(a)
    left, right = (before - 2) % m, (after + 2) % m
    wide = (a[right] - a[left]) % FULL_RAD
    slope = (r[right] - r[left]) / np.maximum(wide, span)
    return Compared(place, other.angle_rad[place], other.distance_m[place], r0, r1, seen, slope)
