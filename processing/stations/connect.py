# SPDX-License-Identifier: GPL-2.0-or-later
"""Which stations belong together, and roughly where: groups grown from the surest ties.

Common targets come first, then overlaps that one pose explains clearly better than any other,
then ambiguous overlaps when all captures of two groups together decide. What stays undecided is
left apart and said so: a wrong tie is worse than a missing one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from .connect_frames import apart, between, composed, inverse
from .connect_groups import Groups
from .matching import Hypotheses, Prior, match, tolerance_m
from .overlap import View, agreement
from .targets import pose_from_targets, turn_sigma_rad

LEAST_GAP, LEAST_GAP_COMPASS = 0.45, 0.25
LEAST_SCORE_M = 3.0
LEAST_PAIRS, LEAST_PAIRS_COMPASS = 4, 3
MOST_THROUGH = 0.15
LARGEST_SIGMA_M = 0.03
BENT_RAD = np.radians(45.0)
"""Steel bends a compass by tens of degrees at most (common practice); beyond that, two captures
whose compasses disagree are not of one place, however well they fit."""


@dataclass(frozen=True, eq=False)
class OverlapTie:
    """A hypothesis about a pair of stations and what became of it: `pose (3,)` of the second
    station in the first one's frame, `score_m`, `gap` to the runner-up, whether it connected the
    two, and why not."""

    first: int
    second: int
    pose: Floats
    score_m: float
    gap: float
    used: bool
    reason: str


@dataclass(eq=False)
class Connector:
    """Grows the groups of a survey.

    `views` are the captures prepared for matching, `level (S,)` their storeys; `position_m (S, 2)`
    and `sigma_position_m (S,)` are geotags in metres (NaN: none).
    """

    survey: Survey
    views: Sequence[View]
    groups: Groups
    level: Ints
    overlaps: list[OverlapTie]

    # --- targets --------------------------------------------------------------------------------

    def join_by_targets(self) -> None:
        """Join groups that share two or more targets, best-determined first, until none is left."""
        refused: set[tuple[int, int]] = set()
        while True:
            best: tuple[tuple[float, float], int, int, Floats] | None = None
            for first, second in self._group_pairs(sharing_targets=True):
                if (first, second) in refused:
                    continue
                common = self.groups.common(first, second)
                found = pose_from_targets(common)
                if found is None:
                    if len(common) >= 2:
                        refused.add((first, second))
                    continue
                pose, members = found
                rank = (
                    float(members.sum()) - 2.0 * float((~members).sum()),
                    -turn_sigma_rad(common, members),
                )
                if best is None or rank > best[0]:
                    best = (rank, first, second, pose)
            if best is None:
                return
            _, first, second, pose = best
            self._mark_outliers(first, second, pose)
            self.groups.join(first, second, pose)
            refused = set()

    def _mark_outliers(self, first: int, second: int, pose: Floats) -> None:
        """Take sightings that contradict the others out of the positions of targets."""
        common = self.groups.common(first, second)
        wrong = common.misfit_m(pose) > 3.0 * common.allowed_m() + 0.03
        s = self.groups.sightings
        smaller = min((first, second), key=lambda g: (len(self.groups.members(g)), -g))
        for target in common.target[wrong]:
            rows = np.flatnonzero((s.target == target) & (self.groups.group[s.station] == smaller))
            for row in rows:
                self.groups.why_out.setdefault(
                    int(row), "contradicts the other sightings of the two stations' targets"
                )

    def _group_pairs(self, sharing_targets: bool = False) -> list[tuple[int, int]]:
        leaders = self.groups.leaders()
        pairs = [(a, b) for k, a in enumerate(leaders) for b in leaders[k + 1 :]]
        if not sharing_targets:
            return pairs
        s = self.groups.sightings
        seen: dict[int, set[int]] = {
            g: {int(t) for t in s.target[(self.groups.group[s.station] == g) & ~self.groups.out]}
            for g in leaders
        }
        return [(a, b) for a, b in pairs if len(seen[a] & seen[b]) >= 2]

    # --- overlap --------------------------------------------------------------------------------

    def join_by_overlap(self, progress: Progress = SILENT) -> None:
        """Match pairs of stations of different groups and join what is sure, then what all
        captures together decide."""
        found: dict[tuple[int, int], Hypotheses] = {}
        count = len(self.views)
        pairs = [
            (i, j)
            for j in range(count)
            for i in range(j)
            if self.level[i] == self.level[j] and self.groups.group[i] != self.groups.group[j]
        ]
        for i, j in progress.part(0.0, 0.8).over(pairs):
            found[i, j] = match(self.views[i], self.views[j], self._prior(i, j))
        self._join_sure(found)
        self._join_decided(found, progress.part(0.8, 1.0))

    def _prior(self, i: int, j: int) -> Prior | None:
        compass = self.groups.compass
        if not (compass.known[i] and compass.known[j]):
            return None
        return Prior(
            float(wrap_half(compass.bearing_rad[j] - compass.bearing_rad[i])),
            float(np.hypot(compass.sigma_rad[i], compass.sigma_rad[j])),
        )

    def _join_sure(self, found: dict[tuple[int, int], Hypotheses]) -> None:
        sure = []
        for (i, j), h in found.items():
            if not len(h):
                continue
            compass = self._prior(i, j) is not None
            if (
                h.score_m[0] >= LEAST_SCORE_M
                and h.gap >= (LEAST_GAP_COMPASS if compass else LEAST_GAP)
                and h.pairs[0] >= (LEAST_PAIRS_COMPASS if compass else LEAST_PAIRS)
                and h.through_m[0] <= MOST_THROUGH * h.agreed_m[0]
                and h.sigma_m[0] <= LARGEST_SIGMA_M
            ):
                sure.append((-h.gap * h.score_m[0], i, j))
        for _, i, j in sorted(sure):
            h = found[i, j]
            self._join_pair(i, j, h.pose[0], float(h.score_m[0]), h.gap)

    def _join_pair(self, i: int, j: int, pose: Floats, score_m: float, gap: float) -> bool:
        g = self.groups
        a, b = int(g.group[i]), int(g.group[j])
        if a == b:
            shift, turn = apart(pose, between(g.pose[i], g.pose[j]))
            agrees = bool(shift < 0.15 and turn < np.radians(1.5))
            reason = "" if agrees else "another pose than the connected stations give"
            self.overlaps.append(OverlapTie(i, j, pose, score_m, gap, agrees, reason))
            return False
        reason = self.objection(a, b, g.relative(i, j, pose))
        self.overlaps.append(OverlapTie(i, j, pose, score_m, gap, not reason, reason))
        if reason:
            return False
        g.join(a, b, g.relative(i, j, pose))
        return True

    def objection(self, first: int, second: int, pose: Floats) -> str:
        """Why the second group cannot lie at a pose in the first one's frame; empty if it can."""
        turn = self.groups.compass_turn(first, second)
        if turn is not None:
            off = abs(float(wrap_half(pose[2] - turn[0])))
            if off > BENT_RAD:
                return f"the compasses differ from it by {np.degrees(off):.0f} deg"
        common = self.groups.common(first, second)
        if len(common):
            wrong = common.misfit_m(pose) > common.allowed_m() + 0.10
            if wrong.any() and wrong.mean() >= 0.5:
                names = self.groups.sightings.name
                shown = ", ".join(names[t] for t in common.target[wrong][:4])
                return f"the sightings of {shown} contradict it"
        judged = self.together(first, second, pose[None])
        if judged.through_m[0] > 0.3 + 0.25 * judged.agreed_m[0] or judged.contradictions[0] > 0:
            return "other captures measured through its walls"
        return ""

    def together(self, first: int, second: int, pose: Floats) -> Together:
        """What all pairs of captures of two groups say about poses ``(H, 3)``."""
        g = self.groups
        agreed = np.zeros(len(pose))
        through = np.zeros(len(pose))
        contradictions = np.zeros(len(pose), dtype=np.int64)
        for i in g.members(first):
            for j in g.members(second):
                if self.level[i] != self.level[j]:
                    continue
                relative = between(g.pose[i], composed(pose, g.pose[j]))
                reach = _reach(self.views[i]) + _reach(self.views[j])
                if (np.hypot(relative[:, 0], relative[:, 1]) > reach).all():
                    continue
                tolerance = 1.5 * tolerance_m(self.views[i], self.views[j])
                said = agreement(self.views[i], self.views[j], relative, tolerance, np.radians(5.0))
                agreed += said.agreed_m
                through += said.through_m
                contradictions += said.contradicts
        return Together(agreed, through, contradictions)

    def _join_decided(self, found: dict[tuple[int, int], Hypotheses], progress: Progress) -> None:
        """Join groups whose captures together prefer one pose clearly over all others."""
        start = len(self.groups.leaders())
        while True:
            leaders = self.groups.leaders()
            progress.at((start - len(leaders)) / max(start, 1))
            best: tuple[float, int, int, Floats, float, float] | None = None
            for k, a in enumerate(leaders):
                for b in leaders[k + 1 :]:
                    decided = self._decided(a, b, found)
                    if decided is not None and (best is None or decided[0] > best[0]):
                        best = (decided[0], a, b, decided[1], decided[2], decided[3])
            if best is None:
                return
            _, a, b, pose, score, gap = best
            i, j = int(self.groups.members(a)[0]), int(self.groups.members(b)[0])
            relative = between(self.groups.pose[i], composed(pose, self.groups.pose[j]))
            self.overlaps.append(OverlapTie(i, j, relative, score, gap, True, ""))
            self.groups.join(a, b, pose)

    def _decided(
        self, a: int, b: int, found: dict[tuple[int, int], Hypotheses]
    ) -> tuple[float, Floats, float, float] | None:
        """Rank, pose, score and gap of the one pose that the captures of two groups prefer."""
        g = self.groups
        poses, votes = [], []
        for i in g.members(a):
            for j in g.members(b):
                h = found.get((min(i, j), max(i, j)))
                if h is None:
                    continue
                for k in range(len(h)):
                    pose = h.pose[k] if i < j else inverse(h.pose[k])
                    poses.append(g.relative(int(i), int(j), pose))
                    votes.append(h.sigma_m[k] <= LARGEST_SIGMA_M and h.score_m[k] > 1.0)
        if not poses:
            return None
        start = np.array(poses)
        judged = self.together(a, b, start)
        score = judged.score_m
        turn = g.compass_turn(a, b)
        if turn is not None:
            off = np.abs(wrap_half(start[:, 2] - turn[0]))
            score = np.where(off > np.maximum(4 * turn[1], np.radians(8.0)), score - 1e3, score)
        common = g.common(a, b)
        confirmed = np.zeros(len(start), dtype=np.int64)
        for k in range(len(start)):
            if len(common):
                fits = common.misfit_m(start[k]) < common.allowed_m() + 0.05
                confirmed[k] = fits.sum()
                score[k] += 4.0 * fits.sum() - 8.0 * (~fits).sum()
        top = int(np.argmax(score))
        shift, off = apart(start, start[top])
        rival = (shift > 0.15) | (off > np.radians(1.5))
        second = max(float(score[rival].max(initial=0.0)), 0.0)
        gap = 1.0 - second / score[top] if score[top] > 0 else 0.0
        support = self._support(a, b, start[top], start, np.array(votes))
        sure = (
            score[top] >= LEAST_SCORE_M
            and gap >= 0.3
            and judged.contradictions[top] == 0
            and judged.through_m[top] <= 0.3 + MOST_THROUGH * judged.agreed_m[top]
            and (support >= 2 or (support >= 1 and confirmed[top] >= 1))
        )
        if not sure or self.objection(a, b, start[top]):
            return None
        return gap * float(score[top]), start[top], float(score[top]), gap

    def _support(self, a: int, b: int, pose: Floats, start: Floats, votes: np.ndarray) -> int:
        """Hypotheses of different pairs of stations, each fixing position, that agree with it."""
        shift, turn = apart(start, pose)
        return int(np.sum((shift < 0.10) & (turn < np.radians(1.0)) & votes))


@dataclass(frozen=True, eq=False)
class Together:
    """Sums over pairs of captures at ``H`` poses: metres agreed and measured through, and the
    number of pairs that contradict each other about seeing one another."""

    agreed_m: Floats
    through_m: Floats
    contradictions: Ints

    @property
    def score_m(self) -> Floats:
        return self.agreed_m - 1.5 * self.through_m - 2.0 * self.contradictions


def _reach(view: View) -> float:
    known = view.range_m[np.isfinite(view.range_m)]
    return float(np.quantile(known, 0.99)) if len(known) else 0.0
