# SPDX-License-Identifier: GPL-2.0-or-later
"""Connecting captures that are too rough for their faces: by all readings of whole groups.

Every pair of captures gives several candidate poses; a pose of two groups is judged by all pairs of
captures across them, so that what one pair cannot tell is decided by loops through the others. Two
groups are joined when one pose is clearly better than every other one, when no third group claims
the place, and when taking any station out again and asking anew gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_across import DIFFERENT_M, DIFFERENT_RAD, MOST_THROUGH, TOLERANCE_M, Across, Decision
from .connect_frames import apart, between
from .connect_groups import Groups, RelativePose
from .connect_overlaps import placed_by_both
from .overlap_field import Field, misfit_m, refined, verdict
from .overlap_search import Candidates, candidates, worth_of

LEAST_GROUP = 4
"""Fewer rough captures that nothing else ties have no loop to prove them, and are left apart."""

ALIKE_SHARE, ALIKE_M = 0.45, 3.0
"""Captures that agree on so much of all they see are of one room, or of two alike ones: nothing in
them tells which, and what ties one of them may belong to the other."""

ALIKE = "their readings agree all around: one room, or two alike ones, and nothing tells which"
UNSURE = "the readings do not tell this pose clearly from others"

RIVAL_SHARE = 0.5
OVERLAY_M = -0.5
"""Two groups that contradict each other by this much cannot both lie where they are said to."""

LEAST_TIE_M = 0.5
LEAST_MISFIT_M = 0.03
MOST_STATIONS = 30
"""Beyond this many rough captures of a storey a search without a start costs too much."""


@dataclass(eq=False)
class ReadingsConnector:
    """Joins groups of rough captures; `fields` are those of all stations (None: not rough, or too
    few readings), `level (S,)` their storeys; `may_search` says which pairs are looked at."""

    fields: Sequence[Field | None]
    groups: Groups
    level: Ints
    found: dict[tuple[int, int], Candidates] = field(default_factory=dict)
    alike: set[tuple[int, int]] = field(default_factory=set)
    may_search: Callable[[int, int], bool] = lambda i, j: True

    def __post_init__(self) -> None:
        self._across = Across(self.fields, self.groups, self.found)

    def join(self, progress: Progress = SILENT) -> list[Decision]:
        """Search all pairs of rough captures of different groups and join what is clear."""
        g = self.groups
        rough = [k for k, own in enumerate(self.fields) if own is not None]
        pairs = [
            (i, j)
            for j in rough
            for i in rough
            if i < j
            and self.level[i] == self.level[j]
            and g.group[i] != g.group[j]
            and self.may_search(i, j)
        ]
        if len(rough) > MOST_STATIONS:
            return []
        alone = {s for s in rough if len(g.members(int(g.group[s]))) == 1}
        self._search(pairs, progress.part(0.0, 0.8))
        self._find_alike()
        joined = self._grow(progress.part(0.8, 0.95))
        self._take_out_doubtful(set(alone), progress.part(0.95, 1.0))
        for leader in g.leaders():
            of = [int(s) for s in g.members(leader)]
            if len(of) < LEAST_GROUP and alone.issuperset(of):
                for station in of[1:]:
                    self._separate(station)
        return joined

    def _search(self, pairs: Sequence[tuple[int, int]], progress: Progress) -> None:
        worth: dict[int, np.ndarray] = {}
        for step, (i, j) in progress.each(pairs):
            if i not in worth:
                worth[i] = worth_of(self._across.field(i))
            self.found[i, j] = candidates(
                self._across.field(i), self._across.field(j), worth[i], step
            )

    def _find_alike(self) -> None:
        for (i, j), found in self.found.items():
            if not len(found):
                continue
            said = verdict(self._across.field(i), self._across.field(j), found.pose, TOLERANCE_M)
            whole = min(self._across.field(i).length_m.sum(), self._across.field(j).length_m.sum())
            same = said.agreed_m > max(ALIKE_SHARE * float(whole), ALIKE_M)
            if (same & (said.through_m < MOST_THROUGH * said.agreed_m)).any():
                self.alike.add((i, j))

    def _rough(self, group: int) -> list[int]:
        """The stations of a group that take part."""
        left_out = {station for pair in self.alike for station in pair}
        return [
            int(s)
            for s in self.groups.members(group)
            if self.fields[s] is not None and int(s) not in left_out
        ]

    # --- growing --------------------------------------------------------------------------------

    def _grow(self, progress: Progress) -> list[Decision]:
        g = self.groups
        joined: list[Decision] = []
        known: dict[tuple[tuple[int, ...], tuple[int, ...]], Decision | None] = {}
        start = len(g.leaders())
        while True:
            leaders = [a for a in g.leaders() if self._rough(a)]
            best: list[Decision] = []
            for k, a in enumerate(leaders):
                for b in leaders[k + 1 :]:
                    progress.at((start - len(g.leaders())) / start)
                    key = (tuple(g.members(a)), tuple(g.members(b)))
                    if key not in known:
                        known[key] = self._across.decide(self._rough(a), self._rough(b), progress)
                    one = known[key]
                    if one is not None:
                        best.append(one)
            sure = sorted(
                (one for one in best if one.sure),
                key=lambda one: (-one.lead_m, one.first, one.second),
            )
            taken = next((one for one in sure if not self._claimed(one, sure)), None)
            if taken is None:
                return joined
            a, b = int(g.group[taken.first]), int(g.group[taken.second])
            g.join(a, b, taken.pose)
            self._settle(g.members(min(a, b)))
            joined.append(taken)

    def _take_out_doubtful(self, alone: set[int], progress: Progress) -> None:
        """Take stations out again that the others, asked anew, would put elsewhere."""
        while True:
            wrong = [s for s in sorted(alone) if self._doubtful(s, progress)]
            if not wrong:
                return
            for station in wrong:
                alone.discard(station)
                self._separate(station)

    def _doubtful(self, station: int, progress: Progress) -> bool:
        g = self.groups
        rest = [s for s in self._rough(int(g.group[station])) if s != station]
        if not rest or (len(rest) == 1 and station < rest[0]):
            return False
        own = g.pose[station].copy()
        g.pose[station] = 0.0
        again = self._across.decide(rest, [station], progress)
        g.pose[station] = own
        if again is None:
            return True
        shift, turn = apart(again.pose, own)
        return bool(shift > DIFFERENT_M or turn > DIFFERENT_RAD)

    def _separate(self, station: int) -> None:
        """Make a station a group of its own again."""
        g = self.groups
        rest = np.array([s for s in g.members(int(g.group[station])) if s != station])
        g.group[rest] = int(rest.min())
        g.group[station] = station
        g.pose[station] = 0.0

    def undecided(self) -> list[tuple[int, int, Floats, float, float, str]]:
        """What the readings could not tell of stations that stay alone: pairs with their best pose,
        its worth, its gap, and why it was not used."""
        g, out = self.groups, []
        for i, j in sorted(self.alike):
            own = self.found[i, j]
            out.append((i, j, own.pose[0], float(own.score_m[0]), _gap(own), ALIKE))
        listed = {station for pair in self.alike for station in pair}
        for station, own_field in enumerate(self.fields):
            if own_field is None or station in listed or len(g.members(int(g.group[station]))) > 1:
                continue
            pairs = [pair for pair, own in self.found.items() if station in pair and len(own)]
            if pairs:
                best = max(pairs, key=lambda pair: (self.found[pair].score_m[0], pair))
                own = self.found[best]
                score = float(own.score_m[0])
                out.append((*best, own.pose[0], score, _gap(own), UNSURE))
        return out

    def _claimed(self, one: Decision, others: Sequence[Decision]) -> bool:
        """Whether a third group is as sure of a place that excludes this one."""
        mine = self._of_groups(one)
        for other in others:
            if other is one or other.lead_m < RIVAL_SHARE * one.lead_m:
                continue
            both = placed_by_both(mine, self._of_groups(other))
            if both is None:
                continue
            near, far, placed = both
            said = self._across.together(self._rough(near), self._rough(far), placed[None])
            if said[0] < OVERLAY_M:
                return True
        return False

    def _of_groups(self, one: Decision) -> Decision:
        """A decision with the groups that its two stations are of."""
        group = self.groups.group
        return replace(one, first=int(group[one.first]), second=int(group[one.second]))

    def _settle(self, members: Ints) -> None:
        """Move the stations of a group, one after the other, to where all the others agree with
        them best; the first keeps its place."""
        for _ in range(2):
            for station in members[1:]:
                rest = [int(s) for s in members if s != station and self.fields[s] is not None]
                if self.fields[station] is None or not rest:
                    continue
                own = self.groups.pose[station].copy()
                self.groups.pose[station] = 0.0
                moved_to = self._across.polished(rest, [int(station)], own[None])[0]
                shift, turn = apart(moved_to, own)
                near = shift < DIFFERENT_M and turn < DIFFERENT_RAD
                self.groups.pose[station] = moved_to if near else own

    # --- what the adjustment gets ---------------------------------------------------------------

    def relative_poses(self) -> list[RelativePose]:
        """Ties between the rough stations of each group, each from its own two captures."""
        g, out = self.groups, []
        for leader in g.leaders():
            members = self._rough(leader)
            for k, i in enumerate(members):
                for j in members[k + 1 :]:
                    tie = self._tie(i, j, between(g.pose[i], g.pose[j]))
                    if tie is not None:
                        out.append(tie)
        return out

    def _tie(self, i: int, j: int, start: Floats) -> RelativePose | None:
        a, b = self._across.field(i), self._across.field(j)
        pose, matrix = refined(a, b, start[None], (0.10, TOLERANCE_M, TOLERANCE_M))
        said = verdict(a, b, pose, TOLERANCE_M)
        shift, turn = apart(pose[0], start)
        if said.score_m[0] < LEAST_TIE_M or shift > DIFFERENT_M or turn > DIFFERENT_RAD:
            return None
        # Walls are off as a whole: a metre of wall is one observation with the misfit's error.
        misfit = max(misfit_m(a, b, pose[0], TOLERANCE_M), LEAST_MISFIT_M)
        weak = np.diag([1.0, 1.0, np.radians(20.0) ** -2.0])
        covariance = np.linalg.inv(matrix[0] / misfit**2 + weak)
        return RelativePose(i, j, pose[0], covariance, float(said.score_m[0]), misfit)


def _gap(found: Candidates) -> float:
    """How far the second-best candidate lies below the best, as a share."""
    second = float(found.score_m[1]) if len(found) > 1 else 0.0
    return 1.0 - max(second, 0.0) / float(found.score_m[0])
