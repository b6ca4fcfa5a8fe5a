# SPDX-License-Identifier: GPL-2.0-or-later
"""Which stations belong together, and roughly where: groups grown from the surest ties.

Common targets come first, then overlaps, as far as all captures together decide for one pose.
What stays undecided is left apart and said so: a wrong tie is worse than a missing one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .choices import PairRule
from .connect_coarse import CoarseConnector
from .connect_groups import Groups
from .connect_joins import SURE_NATS
from .connect_judge import Judge
from .connect_merge import Merger
from .connect_overlaps import OverlapTie, prior_of
from .connect_readings import ReadingsConnector
from .matching import Hypotheses, match
from .overlap import View
from .overlap_pairs import PairsToTry

COARSE_M = 0.003
"""Where distances scatter by more (1 sigma), fine agreement of walls tells nothing."""

LEAST_M = 2.0
"""Of many captures, two that are worth less together in their best pose are left apart: of 250
pairs of a tuning building that could be tied, none of the others was."""

FEW_COMPASSES = 4
"""So many compasses of a group tell which of them is bent."""


@dataclass(eq=False)
class Connector:
    """Joins groups by overlap; `views` are the captures prepared for matching, `level (S,)` their
    storeys. `overlaps` is what was looked at, `scatter` the factor on the errors of walls (None:
    not known yet); `at_last` says whether less is enough for what is left at the end."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    judge: Judge
    overlaps: list[OverlapTie] = field(default_factory=list)
    place_m: Floats | None = None
    place_sigma_m: Floats | None = None
    rule: PairRule | None = None
    scatter: float | None = None
    at_last: bool = True

    @classmethod
    def of(
        cls,
        views: Sequence[View],
        groups: Groups,
        level: Ints,
        place_m: Floats | None = None,
        place_sigma_m: Floats | None = None,
        rule: PairRule | None = None,
    ) -> Connector:
        """`place_m (S, 2)` are geotags (NaN: none), `place_sigma_m (S,)` their errors: they say
        which pairs of many are tried first. `rule` says which pairs may be (None: all)."""
        judge = Judge.of(views, groups, level)
        return cls(views, groups, level, judge, [], place_m, place_sigma_m, rule)

    def join(self, progress: Progress = SILENT) -> None:
        """Match pairs of stations of different groups and join what all captures together decide;
        rough captures by their readings."""
        if sum(view.field is not None for view in self.views) > 1:
            self._join_rough(progress.part(0.0, 0.6))
            progress = progress.part(0.6, 1.0)
        if self.rule is not None and not self.rule.search:
            return
        fine = np.array([view.noise_m <= COARSE_M for view in self.views], dtype=bool)
        coarse = self._pairs(~fine)
        tried, self.scatter = self._join_fine(np.flatnonzero(fine), progress.part(0.0, 0.5))
        if self.scatter > 1.0:
            # Walls agree worse than the readings' noise: an instrument's error, say.
            coarse = sorted([*tried, *coarse])
        if coarse:
            own = CoarseConnector(self.views, self.groups, self.level, self.judge, coarse)
            own.join(progress.part(0.5 if fine.any() else 0.0, 1.0))
            self.overlaps.extend(own.overlaps)

    def _join_fine(self, fine: Ints, progress: Progress) -> tuple[list[tuple[int, int]], float]:
        """Join captures by how finely their walls agree; the pairs looked at and the factor on the
        walls' errors."""
        merger = Merger(self.views, self.groups, self.level, self.judge, self.scatter)
        unknown = np.full((len(self.views), 2), np.nan)
        pairs = PairsToTry.of(
            fine,
            [view.faces for view in self.views],
            self.level,
            self.groups,
            self._comparable,
            unknown if self.place_m is None else self.place_m,
            unknown[:, 0] if self.place_sigma_m is None else self.place_sigma_m,
            progress.part(0.0, 0.1),
        )
        rounds = pairs.rounds()
        least_m = LEAST_M if len(rounds) > 1 else 0.0
        for step, wanted in progress.part(0.1, 1.0).each(rounds):
            some, part = pairs.next(wanted), step.part(0.0, 0.7)
            merger.add(self._matched(some, part, least_m, trust_compass=True))
            # A rival may be among the pairs still to come, or behind a bent compass.
            merger.join(step.part(0.7, 0.8), SURE_NATS)
            if wanted.last:
                bent = self._bent(some if wanted.alone else pairs.tried)
                if bent:
                    part = step.part(0.8, 0.9)
                    merger.add(self._matched(bent, part, least_m, trust_compass=False))
                merger.join(step.part(0.9, 0.95))
                if self.at_last and len(rounds) == 1:
                    # Of many captures most pairs were never laid over each other: then nobody
                    # knows that all that is likelier has its place.
                    merger.join_last(step.part(0.95, 1.0))
        self._note(merger)
        return sorted(pairs.tried), merger.scatter

    def _join_rough(self, progress: Progress) -> None:
        """Join rough captures by their readings."""
        fields = [view.field for view in self.views]
        rough = ReadingsConnector(fields, self.groups, self.level, may_search=self._may_search)
        rough.join(progress)
        self.groups.relatives = rough.relative_poses()
        for i, j, pose, score, gap, reason in rough.undecided():
            self.overlaps.append(OverlapTie(i, j, pose, score, gap, False, reason))

    def _pairs(self, coarse: np.ndarray) -> list[tuple[int, int]]:
        """Pairs of stations that an overlap may tie, the lesser first, with a coarse one."""
        group = self.groups.group
        return [
            (i, j)
            for j in range(len(self.views))
            for i in range(j)
            if (coarse[i] or coarse[j]) and group[i] != group[j] and self._comparable(i, j)
        ]

    def _comparable(self, i: int, j: int) -> bool:
        both_rough = self.views[i].rough and self.views[j].rough
        return bool(self.level[i] == self.level[j] and not both_rough and self._may_search(i, j))

    def _may_search(self, i: int, j: int) -> bool:
        return self.rule is None or self.rule.may_search(i, j)

    def _matched(
        self,
        pairs: Sequence[tuple[int, int]],
        progress: Progress,
        least_m: float,
        *,
        trust_compass: bool,
    ) -> Iterable[tuple[tuple[int, int], Hypotheses]]:
        """The hypotheses about pairs of stations."""
        for i, j in progress.over(pairs):
            prior = prior_of(self.groups.compass, i, j) if trust_compass else None
            yield (i, j), match(self.views[i], self.views[j], prior, least_m)

    def _bent(self, pairs: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
        """Pairs of stations of different groups that a bent compass may have kept apart: one that
        differs from its group's, or that few or no others confirm."""
        g = self.groups
        known = g.compass.known
        suspect = np.zeros(len(known), dtype=bool)
        for group in g.leaders():
            of = g.members(group)
            of = of[known[of]]
            north = g.compass.north(of, g.pose[of, 2])
            if north is None:
                continue
            off = np.abs(wrap_half(g.compass.bearing_rad[of] - g.pose[of, 2] - north[0]))
            suspect[of] = (len(of) < FEW_COMPASSES) | (off > 3.0 * g.compass.sigma_rad[of])
        return [
            (i, j)
            for i, j in sorted(pairs)
            if g.group[i] != g.group[j] and known[i] and known[j] and (suspect[i] or suspect[j])
        ]

    def _note(self, merger: Merger) -> None:
        """Put down what connected groups, and what did not, and why."""
        noted = [(join, "") for join in merger.joins] + merger.undecided()
        for join, reason in noted:
            self.overlaps.append(
                OverlapTie(*join.stations, join.relative, join.nats, join.gap, not reason, reason)
            )
