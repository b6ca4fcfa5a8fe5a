# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups of stations joined by what all their captures say together.

Of all ways to lay one group over another the likeliest is taken first, and only when it leads
clearly over every other way and over every other join that it excludes. So an overlap that two
captures leave open is decided by the captures around them, or not at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, between, composed, inverse
from .connect_groups import Groups
from .connect_judge import Judge
from .connect_overlaps import placed_by_both
from .connect_weigh import (
    POSE_NATS,
    Walls,
    against_nats,
    misfit,
    refined,
    wall_nats,
    walls_of,
)
from .matching import Hypotheses, distinct
from .overlap import View

LEAST_NATS, LEAST_LEAD, ALONE_NATS = 5.0, 4.0, 8.0
"""What a join needs: evidence, a lead over every other one, and the evidence for two captures that
no other stands by. Chosen on simulated buildings of rooms built alike and not, so that no join
there was wrong."""

FEW_WALLS, FEW_NATS, FEW_ALONE_NATS = 3, 7.5, 12.0
"""Two rooms of one width agree in so few walls as finely as one room does with itself: evidence of
so few must be this much, and for two captures that no other stands by."""

SURE_NATS = 14.0
"""With less, a join waits until every pair has been looked at, also past its compass."""

RULED_NATS, RULED_LEAD = 2.5, 20.0
"""What is enough where every other pose is ruled out so clearly."""

EXCLUDES_NATS = -4.0
"""Groups that would come to lie on each other with so much evidence against it exclude the joins
that lead to it."""

SAME_M, SAME_RAD = 0.06, np.radians(0.7)
SUPPORT_M, SUPPORT_RAD = 0.015, np.radians(0.2)
CACHED_M, CACHED_RAD = 0.008, np.radians(0.06)
MOST_CANDIDATES = 10
LARGEST_SIGMA_M = 0.03
SHARP_M = 0.02
"""A join must fix the position so well (1 sigma)."""


USUAL_NATS = 1.0
"""What two captures say against each other in their true places, in most cases at most."""

SURE_SCORE_M, SURE_GAP, MOST_SURE = 12.0, 0.3, 40
LEAST_SCATTER, LARGEST_SCATTER = 1.25, 4.0

TARGET_NATS = 8.0
BENT_SHARE = 0.15
"""How many compasses are bent by steel (common practice), to any direction."""

_Key = tuple[tuple[int, ...], tuple[int, ...]]


@dataclass(frozen=True, eq=False)
class Join:
    """The likeliest pose of a group in another's frame: `nats` of evidence, `lead` over the next
    other pose (or over none), the nats of that, `rival`; how many `walls` are common and what the
    captures say `against` it, nats not negative; the two stations nearest to each other and how
    they lie, once it is made or given up."""

    first: int
    second: int
    pose: Floats
    nats: float
    lead: float
    rival: float
    walls: int = 0
    against: float = 0.0

    stations: tuple[int, int] = (-1, -1)
    relative: Floats = field(default_factory=lambda: np.zeros(3))

    @property
    def weight(self) -> float:
        """What joins are put in order by."""
        return min(self.nats, self.lead)

    @property
    def gap(self) -> float:
        """How far the next pose lies below this one, as a share."""
        return self.lead / self.nats if self.nats > 0 else 0.0


_UNSEEN = Join(-1, -1, np.zeros(3), 0.0, 0.0, 0.0)


@dataclass(eq=False)
class Merger:
    """Joins groups; `views` are the captures prepared for matching, `level (S,)` their storeys.
    `found` are the hypotheses of pairs."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    judge: Judge
    found: dict[tuple[int, int], Hypotheses] = field(default_factory=dict)
    joins: list[Join] = field(default_factory=list)
    scatter: float = 1.0
    _known: dict[tuple[int, int], tuple[Floats, Floats]] = field(default_factory=dict)
    _best: dict[_Key, Join | None] = field(default_factory=dict)
    _bounds: dict[tuple[int, int], float] = field(default_factory=dict)
    _walls: dict[tuple[int, ...], Walls] = field(default_factory=dict)

    def add(self, found: Iterable[tuple[tuple[int, int], Hypotheses]]) -> None:
        """Take hypotheses of pairs of stations (the lesser first), instead of those known."""
        for pair, hypotheses in found:
            if len(hypotheses):
                self.found[pair] = hypotheses
        self._best.clear()
        self._bounds.clear()
        self.scatter = self._scatter()

    def _scatter(self) -> float:
        """Factor on the errors of faces that the surest pairs ask for: an instrument may have
        errors that all its captures share, plaster may be rough. 1 if they are as good as stated;
        of pairs that are only alike the better quarter tells nothing."""
        sure = [
            (h.score_m[0], i, j)
            for (i, j), h in self.found.items()
            if h.score_m[0] > SURE_SCORE_M and h.gap > SURE_GAP
        ]
        found = []
        for _, i, j in sorted(sure, reverse=True)[:MOST_SURE]:
            one = walls_of([self.views[i].faces], np.zeros((1, 3)))
            two = walls_of([self.views[j].faces], np.zeros((1, 3)))
            found.append(misfit(one, two, self.found[i, j].pose[0]))
        told = [value for value in found if np.isfinite(value)]
        factor = float(np.sqrt(np.quantile(told, 0.25))) if told else 1.0
        return min(factor, LARGEST_SCATTER) if factor > LEAST_SCATTER else 1.0

    def join(self, progress: Progress = SILENT, least: float = RULED_NATS) -> None:
        """Join groups, likeliest first, until nothing of `least` nats is clear any more."""
        start = len(self.groups.leaders())
        while True:
            done = (start - len(self.groups.leaders())) / max(start, 1)
            progress.at(done)
            best = self._clearest(progress, done, least)
            if best is None:
                return
            self._take(best)

    def _clearest(self, progress: Progress, done: float, least: float) -> Join | None:
        """The likeliest join that is clear. Only what may be likelier than those known is looked
        at: joined groups have no more evidence for a third than both had together."""
        waiting = self._waiting()
        bound = {pair: self._bound_of(pair) for pair in waiting}
        known: list[Join] = []
        for pair in sorted(waiting, key=lambda p: (-bound[p], p)):
            if bound[pair] < least - LEAST_LEAD:
                break
            ready = self._first_clear(known, bound[pair], least)
            if ready is not None:
                return ready
            progress.at(done)
            found = self._best.setdefault(self._key(pair), _UNSEEN)
            if found is _UNSEEN:
                found = self._best[self._key(pair)] = self._likeliest(*pair, waiting[pair])
            if found is not None:
                known.append(found)
        return self._first_clear(known, -np.inf, least)

    def _first_clear(self, known: list[Join], bound: float, least: float) -> Join | None:
        """The likeliest of the known joins that is clear, if none with less evidence than the bound
        can be likelier or exclude it."""
        known.sort(key=lambda j: (-j.weight, j.first, j.second))
        for best in known:
            if best.weight < max(least, bound) or best.nats - LEAST_LEAD < bound:
                return None
            if self._enough(best) and not self._excluded(best, known):
                return best
        return None

    def _enough(self, best: Join) -> bool:
        g = self.groups
        alone = len(g.members(best.first)) + len(g.members(best.second)) == 2
        needed = ALONE_NATS if alone else LEAST_NATS
        if best.walls <= FEW_WALLS and not len(g.common(best.first, best.second)):
            needed = FEW_ALONE_NATS if alone else FEW_NATS
        # What speaks against the pose has lowered the evidence already; but rooms built alike agree
        # in much and not in all, so it counts as doubt, too.
        if best.nats >= needed + best.against and best.lead >= LEAST_LEAD:
            return True
        # Where the captures rule out all else (not where nothing else was found), little is enough.
        ruled = np.isfinite(best.rival) and best.nats - best.rival > RULED_LEAD
        return bool(not alone and ruled and best.nats >= RULED_NATS)

    def _key(self, pair: tuple[int, int]) -> _Key:
        return tuple(self.groups.members(pair[0])), tuple(self.groups.members(pair[1]))

    def _waiting(self) -> dict[tuple[int, int], list[tuple[int, int]]]:
        """Pairs of groups with the pairs of their stations that have hypotheses."""
        g = self.groups
        pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for i, j in self.found:
            a, b = int(g.group[i]), int(g.group[j])
            if a != b:
                pairs.setdefault((min(a, b), max(a, b)), []).append((i, j))
        return pairs

    def _bound_of(self, pair: tuple[int, int]) -> float:
        """More than the evidence for joining two groups can be."""
        found = self._best.get(self._key(pair), _UNSEEN)
        if found is _UNSEEN:
            return self._bounds.get(pair, np.inf)
        return 0.0 if found is None else found.nats

    def _take(self, best: Join) -> None:
        """Join two groups, and say what their join to each other one can be worth at most."""
        both = (best.first, best.second)
        bound: dict[int, float] = {}
        for pair in self._waiting():
            rest = [c for c in pair if c not in both]
            if len(rest) == 1:
                bound[rest[0]] = bound.get(rest[0], 0.0) + max(self._bound_of(pair), 0.0)
        g = self.groups
        i, j = self._nearest(best)
        relative = between(g.pose[i], composed(best.pose, g.pose[j]))
        self.joins.append(replace(best, stations=(i, j), relative=relative))
        g.join(best.first, best.second, best.pose)
        for other, nats in bound.items():
            self._bounds[min(*both, other), max(min(both), other)] = nats + 2 * POSE_NATS

    def _nearest(self, join: Join) -> tuple[int, int]:
        """The stations of two groups that come to lie nearest to each other."""
        g = self.groups
        a, b = g.members(join.first), g.members(join.second)
        placed = composed(join.pose, g.pose[b])
        away = np.hypot(*np.moveaxis(g.pose[a, None, :2] - placed[None, :, :2], -1, 0))
        i, j = np.unravel_index(int(np.argmin(away)), away.shape)
        return int(a[i]), int(b[j])

    def undecided(self) -> list[tuple[Join, str]]:
        """Joins that have something for them and were not made, and why not."""
        g = self.groups
        found = []
        for pair in sorted(self._waiting()):
            join = self._best.get(self._key(pair), _UNSEEN)
            if join is None or join is _UNSEEN or join.nats < LEAST_LEAD:
                continue
            reason = "another join of groups excludes it"
            if join.lead < LEAST_LEAD:
                reason = "another pose explains the captures nearly as well"
            elif not self._enough(join):
                reason = "too few walls in common to be sure"
            i, j = self._nearest(join)
            relative = between(g.pose[i], composed(join.pose, g.pose[j]))
            found.append((replace(join, stations=(i, j), relative=relative), reason))
        return found

    def walls(self, members: Ints) -> Walls:
        """The walls that stations of one group see, in the group's frame."""
        key = tuple(int(s) for s in members)
        if key not in self._walls:
            self._walls[key] = walls_of(
                [self.views[s].faces for s in members], self.groups.pose[members]
            )
        return self._walls[key]

    # --- the likeliest pose of two groups -------------------------------------------------------

    def _likeliest(self, a: int, b: int, stations: Sequence[tuple[int, int]]) -> Join | None:
        pose = self._candidates(a, b, stations)
        if not len(pose):
            return None
        pose, total, sigma = self.evidence(a, b, pose)
        order = np.argsort(-total, kind="stable")
        pose, total = pose[order], total[order]
        best = pose[0]
        if total[0] < 0 or sigma[order[0]] > SHARP_M or self.judge.forbids(a, b, best):
            return None
        shift, turn = apart(pose, best)
        other = (shift > 2 * SAME_M) | (turn > 2 * SAME_RAD)
        rival = float(total[other].max(initial=-np.inf))
        lead = float(total[0]) - max(rival, 0.0)
        first, second = self.groups.members(a), self.groups.members(b)
        _, walls = wall_nats(self.walls(first), self.walls(second), best[None], self.scatter)
        against = float(self._against(first, second, best[None])[0])
        return Join(a, b, best, float(total[0]), lead, rival, int(walls[0]), against)

    def _candidates(self, a: int, b: int, stations: Sequence[tuple[int, int]]) -> Floats:
        """Poses ``(H, 3)`` of group b in the frame of a that hypotheses of their stations ask for,
        those with most support first."""
        g = self.groups
        poses, worth = [], []
        for i, j in stations:
            h = self.found[i, j]
            sharp = h.sigma_m < LARGEST_SIGMA_M
            if not sharp.any():
                continue
            first, second = (i, j) if int(g.group[i]) == a else (j, i)
            pose = h.pose[sharp] if first == i else inverse(h.pose[sharp])
            poses.append(g.relative(first, second, pose))
            worth.append(h.score_m[sharp])
        if not poses:
            return np.empty((0, 3))
        pose, score = np.concatenate(poses), np.concatenate(worth)
        shift, turn = apart(pose[:, None], pose[None])
        support = np.exp(-((shift / SUPPORT_M) ** 2) - (turn / SUPPORT_RAD) ** 2) @ score
        return pose[distinct(pose, support, SAME_M, SAME_RAD, MOST_CANDIDATES)]

    def evidence(self, a: int, b: int, pose: Floats) -> tuple[Floats, Floats, Floats]:
        """Poses ``(H, 3)`` of group b in the frame of a moved to where their walls agree best, the
        nats ``(H,)`` for each by all captures, compasses and targets, and the largest standard
        error ``(H,)`` of the position by the walls or the targets."""
        g = self.groups
        first, second = g.members(a), g.members(b)
        one, two = self.walls(first), self.walls(second)
        # Each group's walls are asked where the other group can see.
        at, back = g.pose[second], inverse(pose)
        placed = composed(pose[:, None], at[None])[..., :2].reshape(-1, 2)
        one = one.within(placed, float(self.judge.reach_m[second].max()))
        placed = composed(back[:, None], g.pose[first][None])[..., :2].reshape(-1, 2)
        two = two.within(placed, float(self.judge.reach_m[first].max()))
        pose, covariance = refined(one, two, pose)
        sigma = np.sqrt(np.linalg.eigvalsh(covariance[:, :2, :2])[:, 1])
        total, _ = wall_nats(one, two, pose, self.scatter)
        total = total - POSE_NATS - self._against(first, second, pose)
        turn = g.compass_turn(a, b)
        if turn is not None:
            total += compass_nats(pose[:, 2], *turn)
        common = g.common(a, b)
        if len(common):
            for k in range(len(pose)):
                fits = common.misfit_m(pose[k]) < common.allowed_m() + 0.05
                total[k] += TARGET_NATS * (fits.sum() - (~fits).sum())
                if fits.any():
                    sigma[k] = min(sigma[k], float(common.sigma_m[fits].min()))
        return pose, total, sigma

    def _against(self, first: Ints, second: Ints, pose: Floats) -> Floats:
        """What the captures of two sets of stations say against poses, nats ``(H,)``."""
        at = self.groups.pose
        nats = np.zeros((len(pose), len(first), len(second)))
        for column, j in enumerate(second):
            placed = composed(pose, at[j])
            for row, i in enumerate(first):
                if self.level[i] != self.level[j]:
                    continue
                away = np.hypot(placed[:, 0] - at[i, 0], placed[:, 1] - at[i, 1])
                near = np.flatnonzero(away < self.judge.reach_m[i] + self.judge.reach_m[j])
                if len(near):
                    relative = between(at[i], placed[near])
                    nats[near, row, column] = self._pair(int(i), int(j), relative)
        return np.array([once_each(one) for one in np.maximum(nats - USUAL_NATS, 0.0)])

    def _pair(self, i: int, j: int, pose: Floats) -> Floats:
        """What two captures say against poses ``(H, 3)`` of the second in the first one's frame,
        each asked once."""
        if i > j:
            return self._pair(j, i, inverse(pose))
        known, nats = self._known.get((i, j), (np.empty((0, 3)), np.empty(0)))
        shift, turn = apart(pose[:, None], known[None])
        near = (shift < CACHED_M) & (turn < CACHED_RAD)
        missing = np.flatnonzero(~near.any(axis=1))
        result = np.empty(len(pose))
        hit = np.flatnonzero(near.any(axis=1))
        if len(hit):
            result[hit] = nats[np.argmax(near[hit], axis=1)]
        if len(missing):
            new = against_nats(self.views[i], self.views[j], pose[missing])
            result[missing] = new
            self._known[i, j] = (
                np.concatenate([known, pose[missing]]),
                np.concatenate([nats, new]),
            )
        return result

    # --- joins that exclude each other ------------------------------------------------------------

    def _excluded(self, best: Join, others: Sequence[Join]) -> bool:
        """Whether another join, not clearly less likely, contradicts this one."""
        g = self.groups
        for other in others:
            if other is best or other.nats < max(LEAST_LEAD, best.nats - LEAST_LEAD):
                continue
            both = placed_by_both(best, other)
            if both is None:
                continue
            mine, far, placed = both
            one, two = g.members(mine), g.members(far)
            walls, _ = wall_nats(self.walls(one), self.walls(two), placed[None], self.scatter)
            if walls[0] - self._against(one, two, placed[None])[0] < EXCLUDES_NATS:
                return True
        return False


def compass_nats(turn_rad: Floats, asked_rad: float, sigma_rad: float) -> Floats:
    """Nats ``(H,)`` that two compasses give turns ``(H,)``, against all turns being alike likely;
    a few compasses are bent."""
    z = wrap_half(turn_rad - asked_rad) / sigma_rad
    straight = np.exp(-0.5 * z**2) * np.sqrt(2 * np.pi) / sigma_rad
    return np.log((1 - BENT_SHARE) * straight + BENT_SHARE)


def once_each(nats: Floats) -> float:
    """What pairs of stations say against a pose, nats ``(m, n)``, each station's fault counted
    once: a mirrored wall in one capture is measured through from every other."""
    left, total = nats.copy(), 0.0
    while left.any():
        rows, columns = left.sum(axis=1), left.sum(axis=0)
        if rows.max() >= columns.max():
            at = int(np.argmax(rows))
            total += float(left[at].max())
            left[at] = 0.0
        else:
            at = int(np.argmax(columns))
            total += float(left[:, at].max())
            left[:, at] = 0.0
    return total
