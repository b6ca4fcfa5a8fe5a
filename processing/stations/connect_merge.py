# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups of stations joined by what all their captures say together.

Of all ways to lay one group over another the likeliest is taken first, and only when it leads
clearly over every other way and over every other join that it excludes. So an overlap that two
captures leave open is decided by the captures around them, or not at all.

A join changes what is known of its neighbours only. Two groups are weighed again when the join
brought evidence together, and else not before they would be joined themselves, or nothing else is
left to join: the cost goes with the number of stations.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_cases import Case, candidates, together
from .connect_evidence import Laid, Weigher
from .connect_frames import between, composed, inverse
from .connect_groups import Groups
from .connect_joins import (
    LAST_NATS,
    LEAST_LEAD,
    RULED_NATS,
    SHARP_M,
    Join,
    enough,
    enough_at_last,
    likeliest,
)
from .connect_judge import Judge
from .connect_overlaps import placed_by_both
from .connect_scatter import FEWEST_TOLD, scatter_of
from .connect_series import Series, series_of
from .connect_weigh import POSE_NATS
from .matching import Hypotheses
from .overlap import View

EXCLUDES_NATS = -4.0
"""Groups that would come to lie on each other with so much evidence against it exclude the joins
that lead to it."""

_Pair = tuple[int, int]


@dataclass(eq=False)
class Merger:
    """Joins groups; `views` are the captures prepared for matching, `level (S,)` their storeys.
    `found` are the hypotheses of pairs, `rough` the factor on the errors of faces if it is known
    from other pairs (None: these tell it)."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    judge: Judge
    rough: float | None = None
    found: dict[_Pair, Hypotheses] = field(default_factory=dict)
    joins: list[Join] = field(default_factory=list)
    _last: bool = False
    _cases: dict[_Pair, Case] = field(default_factory=dict)
    _beside: dict[int, set[int]] = field(default_factory=dict)
    _clashes: dict[tuple[Laid | None, Laid | None], bool] = field(default_factory=dict)

    _sharp: dict[tuple[int, int, int, int], tuple[Floats, bool]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._weigher = Weigher(self.views, self.groups, self.level, self.judge.reach_m)

    @property
    def scatter(self) -> float:
        """Factor on the errors of faces that the surest pairs ask for."""
        return self._weigher.scatter

    def add(self, found: Iterable[tuple[_Pair, Hypotheses]]) -> None:
        """Take hypotheses of pairs of stations (the lesser first), instead of those known."""
        g, changed = self.groups, set()
        for pair, hypotheses in found:
            if len(hypotheses):
                self.found[pair] = hypotheses
                changed.add(pair)
        if self.rough is None:
            scatter, told = scatter_of(self.views, self.found)
        else:
            scatter, told = self.rough, FEWEST_TOLD
        new = {pair: self.found[pair] for pair in changed}
        series = max(self._weigher.series, series_of(self.views, new, scatter))
        if series is Series.BARE and told < FEWEST_TOLD:
            scatter = 1.0
        if (scatter, series) != (self._weigher.scatter, self._weigher.series):
            self._weigher.scatter, self._weigher.series = scatter, series
            self._cases.clear()
            changed = set(self.found)
        for i, j in sorted(changed):
            a, b = sorted((int(g.group[i]), int(g.group[j])))
            if a != b:
                known = self._cases.get((a, b))
                stations = {*(known.stations if known else ()), (i, j)}
                self._put(a, b, Case(sorted(stations)))

    def _put(self, a: int, b: int, case: Case) -> None:
        self._cases[min(a, b), max(a, b)] = case
        self._beside.setdefault(a, set()).add(b)
        self._beside.setdefault(b, set()).add(a)

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

    def join_last(self, progress: Progress = SILENT) -> None:
        """Join what is left by less evidence, once nothing is clear any more."""
        self._last = True
        self.join(progress, LAST_NATS)
        self._last = False

    # --- which join is next ----------------------------------------------------------------------

    def _clearest(self, progress: Progress, done: float, least: float) -> Join | None:
        """The likeliest join that is clear, by what is known of its groups as they are."""
        while True:
            pair = self._first_clear(progress, done, least)
            if pair is None:
                waiting = [
                    pair
                    for pair, case in self._cases.items()
                    if case.seen and not case.fresh and case.bound + 2 * POSE_NATS >= least
                ]
                for pair in sorted(waiting):
                    progress.at(done)
                    self._look(pair)
                if not waiting:
                    return None
            elif self._cases[pair].fresh:
                return self._cases[pair].join
            else:
                self._look(pair)

    def _first_clear(self, progress: Progress, done: float, least: float) -> _Pair | None:
        """The two groups whose join is the likeliest clear one. Only what may be likelier than
        those known is looked at: joined groups have no more evidence for a third than both had
        together."""
        known: list[tuple[float, _Pair]] = []
        for pair, case in sorted(self._cases.items(), key=lambda one: (-one[1].bound, one[0])):
            if case.bound < least - LEAST_LEAD:
                break
            if not case.seen:
                ready = self._ready(known, case.bound, least)
                if ready is not None:
                    return ready
                progress.at(done)
                self._look(pair)
            if case.join is not None:
                insort(known, (-case.weight, pair))
        return self._ready(known, -np.inf, least)

    def _ready(self, known: list[tuple[float, _Pair]], bound: float, least: float) -> _Pair | None:
        """The likeliest of the known joins that is clear, if none with less evidence than the bound
        can be likelier or exclude it."""
        for weight, pair in known:
            if -weight < max(least, bound):
                return None
            best = self._current(pair)
            if best is None or best.weight < least:
                continue
            if best.nats - LEAST_LEAD < bound:
                return None
            if self._enough(best) and not self._excluded(best, pair, known):
                return pair
        return None

    def _enough(self, join: Join) -> bool:
        clear = enough(self.groups, join, self._weigher.series)
        if self._last:
            clear |= enough_at_last(self.groups, join)
        return clear and self._held(join)

    def _held(self, join: Join) -> bool:
        """Whether the position is as certain by what the network will have of it: short faces of
        few readings help to find a join, and are no walls in the network."""
        g = self.groups
        key = (join.first, join.second, len(g.members(join.first)), len(g.members(join.second)))
        known = self._sharp.get(key)
        if known is None or not np.array_equal(known[0], join.pose):
            sharp = len(g.common(join.first, join.second)) > 0 or bool(
                self._weigher.held_m(g.members(join.first), g.members(join.second), join.pose)
                <= SHARP_M
            )
            self._sharp[key] = known = (join.pose, sharp)
        return known[1]

    def _excluded(self, best: Join, pair: _Pair, known: Sequence[tuple[float, _Pair]]) -> bool:
        """Whether another join, not clearly less likely, contradicts this one."""
        least = max(0.0 if self._last else LEAST_LEAD, best.nats - LEAST_LEAD)
        for _, beside in known:
            case = self._cases[beside]
            if len({*pair, *beside}) != 3 or case.join is None or case.join.nats < least:
                continue
            key = (self._cases[pair].laid, case.laid)
            if key not in self._clashes:
                other = self._current(beside)
                self._clashes[key] = other is not None and self._clash(best, other)
            if self._clashes[key]:
                return True
        return False

    def _clash(self, one: Join, other: Join) -> bool:
        both = placed_by_both(one, other)
        if both is None:
            return False
        mine, far, placed = both
        g = self.groups
        return self._weigher.clash(g.members(mine), g.members(far), placed) < EXCLUDES_NATS

    def _take(self, best: Join) -> None:
        """Join two groups, and say what is still known of their neighbours."""
        g, p, q = self.groups, best.first, best.second
        i, j = self._nearest(best)
        relative = between(g.pose[i], composed(best.pose, g.pose[j]))
        self.joins.append(replace(best, stations=(i, j), relative=relative))
        g.join(p, q, best.pose)
        del self._cases[min(p, q), max(p, q)]
        beside = (self._beside.pop(p) | self._beside.pop(q)) - {p, q}
        for c in sorted(beside):
            self._beside[c] -= {p, q}
            cases = [self._cases.pop((min(c, e), max(c, e)), None) for e in (p, q)]
            known = [case for case in cases if case is not None]
            self._put(min(p, q), c, together(self.groups, known))

    def _nearest(self, join: Join) -> _Pair:
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
        for pair in sorted(self._cases):
            join = self._current(pair)
            if join is None or join.nats < LEAST_LEAD:
                continue
            reason = "another join of groups excludes it"
            if join.lead < LEAST_LEAD:
                reason = "another pose explains the captures nearly as well"
            elif not self._enough(join):
                reason = "too few walls in common, or too loosely alike, to be sure"
            i, j = self._nearest(join)
            relative = between(g.pose[i], composed(join.pose, g.pose[j]))
            found.append((replace(join, stations=(i, j), relative=relative), reason))
        return found

    # --- the likeliest pose of two groups -------------------------------------------------------

    def _look(self, pair: _Pair) -> None:
        """Weigh the ways to lay one group over another as they are now."""
        g, case = self.groups, self._cases[pair]
        first, second = (g.members(group) for group in pair)
        case.seen = case.fresh = True
        case.ends, case.laid, case.join = (int(first[0]), int(second[0])), None, None
        pose = candidates(g, self.found, pair[0], case.stations)
        if len(pose):
            laid = self._weigher.weigh(first, second, pose)
            relative = between(g.pose[first[0]], composed(laid.pose, g.pose[second[0]]))
            case.laid = replace(laid, pose=relative)
            self._current(pair)
        case.bound = -np.inf
        if case.laid is not None:
            case.bound = case.join.nats if case.join else float(case.laid.nats.max())

    def _current(self, pair: _Pair) -> Join | None:
        """The likeliest join of two groups, by what is known, in the frames that they have now."""
        case = self._cases[pair]
        if case.laid is None:
            return None
        i, j = case.ends
        pose = self.groups.relative(i, j, case.laid.pose)
        a, b = int(self.groups.group[i]), int(self.groups.group[j])
        if a > b:
            a, b, pose = b, a, inverse(pose)
        case.join = likeliest(self.groups, self.judge, a, b, replace(case.laid, pose=pose))
        return case.join
