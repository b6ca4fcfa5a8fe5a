# SPDX-License-Identifier: GPL-2.0-or-later
"""The one pose of two groups that all their captures prefer, by the metres of wall that agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from .connect_frames import apart, inverse
from .connect_groups import Groups
from .connect_judge import Judge
from .matching import Hypotheses, distinct

LARGEST_SIGMA_M = 0.03
"""An overlap that fixes the position worse than this (1 sigma) is not sure by itself."""

MOST_CANDIDATES = 40


@dataclass(frozen=True)
class Rule:
    """What a pose of two groups needs: worth in metres, a lead over the runner-up as a share or in
    metres, sound readings."""

    score_m: float
    gap: float
    lead_m: float
    sound: float


DECIDED_ALONE = Rule(18.0, 0.5, np.inf, 0.93)
DECIDED_GUIDED = Rule(5.0, 0.3, 8.0, 0.85)
"""What lets all captures of two groups decide: without any other evidence, and with a compass or a
target that says the same."""


@dataclass(frozen=True, eq=False)
class Decided:
    """The one pose of a group in another's frame that their captures prefer."""

    first: int
    second: int
    pose: Floats
    score_m: float
    gap: float

    @property
    def weight(self) -> float:
        return self.gap * self.score_m


def preferred(
    groups: Groups,
    judge: Judge,
    a: int,
    b: int,
    found: Mapping[tuple[int, int], Hypotheses],
    trust_compass: bool,
) -> Decided | None:
    """The pose that the captures of two groups prefer, if one is clearly preferred. A compass
    that is not trusted neither helps nor hinders, except that none is bent by more than
    `connect_judge.compass_objection` allows."""
    common = groups.common(a, b)
    if not len(common) and len(groups.members(a)) * len(groups.members(b)) < 2:
        return None
    every, sharp, worth = _candidates(groups, a, b, found)
    start = every[distinct(every, worth, 0.08, np.radians(0.8), MOST_CANDIDATES)]
    if not len(start):
        return None
    judged = judge.together(groups.members(a), groups.members(b), start)
    score = judged.score_m.copy()
    turn = groups.compass_turn(a, b) if trust_compass else None
    if turn is not None:
        off = np.abs(wrap_half(start[:, 2] - turn[0]))
        score[off > np.maximum(4 * turn[1], np.radians(10.0))] = -np.inf
    confirmed = np.zeros(len(start), dtype=np.int64)
    if len(common):
        for k in range(len(start)):
            fits = common.misfit_m(start[k]) < common.allowed_m() + 0.05
            confirmed[k] = fits.sum()
            score[k] += 8.0 * fits.sum() - 8.0 * (~fits).sum()
    top = int(np.argmax(score))
    if not np.isfinite(score[top]) or score[top] <= 0 or not judged.possible(top):
        return None
    shift, off = apart(start, start[top])
    rival = (shift > 0.15) | (off > np.radians(1.5))
    second = max(float(score[rival].max(initial=0.0)), 0.0)
    gap = 1.0 - second / float(score[top])
    shift, off = apart(every, start[top])
    agreeing = (shift < 0.10) & (off < np.radians(1.0)) & sharp
    # Several pairs of stations, or a target, must say the same.
    support = int(judged.agreeing[top]) + 2 * int(confirmed[top])
    guided = turn is not None or confirmed[top] > 0
    rule = DECIDED_GUIDED if guided else DECIDED_ALONE
    clear = gap >= rule.gap or float(score[top]) - second >= rule.lead_m
    if score[top] < rule.score_m or not clear or judged.sound[top] < rule.sound:
        return None
    if support < 2 or not agreeing.any():
        return None
    if judge.objection(a, b, start[top]):
        return None
    return Decided(a, b, start[top], float(score[top]), gap)


def _candidates(
    groups: Groups, a: int, b: int, found: Mapping[tuple[int, int], Hypotheses]
) -> tuple[Floats, np.ndarray, Floats]:
    """Poses ``(H, 3)`` of group b in the frame of a by the overlaps of their stations, which of
    them fix the position by themselves, and what each is worth."""
    poses, sharp, worth = [], [], []
    for i in groups.members(a):
        for j in groups.members(b):
            h = found.get((min(i, j), max(i, j)))
            if h is None:
                continue
            for k in range(len(h)):
                pose = h.pose[k] if i < j else inverse(h.pose[k])
                poses.append(groups.relative(int(i), int(j), pose))
                worth.append(h.score_m[k])
                sharp.append(
                    h.sigma_m[k] <= LARGEST_SIGMA_M and h.score_m[k] > 1.0 and h.pairs[k] > 1
                )
    return np.array(poses).reshape(-1, 3), np.array(sharp, dtype=bool), np.array(worth)
