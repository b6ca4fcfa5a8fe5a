# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining groups of stations by the targets that both sighted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import apart, fitted
from .connect_groups import Groups, Unchecked
from .connect_judge import Judge
from .connect_support import names_of, objection, smaller_first, support
from .connect_targets_waiting import Waiting
from .target_constellations import Likeness, likenesses
from .target_names import settle_names
from .target_poses import Common, Points, common_of, pose_from_targets, turn_sigma_rad

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
    waiting: Waiting[TargetJoin | _Unclear] = Waiting(groups, _by_names, level, progress)
    while (turn := waiting.next()) is not None:
        first, second, join = turn
        # Asked only now: most of what waits is looked at again before its turn comes.
        if isinstance(join, _Unclear):
            progress.at(0.0)
            alike = _alike(waiting.points(first), waiting.points(second))
            cleared = _cleared(groups, judge, first, second, join, alike)
            if cleared is not None:
                waiting.put(first, second, cleared)
            continue
        if len(join.targets) < SURE_TARGETS and (
            why := objection(groups, judge, first, second, join.pose)
        ):
            _note_refused(groups, judge, join, why)
            continue
        _note_unchecked(groups, judge, join)
        waiting.join(first, second, join.pose)
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


def _by_names(first: int, second: int, one: Points, other: Points) -> TargetJoin | _Unclear:
    """How common targets tie two groups; unclear where they do not all agree. Of fewer than
    `SURE_TARGETS` nobody has asked yet whether anything speaks against them."""
    common = common_of(one, other)
    named = pose_from_targets(common)
    if named is None:
        return _Unclear(common, None, np.zeros(len(common), dtype=bool))
    pose, members = named
    # Large groups are bent a little, as nothing has adjusted them yet: that is no mistaken name.
    bent = members.sum() >= SURE_TARGETS and common.misfit_m(pose).max() < SAME_M
    if members.all() or bent:
        return _of_members(first, second, common, pose, members)
    return _Unclear(common, pose, members)


@dataclass(frozen=True, eq=False)
class _Unclear:
    """Common targets of which only `members (n,)` agree with a pose, the one that most agree with,
    or none with any."""

    common: Common
    pose: Floats | None
    members: np.ndarray

    @property
    def rank(self) -> tuple[float, ...]:
        """The highest rank that the join may turn out to have. No pose has more names on its side
        than that of the members, but for a single one, and others only count if they bring three
        targets together, and more than these."""
        agreeing = int(self.members.sum())
        alike = 2 * max(agreeing, 1) - max(agreeing + 1, SURE_TARGETS)
        by_name = agreeing - 2 * (len(self.common) - agreeing)
        return float(alike if self.pose is None else max(alike, by_name)), 0.0


def _cleared(
    groups: Groups,
    judge: Judge | None,
    first: int,
    second: int,
    unclear: _Unclear,
    likes: Sequence[Likeness],
) -> TargetJoin | None:
    """How targets tie two groups after all: in one of the ways in which they lie alike whatever
    their names, or by those names that agree; None where they do not, or contradict each other."""
    common, members = unclear.common, unclear.members
    found = [
        like
        for like in likes
        if len(like) > members.sum() and not objection(groups, judge, first, second, like.pose)
    ]
    if found:
        alike = _only_way(found)
        if alike is None:
            return None
        rank = (float(2 * alike.named_alike - len(alike)), -alike.misfit_m)
        return TargetJoin(first, second, alike.pose, rank, alike.first)
    if unclear.pose is None or _contested(common, members):
        return None
    return _of_members(first, second, common, unclear.pose, members)


def _of_members(
    first: int, second: int, common: Common, pose: Floats, members: np.ndarray
) -> TargetJoin:
    """The join by those of the common targets that agree with a pose."""
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
