# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups whose walls would tie them, if it were not for a target that both sighted.

Either the target's name was mistaken, or two rooms look alike. A sighting that at the walls' pose
fits another target decides for the walls; otherwise nothing does, the groups stay apart, and a
person is told what to look at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .choices import PairRule
from .connect import Connector
from .connect_frames import composed, inverse
from .connect_groups import Groups
from .connect_overlaps import OverlapTie
from .connect_support import names_of, smaller_first
from .overlap import View
from .target_names import settle_names
from .tie_names import sighting_name

MOST_PAIRS = 20
"""So many pairs of groups are looked at; more are a survey of another kind of trouble."""


@dataclass(frozen=True, eq=False)
class _Between(PairRule):
    """Only pairs of one station of the one and one of the other of two groups."""

    one: frozenset[int] = frozenset()
    other: frozenset[int] = frozenset()

    def may_search(self, i: int, j: int) -> bool:
        across = (i in self.one and j in self.other) or (j in self.one and i in self.other)
        return across and super().may_search(i, j)


def look_at_doubted(
    groups: Groups,
    views: Sequence[View],
    level: Ints,
    rule: PairRule,
    scatter: float | None,
    progress: Progress = SILENT,
) -> list[OverlapTie]:
    """Join groups that walls tie and whose contradicting sightings fit other targets there, and say
    of the others that only a target keeps them apart; gives the overlaps looked at. `scatter` is
    the factor on the errors of walls by all captures: what is left between two groups may be
    nothing but wrong pairs."""
    found: list[OverlapTie] = []
    for first, second in progress.over(_apart(groups, level)[:MOST_PAIRS]):
        if len({int(groups.group[first]), int(groups.group[second])}) < 2:
            continue
        trial = _without_common(groups, first, second)
        connector = Connector.of(views, trial, level, rule=_between(groups, first, second, rule))
        # Sightings speak against it: less than usual is not enough.
        connector.scatter, connector.at_last = scatter, False
        connector.join()
        if trial.group[first] != trial.group[second]:
            continue
        pose = _relative(groups, trial, first, second)
        trial.why_out = dict(groups.why_out)
        settle_names(trial, int(trial.group[first]), last=False)
        wrong = _contradicting(groups, first, second, pose)
        reason = ""
        if all(trial.sightings.target[row] != trial.sightings.label[row] for row in wrong):
            groups.join(first, second, pose)
        else:
            reason = _told(groups, first, second, wrong)
            groups.told.append(f"{reason[0].upper()}{reason[1:]}.")
        for tie in connector.overlaps:
            if tie.used:
                found.append(replace(tie, used=not reason, reason=reason))
    return found


def _apart(groups: Groups, level: Ints) -> list[tuple[int, int]]:
    """Groups that share a storey and a target, and are not joined."""
    s = groups.sightings
    good = ~groups.out
    seen = {
        group: set(s.target[good & (groups.group[s.station] == group)].tolist())
        for group in groups.leaders()
    }
    storeys = {group: set(level[groups.members(group)].tolist()) for group in seen}
    leaders = [group for group in seen if seen[group]]
    return [
        (a, b)
        for n, a in enumerate(leaders)
        for b in leaders[n + 1 :]
        if seen[a] & seen[b] and storeys[a] & storeys[b]
    ]


def _rows(groups: Groups, first: int, second: int) -> Ints:
    """The sightings, by stations of either group, of targets that both sighted."""
    s = groups.sightings
    common = groups.common(first, second).target
    own = np.isin(groups.group[s.station], (first, second))
    return np.flatnonzero(own & np.isin(s.target, common) & ~groups.out)


def _without_common(groups: Groups, first: int, second: int) -> Groups:
    """The groups as they are, without what they sighted in common."""
    out = {int(row): "doubted" for row in _rows(groups, first, second)}
    return replace(
        groups,
        group=groups.group.copy(),
        pose=groups.pose.copy(),
        why_out={**groups.why_out, **out},
        doubted=set(groups.doubted),
        relatives=list(groups.relatives),
        unchecked=[],
        told=[],
    )


def _between(groups: Groups, first: int, second: int, rule: PairRule) -> _Between:
    own = {f.name: getattr(rule, f.name) for f in fields(PairRule)}
    one, other = (frozenset(groups.members(g).tolist()) for g in (first, second))
    return _Between(**own, one=one, other=other)


def _relative(groups: Groups, trial: Groups, first: int, second: int) -> Floats:
    """The pose of the second group's frame in the first one's that the trial found."""
    here = composed(trial.pose[first], inverse(groups.pose[first]))
    there = composed(trial.pose[second], inverse(groups.pose[second]))
    return composed(inverse(here), there)


def _contradicting(groups: Groups, first: int, second: int, pose: Floats) -> Ints:
    """The sightings of the group with fewer stations that a pose contradicts."""
    common = groups.common(first, second)
    wrong = common.target[common.misfit_m(pose) > common.allowed_m() + 0.10]
    small, _ = smaller_first(groups, first, second)
    s = groups.sightings
    return np.flatnonzero(
        (groups.group[s.station] == small) & np.isin(s.target, wrong) & ~groups.out
    )


def _told(groups: Groups, first: int, second: int, wrong: Ints) -> str:
    small, large = smaller_first(groups, first, second)
    s = groups.sightings
    ties = ", ".join(
        sighting_name(groups.names[s.station[row]], s.name[s.label[row]]) for row in wrong
    )
    targets = ", ".join(dict.fromkeys(s.name[s.target[row]] for row in wrong))
    return (
        f"the walls of {names_of(groups, small)} and {names_of(groups, large)} agree at a place "
        f"that their sightings of {targets} contradict: either a name was mistaken (take out "
        f"{ties}, and adjust again) or two rooms look alike; left apart"
    )
