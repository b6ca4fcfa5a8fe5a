# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining groups of stations by the targets that both sighted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, fitted
from .connect_groups import Groups, Unchecked
from .connect_judge import Judge
from .connect_support import names_of, objection, smaller_first, support
from .target_constellations import Likeness, likenesses
from .target_names import settle_names
from .target_poses import Common, Points, pose_from_targets, turn_sigma_rad

SAME_M, SAME_RAD = 0.10, np.radians(2.0)
"""Poses that differ by less are one."""
SURE_TARGETS = 3
"""So many that agree are no mistaken names."""


@dataclass(frozen=True, eq=False)
class TargetJoin:
    """Two groups that targets tie: `pose (3,)` of the second's frame in the first one's, how sure
    it is against others (`rank`), and the targets that agree."""

    first: int
    second: int
    pose: Floats
    rank: tuple[float, ...]
    targets: Ints


def join_by_targets(
    groups: Groups,
    judge: Judge | None = None,
    progress: Progress = SILENT,
    level: Ints | None = None,
) -> None:
    """Join groups that share two or more targets, best-determined first, until none is left.

    Targets known to a whole group count, so that a station which shares one target each with two
    connected stations is joined too. Two targets that agree may be two names mistaken for each
    other: compass and walls (`judge`, if there are any) must not speak against them. Where names
    disagree, three or more targets that lie alike whatever their names join as well, unless they
    could lie in another way; which names were mistaken is found then. With `level (S,)` only groups
    that share a storey are joined.
    """
    version = dict.fromkeys(groups.leaders(), 0)
    waiting: list[tuple[tuple[float, ...], int, int, int, int, TargetJoin]] = []

    def look_at(group: int, others: Ints) -> None:
        progress.at(0.0)
        for other in others.tolist():
            first, second = min(group, other), max(group, other)
            if level is not None and not _one_storey(groups, level, first, second):
                continue
            found = _by_targets(groups, judge, first, second)
            if found is not None:
                worse = tuple(-value for value in found.rank)
                stamp = version[first], version[second]
                heappush(waiting, (worse, first, second, *stamp, found))

    for group in groups.leaders():
        others = groups.sharing(group)
        look_at(group, others[others > group])
    while waiting:
        _, first, second, *stamp, join = heappop(waiting)
        if stamp != [version[first], version[second]]:
            continue  # either was joined meanwhile, and they were looked at again
        # Asked only now: most of what waits is looked at again before its turn comes.
        if len(join.targets) < SURE_TARGETS and (
            why := objection(groups, judge, first, second, join.pose)
        ):
            _note_refused(groups, judge, join, why)
            continue
        _note_unchecked(groups, judge, join)
        groups.join(first, second, join.pose)
        settle_names(groups, first, last=False)
        version[first] += 1
        version[second] += 1
        look_at(first, groups.sharing(first))
    progress.at(1.0)


def mark_mistaken(groups: Groups) -> None:
    """Settle the names of all targets once the stations are placed for good."""
    for group in groups.leaders():
        settle_names(groups, group, last=True)


def _note_unchecked(groups: Groups, judge: Judge | None, join: TargetJoin) -> None:
    """Put down a join by two targets of which nothing but their distance is checked."""
    if len(join.targets) >= SURE_TARGETS:
        return
    if support(groups, judge, join.first, join.second, join.pose):
        return
    small, large = smaller_first(groups, join.first, join.second)
    names = " and ".join(groups.sightings.name[t] for t in join.targets)
    groups.unchecked.append(
        Unchecked(
            int(groups.members(small)[0]),
            int(groups.members(large)[0]),
            tuple(int(t) for t in join.targets),
            f"{names_of(groups, small)} tied to {names_of(groups, large)} by {names} alone, whose "
            "distance agrees: had their names been exchanged, it would stand turned by half a "
            "circle, and nothing would tell. A third target would.",
        )
    )


def _note_refused(groups: Groups, judge: Judge | None, join: TargetJoin, why: str) -> None:
    """Put down why two targets do not join, and whether they would with their names exchanged."""
    small, large = smaller_first(groups, join.first, join.second)
    names = " and ".join(groups.sightings.name[t] for t in join.targets)
    pair = f"{names_of(groups, small)} to {names_of(groups, large)}"
    text = f"{names} would tie {pair}, but {why}: not used"
    one, other = (groups.points(g).of(join.targets) for g in (join.first, join.second))
    exchanged = fitted(other.xy_m[::-1], one.xy_m, np.ones(2))
    if not objection(groups, judge, join.first, join.second, exchanged):
        text += "; it would do if their names had been exchanged"
    groups.refused.append(
        Unchecked(
            int(groups.members(small)[0]),
            int(groups.members(large)[0]),
            tuple(int(t) for t in join.targets),
            f"{text}.",
        )
    )


def _by_targets(groups: Groups, judge: Judge | None, first: int, second: int) -> TargetJoin | None:
    """How common targets tie two groups; None where they do not, or contradict each other. Of fewer
    than `SURE_TARGETS` nobody has asked yet whether anything speaks against them."""
    common = groups.common(first, second)
    named = pose_from_targets(common)
    pose, members = (None, np.zeros(len(common), dtype=bool)) if named is None else named
    # Large groups are bent a little, as nothing has adjusted them yet: that is no mistaken name.
    bent = (
        pose is not None and members.sum() >= SURE_TARGETS and common.misfit_m(pose).max() < SAME_M
    )
    if not (members.all() and len(members)) and not bent:
        found = [
            one
            for one in _alike(groups.points(first), groups.points(second))
            if len(one) > members.sum() and not objection(groups, judge, first, second, one.pose)
        ]
        if found:
            alike = _only_way(found)
            if alike is None:
                return None
            rank = (float(2 * alike.named_alike - len(alike)), -alike.misfit_m)
            return TargetJoin(first, second, alike.pose, rank, alike.first)
        if _contested(common, members):
            return None
    if pose is None:
        return None
    agreeing = int(members.sum())
    rank = (agreeing - 2.0 * (len(common) - agreeing), -turn_sigma_rad(common, members))
    return TargetJoin(first, second, pose, rank, common.target[members])


def _alike(first: Points, second: Points) -> list[Likeness]:
    """The ways in which targets lie alike: those of common names among themselves, else all."""
    common = np.intersect1d(first.target, second.target)
    found = likenesses(first.of(common), second.of(common))
    return found if any(one.sure for one in found) else likenesses(first, second)


def _only_way(found: Sequence[Likeness]) -> Likeness | None:
    """The one way in which targets lie alike whatever their names; None when it may be chance, or
    there is more than one."""
    best = found[0]
    rivals = [
        other
        for other in found[1:]
        # Two names exchanged are one mistake: a way with one mistake more is no rival.
        if len(other) == len(best)
        and other.named_alike > best.named_alike - 2
        and not _one_way(best.pose, other.pose)
    ]
    return best if best.sure and not rivals else None


def _one_way(pose: Floats, other: Floats) -> bool:
    shift, turn = apart(pose, other)
    return bool(shift < SAME_M and turn < SAME_RAD)


def _contested(common: Common, members: np.ndarray) -> bool:
    """Whether the targets that do not agree with a pose agree on another one, as many of them."""
    rest = Common(
        common.first_m[~members],
        common.second_m[~members],
        common.sigma_m[~members],
        common.target[~members],
    )
    other = pose_from_targets(rest)
    return other is not None and int(other[1].sum()) >= int(members.sum())


def _one_storey(groups: Groups, level: Ints, first: int, second: int) -> bool:
    """Whether two groups have stations of one storey."""
    return bool(np.isin(level[groups.members(first)], level[groups.members(second)]).any())
