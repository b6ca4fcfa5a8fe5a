# SPDX-License-Identifier: GPL-2.0-or-later
"""What is known of two groups that may be joined, and what of it stays when groups are joined."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from .connect_evidence import Laid
from .connect_frames import apart, inverse
from .connect_groups import Groups
from .connect_joins import Join
from .connect_weigh import POSE_NATS
from .matching import Hypotheses, distinct

Pair = tuple[int, int]

SUPPORT_M, SUPPORT_RAD = 0.015, np.radians(0.2)
SAME_M, SAME_RAD = 0.06, np.radians(0.7)
MOST_CANDIDATES = 10
LARGEST_SIGMA_M = 0.03


@dataclass(eq=False)
class Case:
    """Two groups that may be joined: the pairs of their `stations` that have hypotheses, and what
    was found when the groups were weighed last (`seen`), if they can be joined at all: ways to lay
    the second over the first, given between two stations (`ends`), and the likeliest `join`.
    `bound` is the most that its nats can be; `fresh` as long as both groups stay as they were."""

    stations: list[Pair]
    bound: float = np.inf
    seen: bool = False
    fresh: bool = False
    ends: Pair = (-1, -1)
    laid: Laid | None = None
    join: Join | None = None

    @property
    def weight(self) -> float:
        return self.join.weight if self.join is not None else -np.inf


def together(groups: Groups, known: Sequence[Case]) -> Case:
    """What is known of a group and another one by the one or two that the other was joined of.
    Evidence adds up where both say the same."""
    if len(known) == 2 and _may_agree(groups, *known):
        bound = sum(max(case.bound, 0.0) for case in known) + 2 * POSE_NATS
        return Case(sorted(known[0].stations + known[1].stations), bound)
    best = max(known, key=lambda case: case.bound)
    best.fresh = False
    best.stations = sorted(pair for case in known for pair in case.stations)
    return best


def _may_agree(groups: Groups, one: Case, two: Case) -> bool:
    """Whether two groups that are joined now want a third, or may want it, at one place."""
    if not one.seen or not two.seen:
        return True
    if one.laid is None or two.laid is None:
        return False
    (i, j), (k, m) = one.ends, two.ends
    wanted, other = groups.relative(i, j, one.laid.pose), groups.relative(k, m, two.laid.pose)
    if groups.group[i] != groups.group[k]:
        other = inverse(other)
    shift, turn = apart(wanted[:, None], other)
    return bool(((shift < 2 * SAME_M) & (turn < 2 * SAME_RAD)).any())


def candidates(
    groups: Groups, found: Mapping[Pair, Hypotheses], a: int, stations: Sequence[Pair]
) -> Floats:
    """Poses ``(H, 3)`` of a group in the frame of a that hypotheses of their stations ask for,
    those with most support first."""
    poses, worth = [], []
    for i, j in stations:
        h = found[i, j]
        sharp = h.sigma_m < LARGEST_SIGMA_M
        if not sharp.any():
            continue
        first, second = (i, j) if int(groups.group[i]) == a else (j, i)
        pose = h.pose[sharp] if first == i else inverse(h.pose[sharp])
        poses.append(groups.relative(first, second, pose))
        worth.append(h.score_m[sharp])
    if not poses:
        return np.empty((0, 3))
    pose, score = np.concatenate(poses), np.concatenate(worth)
    shift, turn = apart(pose[:, None], pose[None])
    support = np.exp(-((shift / SUPPORT_M) ** 2) - (turn / SUPPORT_RAD) ** 2) @ score
    return pose[distinct(pose, support, SAME_M, SAME_RAD, MOST_CANDIDATES)]
