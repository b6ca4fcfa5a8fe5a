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

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, between, composed, inverse
from .connect_groups import Groups
from .connect_judge import Judge
from .connect_overlaps import OverlapTie, placed_by_both, prior_of
from .matching import Hypotheses, distinct, match
from .overlap import View

LEAST_SCORE_M, LEAST_SCORE_COMPASS_M = 8.0, 5.0
LEAST_SOUND, LEAST_SOUND_COMPASS = 0.96, 0.90
LEAST_GAP, LEAST_GAP_COMPASS = 0.30, 0.25
LEAST_PAIRS = 3
LARGEST_SIGMA_M = 0.03
"""What makes an overlap sure by itself, without and with two compasses. Chosen on a recorded office
floor (102 partial scans, cm resolution) and on simulated full-turn captures so that no pair
accepted there was wrong."""


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

MOST_RIVALS = 6
MOST_CANDIDATES = 40
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


@dataclass(frozen=True, eq=False)
class _Decided:
    """The one pose of a group in another's frame that their captures prefer."""

    first: int
    second: int
    pose: Floats
    score_m: float
    gap: float

    @property
    def weight(self) -> float:
        return self.gap * self.score_m


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
        alone = [s for s in g.leaders() if len(g.members(s)) == 1 and g.compass.known[s]]
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
        known: dict[tuple[tuple[int, ...], tuple[int, ...]], _Decided | None] = {}
        refused: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        while True:
            leaders = g.leaders()
            progress.at((start - len(leaders)) / max(start, 1))
            decided = []
            for k, a in enumerate(leaders):
                for b in leaders[k + 1 :]:
                    key = (tuple(g.members(a)), tuple(g.members(b)))
                    if key in refused:
                        continue
                    if key not in known:
                        progress.at((start - len(leaders)) / max(start, 1))
                        known[key] = self._decided(a, b, found, trust_compass)
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

    def _join_groups(self, best: _Decided) -> None:
        g = self.groups
        i, j = int(g.members(best.first)[0]), int(g.members(best.second)[0])
        relative = between(g.pose[i], composed(best.pose, g.pose[j]))
        self.overlaps.append(OverlapTie(i, j, relative, best.score_m, best.gap, True, ""))
        g.join(best.first, best.second, best.pose)

    def _excluded(self, best: _Decided, others: Sequence[_Decided]) -> bool:
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

    def _decided(
        self,
        a: int,
        b: int,
        found: dict[tuple[int, int], Hypotheses],
        trust_compass: bool,
    ) -> _Decided | None:
        """The pose that the captures of two groups prefer, if one is clearly preferred. A compass
        that is not trusted neither helps nor hinders, except that none is bent by more than
        `connect_judge.BENT_RAD`."""
        g = self.groups
        common = g.common(a, b)
        if not len(common) and len(g.members(a)) * len(g.members(b)) < 2:
            return None
        every, sharp, worth = self._candidates(a, b, found)
        start = every[distinct(every, worth, 0.08, np.radians(0.8), MOST_CANDIDATES)]
        if not len(start):
            return None
        judged = self.judge.together(g.members(a), g.members(b), start)
        score = judged.score_m.copy()
        turn = g.compass_turn(a, b) if trust_compass else None
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
        if self.judge.objection(a, b, start[top]):
            return None
        return _Decided(a, b, start[top], float(score[top]), gap)

    def _candidates(
        self, a: int, b: int, found: dict[tuple[int, int], Hypotheses]
    ) -> tuple[Floats, np.ndarray, Floats]:
        """Poses ``(H, 3)`` of group b in the frame of a by the overlaps of their stations, which of
        them fix the position by themselves, and what each is worth."""
        g = self.groups
        poses, sharp, worth = [], [], []
        for i in g.members(a):
            for j in g.members(b):
                h = found.get((min(i, j), max(i, j)))
                if h is None:
                    continue
                for k in range(len(h)):
                    pose = h.pose[k] if i < j else inverse(h.pose[k])
                    poses.append(g.relative(int(i), int(j), pose))
                    worth.append(h.score_m[k])
                    sharp.append(
                        h.sigma_m[k] <= LARGEST_SIGMA_M and h.score_m[k] > 1.0 and h.pairs[k] > 1
                    )
        return np.array(poses).reshape(-1, 3), np.array(sharp, dtype=bool), np.array(worth)
