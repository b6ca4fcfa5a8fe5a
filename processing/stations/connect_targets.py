# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining groups of stations by the targets that both sighted."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, wrap_half
from ..progress import SILENT, Progress
from .connect_frames import moved
from .connect_groups import Groups
from .connect_judge import BENT_RAD, Judge
from .target_poses import pose_from_targets, turn_sigma_rad

_Key = tuple[tuple[int, ...], tuple[int, ...]]
_Join = tuple[tuple[float, float], Floats]

MISTAKEN_M, MISTAKEN_SHARE = 0.12, 0.01
"""Sightings of a target that lie this far apart, and this share of the distance more, are not of
one target; adjustment finds what is nearer."""


def join_by_targets(
    groups: Groups, judge: Judge | None = None, progress: Progress = SILENT
) -> None:
    """Join groups that share two or more targets, best-determined first, until none is left.

    Targets known to a whole group count, so that a station which shares one target each with two
    connected stations is joined too. Two targets that agree may be two names mistaken for each
    other: compass and walls (`judge`, if there are any) must not speak against them.
    """
    known: dict[_Key, _Join | None] = {}
    while True:
        best: tuple[tuple[float, float], int, int, Floats] | None = None
        for first, second in _sharing(groups):
            key = (tuple(groups.members(first)), tuple(groups.members(second)))
            if key not in known:
                progress.at(0.0)
                known[key] = _by_targets(groups, judge, first, second)
            found = known[key]
            if found is not None and (best is None or found[0] > best[0]):
                best = (found[0], first, second, found[1])
        if best is None:
            progress.at(1.0)
            return
        _, first, second, pose = best
        _mark_outliers(groups, first, second, pose)
        groups.join(first, second, pose)


def _by_targets(groups: Groups, judge: Judge | None, first: int, second: int) -> _Join | None:
    """Rank and pose of the second group in the first one's frame by their common targets."""
    common = groups.common(first, second)
    found = pose_from_targets(common)
    if found is None:
        return None
    pose, members = found
    if int(members.sum()) < 3 and not _credible(groups, judge, first, second, pose):
        return None
    agreeing, others = float(members.sum()), float((~members).sum())
    return (agreeing - 2.0 * others, -turn_sigma_rad(common, members)), pose


def mark_mistaken(groups: Groups) -> None:
    """Take out sightings that lie far from the others of their target once the stations are
    placed: a name was mistaken. Where two sightings disagree nothing tells which, and both go."""
    s = groups.sightings
    at = moved(groups.pose[s.station], s.local_m)
    allowed = MISTAKEN_M + 4.0 * s.spread_m + MISTAKEN_SHARE * s.distance_m
    for target in range(len(s.name)):
        of_target = np.flatnonzero((s.target == target) & ~groups.out)
        for group in np.unique(groups.group[s.station[of_target]]):
            rows = of_target[groups.group[s.station[of_target]] == group]
            if len(rows) < 2:
                continue
            away = np.hypot(*np.moveaxis(at[rows, None] - at[rows], -1, 0))
            near = away <= np.maximum(allowed[rows], allowed[rows][:, None])
            support = near.sum(axis=1)
            best = int(np.argmax(support))
            wrong = ~near[best] if support[best] > len(rows) / 2 else np.ones(len(rows), dtype=bool)
            for row in rows[wrong]:
                groups.why_out[int(row)] = (
                    f"lies {1e3 * float(away[rows == row].max()):.0f} mm from where other stations "
                    f"sighted {s.name[target]}: was the name mistaken?"
                )


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
