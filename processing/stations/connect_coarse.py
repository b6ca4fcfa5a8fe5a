# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups grown from captures whose distances scatter by several millimetres.

How finely walls agree tells nothing there. Overlaps that one pose explains clearly better than any
other join groups first, then ambiguous ones when all captures of two groups together decide, by the
metres of wall that agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, between, composed, inverse
from .connect_groups import Groups
from .connect_judge import Judge
from .connect_overlaps import OverlapTie, placed_by_both, prior_of
from .connect_preferred import LARGEST_SIGMA_M, Decided, preferred
from .matching import Hypotheses, match
from .overlap import View

LEAST_SCORE_M, LEAST_SCORE_COMPASS_M = 8.0, 5.0
LEAST_SOUND, LEAST_SOUND_COMPASS = 0.96, 0.90
LEAST_GAP, LEAST_GAP_COMPASS = 0.30, 0.25
LEAST_PAIRS = 3
"""What makes an overlap sure by itself, without and with two compasses. Chosen on a recorded office
floor (102 partial scans, cm resolution) and on simulated full-turn captures so that no pair
accepted there was wrong."""

MOST_RIVALS = 6
RIVAL_SHARE = 0.5
"""A contradicting overlap worth this share of another leaves both undecided."""


@dataclass(frozen=True, eq=False)
class _Sure:
    weight: float
    first: int
    second: int
    pose: Floats
    score_m: float
    gap: float


def _same(pose: Floats, other: Floats) -> bool:
    """Whether two poses differ by no more than what a chain of ties leaves uncertain."""
    shift, turn = apart(pose, other)
    return bool(shift < 0.15 and turn < np.radians(1.5))


@dataclass(eq=False)
class CoarseConnector:
    """Joins groups by overlap; `views` are the captures prepared for matching, `level (S,)` their
    storeys, `pairs` those of their pairs (the lesser first) that are looked at. `overlaps` is what
    was found."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    judge: Judge
    pairs: Sequence[tuple[int, int]]
    overlaps: list[OverlapTie] = field(default_factory=list)
    _refused: dict[tuple[tuple[int, ...], tuple[int, ...]], list[Floats]] = field(
        default_factory=dict
    )

    def join(self, progress: Progress = SILENT) -> None:
        """Match the pairs of stations of different groups and join what is sure, then what all
        captures together decide."""
        group = self.groups.group
        pairs = [(i, j) for i, j in self.pairs if group[i] != group[j]]
        found: dict[tuple[int, int], Hypotheses] = {}
        for i, j in progress.part(0.0, 0.8).over(pairs):
            found[i, j] = match(self.views[i], self.views[j], prior_of(self.groups.compass, i, j))
        self._join_sure(found, progress.part(0.8, 0.85))
        self._join_decided(found, progress.part(0.85, 0.9))
        again = self._match_bent(progress.part(0.9, 0.95))
        if again:
            found.update(again)
            self._join_sure(again, progress.part(0.95, 0.97), trust_compass=False)
            self._join_decided(found, progress.part(0.97, 1.0), trust_compass=False)

    def _match_bent(self, progress: Progress) -> dict[tuple[int, int], Hypotheses]:
        """Match again, whatever the compass says, stations that a bent compass may have kept
        apart."""
        g = self.groups
        alone = {s for s in g.leaders() if len(g.members(s)) == 1 and g.compass.known[s]}
        placed = {s for s in range(len(self.views)) if len(g.members(int(g.group[s]))) > 1}
        pairs = [
            (i, j)
            for i, j in self.pairs
            if (i in alone and j in placed and g.compass.known[j])
            or (j in alone and i in placed and g.compass.known[i])
        ]
        return {(i, j): match(self.views[i], self.views[j]) for i, j in progress.over(pairs)}

    # --- pairs that are sure --------------------------------------------------------------------

    def _join_sure(
        self,
        found: dict[tuple[int, int], Hypotheses],
        progress: Progress,
        trust_compass: bool = True,
    ) -> None:
        """Join pairs of stations that one pose explains clearly better than any other."""
        sure = sorted(
            (
                tie
                for (i, j), h in found.items()
                if (tie := self._sure(i, j, h, trust_compass)) is not None
            ),
            key=lambda tie: (-tie.weight, tie.first, tie.second),
        )
        for k, tie in enumerate(sure):
            progress.at(k / len(sure))
            self._join_pair(tie, sure)

    def _sure(self, i: int, j: int, h: Hypotheses, trust_compass: bool) -> _Sure | None:
        if not len(h):
            return None
        compass = trust_compass and prior_of(self.groups.compass, i, j) is not None
        if (
            h.score_m[0] < (LEAST_SCORE_COMPASS_M if compass else LEAST_SCORE_M)
            or h.sound[0] < (LEAST_SOUND_COMPASS if compass else LEAST_SOUND)
            or h.gap < (LEAST_GAP_COMPASS if compass else LEAST_GAP)
            or h.pairs[0] < LEAST_PAIRS
            or h.sigma_m[0] > LARGEST_SIGMA_M
        ):
            return None
        score = float(h.score_m[0])
        return _Sure(h.gap * score, i, j, h.pose[0], score, h.gap)

    def _join_pair(self, tie: _Sure, sure: Sequence[_Sure]) -> None:
        g = self.groups
        i, j = tie.first, tie.second
        a, b = int(g.group[i]), int(g.group[j])
        if a == b:
            agrees = _same(tie.pose, between(g.pose[i], g.pose[j]))
            self._note(tie, "" if agrees else "another pose than the connected stations give")
            return
        pose = g.relative(i, j, tie.pose)
        before = self._refused.setdefault((tuple(g.members(a)), tuple(g.members(b))), [])
        if any(_same(pose, other) for other in before):
            return
        reason = self.judge.objection(a, b, pose) or self._rival(tie, a, b, pose, sure)
        self._note(tie, reason)
        if reason:
            before.append(pose)
        else:
            g.join(a, b, pose)

    def _note(self, tie: _Sure, reason: str) -> None:
        self.overlaps.append(
            OverlapTie(tie.first, tie.second, tie.pose, tie.score_m, tie.gap, not reason, reason)
        )

    def _rival(self, tie: _Sure, a: int, b: int, pose: Floats, sure: Sequence[_Sure]) -> str:
        """Another sure overlap that excludes this one, in words; empty if there is none."""
        g = self.groups
        asked: set[tuple[int, int]] = set()
        for other in sure:
            if other is tie or other.weight < RIVAL_SHARE * tie.weight:
                continue
            ends = {int(g.group[other.first]), int(g.group[other.second])}
            if len(ends & {a, b}) != 1 or len(ends) != 2:
                continue
            # The strongest overlap between two groups speaks for the others.
            pair = (min(ends), max(ends))
            if pair in asked:
                continue
            if len(asked) == MOST_RIVALS:
                break
            asked.add(pair)
            (near,) = ends & {a, b}
            (far,) = ends - {a, b}
            moved_far = self._pose_of(other, near, far)
            # All in the frame of the group that the other overlap does not touch.
            beyond = b if near == a else a
            inside = inverse(pose) if near == a else pose
            placed = composed(inside, moved_far)
            if self.judge.contradiction(g.members(beyond), g.members(far), placed):
                names = g.names
                return f"{names[other.first]} with {names[other.second]} excludes it"
        return ""

    def _pose_of(self, tie: _Sure, near: int, far: int) -> Floats:
        """Pose of the group `far` in the frame of `near` by an overlap between them."""
        g = self.groups
        if int(g.group[tie.first]) == near:
            return g.relative(tie.first, tie.second, tie.pose)
        return g.relative(tie.second, tie.first, inverse(tie.pose))

    # --- what all captures decide ----------------------------------------------------------------

    def _join_decided(
        self,
        found: dict[tuple[int, int], Hypotheses],
        progress: Progress,
        trust_compass: bool = True,
    ) -> None:
        """Join groups whose captures together prefer one pose clearly over all others."""
        g = self.groups
        start = len(g.leaders())
        known: dict[tuple[tuple[int, ...], tuple[int, ...]], Decided | None] = {}
        refused: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        while True:
            leaders = g.leaders()
            members = {leader: tuple(g.members(leader).tolist()) for leader in leaders}
            progress.at((start - len(leaders)) / max(start, 1))
            decided = []
            for k, a in enumerate(leaders):
                for b in leaders[k + 1 :]:
                    key = (members[a], members[b])
                    if key in refused:
                        continue
                    if key not in known:
                        progress.at((start - len(leaders)) / max(start, 1))
                        known[key] = preferred(g, self.judge, a, b, found, trust_compass)
                    if (best := known[key]) is not None:
                        decided.append((key, best))
            if not decided:
                return
            decided.sort(key=lambda entry: (-entry[1].weight, entry[0]))
            for key, best in decided:
                if not self._excluded(best, [other for _, other in decided]):
                    self._join_groups(best)
                    break
                refused.add(key)
            else:
                return

    def _join_groups(self, best: Decided) -> None:
        g = self.groups
        i, j = int(g.members(best.first)[0]), int(g.members(best.second)[0])
        relative = between(g.pose[i], composed(best.pose, g.pose[j]))
        self.overlaps.append(OverlapTie(i, j, relative, best.score_m, best.gap, True, ""))
        g.join(best.first, best.second, best.pose)

    def _excluded(self, best: Decided, others: Sequence[Decided]) -> bool:
        """Whether another decision of much the same weight contradicts this one."""
        g = self.groups
        for other in others:
            if other is best or other.weight < RIVAL_SHARE * best.weight:
                continue
            both = placed_by_both(best, other)
            if both is None:
                continue
            mine, far, placed = both
            if self.judge.contradiction(g.members(mine), g.members(far), placed):
                return True
        return False
