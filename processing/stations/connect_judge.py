# SPDX-License-Identifier: GPL-2.0-or-later
"""What all captures of two groups say about laying one group over the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from .connect_frames import between, composed
from .connect_groups import Groups
from .overlap import View, agreement, readings_agree
from .overlap_evidence import READINGS_WEIGHT_M, tolerance_m

BENT_RAD, BENT_SIGMAS, MOST_BENT_RAD = np.radians(45.0), 2.0, np.radians(60.0)
"""Steel bends a compass by tens of degrees at most (common practice), and so many of its own errors
come on top, up to the last: two captures whose compasses disagree by more are not of one place,
however well they fit."""

LEAST_SOUND = 0.75
"""Of the readings that another capture looks at, at least this share must not stand where it looks
through: doors move and people pass, walls do not."""

PAIR_M = 3.0
_LEAST_CONTACT = 0.06


@dataclass(frozen=True, eq=False)
class Together:
    """Sums over pairs of captures at ``H`` poses: what they are worth together (`score_m`), metres
    measured through, the number of pairs that contradict each other about seeing one another, the
    least share of sound readings of a pair that has something in common, and the number of pairs
    that agree on `PAIR_M` or more."""

    score_m: Floats
    through_m: Floats
    contradictions: Ints
    sound: Floats
    agreeing: Ints

    def possible(self, index: int) -> bool:
        """Whether nothing speaks against a pose."""
        return bool(
            self.contradictions[index] == 0
            and self.sound[index] >= LEAST_SOUND
            and self.through_m[index] <= 0.5 + 0.1 * max(self.score_m[index], 0.0)
        )


@dataclass(frozen=True, eq=False)
class Judge:
    """Asks the captures; `level (S,)` are the storeys, `reach_m (S,)` how far each capture sees."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    reach_m: Floats

    @classmethod
    def of(cls, views: Sequence[View], groups: Groups, level: Ints) -> Judge:
        return cls(views, groups, level, np.array([_reach(view) for view in views]))

    def together(self, first: Ints, second: Ints, pose: Floats) -> Together:
        """Lay the stations `second` over the stations `first` at poses ``(H, 3)`` of the second
        group's frame in the first one's."""
        count = len(pose)
        score, through = np.zeros(count), np.zeros(count)
        contradictions = np.zeros(count, dtype=np.int64)
        sound = np.ones(count)
        agreeing = np.zeros(count, dtype=np.int64)
        at = self.groups.pose
        for j in second:
            placed = composed(pose, at[j])
            east, north = (placed[:, k] - at[first, k, None] for k in (0, 1))
            meet = np.hypot(east, north) < (self.reach_m[first] + self.reach_m[j])[:, None]
            meet &= (self.level[first] == self.level[j])[:, None]
            for row in np.flatnonzero(meet.any(axis=1)):
                i, near = first[row], np.flatnonzero(meet[row])
                relative = between(at[i], placed[near])
                a, b = self.views[i], self.views[j]
                tolerance = 1.5 * tolerance_m(a, b)
                faces = agreement(a, b, relative, tolerance, np.radians(5.0))
                readings = readings_agree(a, b, relative, tolerance)
                touch = readings.contact > _LEAST_CONTACT
                worth = faces.score_m + READINGS_WEIGHT_M * np.where(touch, readings.shared, 0.0)
                score[near] += worth
                agreeing[near] += worth >= PAIR_M
                through[near] += faces.through_m
                contradictions[near] += faces.contradicts
                sound[near] = np.minimum(sound[near], np.where(touch, readings.sound, 1.0))
        return Together(score, through, contradictions, sound, agreeing)

    def objection(self, first: int, second: int, pose: Floats) -> str:
        """Why the second group cannot lie at a pose in the first one's frame; empty if it can."""
        g = self.groups
        return self.forbids(first, second, pose) or self.contradiction(
            g.members(first), g.members(second), pose
        )

    def forbids(self, first: int, second: int, pose: Floats) -> str:
        """Why compasses or targets forbid a pose of the second group in the first one's frame;
        empty if they do not."""
        g = self.groups
        if why := compass_objection(g, first, second, pose):
            return why
        common = g.common(first, second)
        if len(common):
            wrong = common.misfit_m(pose) > common.allowed_m() + 0.10
            if wrong.all():
                names = g.sightings.name
                shown = ", ".join(names[t] for t in common.target[wrong][:4])
                return f"the sightings of {shown} contradict it"
        elif (
            g.compass_turn(first, second) is None
            and g.tied_by_targets(first)
            and g.tied_by_targets(second)
        ):
            return "both groups were tied by targets, but none is common: alike rooms look the same"
        return ""

    def contradiction(self, first: Ints, second: Ints, pose: Floats) -> str:
        """Why captures exclude each other at a pose; empty if they do not."""
        judged = self.together(first, second, pose[None])
        if judged.contradictions[0]:
            return "one station would see the other, which does not see it"
        if not judged.possible(0):
            return "other captures measured through its walls"
        return ""


def compass_objection(groups: Groups, first: int, second: int, pose: Floats) -> str:
    """Why the compasses exclude a pose of the second group in the first one's frame; empty if they
    do not."""
    turn = groups.compass_turn(first, second)
    if turn is None:
        return ""
    asked, sigma = turn
    off = abs(float(wrap_half(pose[2] - asked)))
    if off <= min(BENT_RAD + BENT_SIGMAS * sigma, MOST_BENT_RAD):
        return ""
    return f"the compasses differ from it by {np.degrees(off):.0f} deg"


def _reach(view: View) -> float:
    known = view.range_m[np.isfinite(view.range_m)]
    return float(np.quantile(known, 0.99)) if len(known) else 0.0
