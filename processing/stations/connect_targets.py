# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining groups of stations by the targets that both sighted."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, wrap_half
from .connect_groups import Groups
from .connect_judge import BENT_RAD, Judge
from .targets import pose_from_targets, turn_sigma_rad


def join_by_targets(groups: Groups, judge: Judge | None = None) -> None:
    """Join groups that share two or more targets, best-determined first, until none is left.

    Targets known to a whole group count, so that a station which shares one target each with two
    connected stations is joined too. Two targets that agree may be two names mistaken for each
    other: compass and walls (`judge`, if there are any) must not speak against them.
    """
    failed: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
    while True:
        best: tuple[tuple[float, float], int, int, Floats] | None = None
        for first, second in _sharing(groups):
            key = (tuple(groups.members(first)), tuple(groups.members(second)))
            if key in failed:
                continue
            common = groups.common(first, second)
            found = pose_from_targets(common)
            if found is None:
                failed.add(key)
                continue
            pose, members = found
            if int(members.sum()) < 3 and not _credible(groups, judge, first, second, pose):
                failed.add(key)
                continue
            rank = (
                float(members.sum()) - 2.0 * float((~members).sum()),
                -turn_sigma_rad(common, members),
            )
            if best is None or rank > best[0]:
                best = (rank, first, second, pose)
        if best is None:
            return
        _, first, second, pose = best
        _mark_outliers(groups, first, second, pose)
        groups.join(first, second, pose)


def _credible(groups: Groups, judge: Judge | None, first: int, second: int, pose: Floats) -> bool:
    """Whether neither the compasses nor what the captures see exclude a pose."""
    turn = groups.compass_turn(first, second)
    if turn is not None and abs(float(wrap_half(pose[2] - turn[0]))) > BENT_RAD:
        return False
    return judge is None or not judge.contradiction(
        groups.members(first), groups.members(second), pose
    )


def _mark_outliers(groups: Groups, first: int, second: int, pose: Floats) -> None:
    """Take sightings that contradict the others out of the positions of targets."""
    common = groups.common(first, second)
    wrong = common.misfit_m(pose) > 3.0 * common.allowed_m() + 0.03
    s = groups.sightings
    smaller = min((first, second), key=lambda g: (len(groups.members(g)), -g))
    for target in common.target[wrong]:
        for row in np.flatnonzero((s.target == target) & (groups.group[s.station] == smaller)):
            groups.why_out.setdefault(
                int(row), "contradicts the other sightings of the two stations' targets"
            )


def _sharing(groups: Groups) -> list[tuple[int, int]]:
    """Pairs of groups that sighted two or more common targets."""
    s, out = groups.sightings, groups.out
    seen: dict[int, set[int]] = {}
    for row in np.flatnonzero(~out):
        seen.setdefault(int(groups.group[s.station[row]]), set()).add(int(s.target[row]))
    leaders = sorted(seen)
    return [
        (a, b)
        for k, a in enumerate(leaders)
        for b in leaders[k + 1 :]
        if len(seen[a] & seen[b]) >= 2
    ]
