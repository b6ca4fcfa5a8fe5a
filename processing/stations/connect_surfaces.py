# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining groups of stations by one target and the direction of the surface that carries it.

The point gives the place, the surface the turn. Nothing is left over to check them by, so that
walls, compasses and other targets must not speak against the pose, and what speaks for it, or that
nothing does, is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import composed
from .connect_groups import Groups
from .connect_judge import Judge
from .connect_support import MOST_NAMES, names_of, objection, smaller_first, support
from .target_poses import pose_from_direction

VAGUEST_TURN_RAD = np.radians(3.0)
"""A turn between two groups that is less certain than this (1 sigma) is none."""


@dataclass(frozen=True, eq=False)
class SurfaceJoin:
    """Two groups that know one target and the direction of its surface: `pose (3,)` of the second
    in the first one's frame, its turn's 1-sigma error, the target and the rows of the surfaces used
    in each."""

    first: int
    second: int
    pose: Floats
    sigma_rad: float
    target: int
    rows: tuple[int, ...]


def join_by_surfaces(
    groups: Groups,
    judge: Judge | None,
    level: Ints,
    *,
    within: bool,
    progress: Progress = SILENT,
) -> set[int]:
    """Join groups that share a target and the direction of its surface, the surest turn first;
    gives the rows of `groups.surfaces` that joined.

    A surface is seen from its free side by both: where only the opposite side would do, that is
    said. `within` joins groups that share a storey; otherwise rings, each on its own storey, say
    nothing about the surface that both storeys see, and only surface readings count.
    """
    used: set[int] = set()
    refused: dict[tuple[int, int, int], str] = {}
    while True:
        progress.at(0.0)
        found = sorted(_joins(groups, level, within), key=lambda join: join.sigma_rad)
        for join in found:
            why = _speaks_against(groups, judge, join)
            if not why:
                groups.told.append(_told(groups, judge, join))
                groups.join(join.first, join.second, join.pose)
                used.update(join.rows)
                break
            refused[join.first, join.second, join.target] = _refused(groups, judge, join, why)
        else:
            break
    groups.told.extend(
        text
        for (first, second, _), text in refused.items()
        if groups.group[first] != groups.group[second] and text not in groups.told
    )
    return used


def _joins(groups: Groups, level: Ints, within: bool) -> Iterator[SurfaceJoin]:
    """All that one target and its surface would join."""
    known = {
        group: (groups.points(group), _directions(groups, group, within))
        for group in groups.leaders()
    }
    leaders = [group for group, (_, directions) in known.items() if directions]
    storeys = {g: {int(k) for k in level[groups.members(g)]} for g in leaders}
    for n, first in enumerate(leaders):
        for second in leaders[n + 1 :]:
            if within and not storeys[first] & storeys[second]:
                continue
            (a, across), (b, other) = known[first], known[second]
            for target in sorted(set(across) & set(other)):
                sigma = float(np.hypot(across[target][1], other[target][1]))
                if sigma > VAGUEST_TURN_RAD:
                    continue
                pose = pose_from_direction(
                    a.at(target), b.at(target), across[target][0], other[target][0]
                )
                rows = (*across[target][2], *other[target][2])
                yield SurfaceJoin(first, second, pose, sigma, target, rows)


_Direction = tuple[float, float, tuple[int, ...]]


def _directions(groups: Groups, group: int, within: bool) -> dict[int, _Direction]:
    """By target the azimuth of its surface's normal in the group's frame, its 1-sigma error, and
    the rows it comes from; none where stations of the group see it from two sides."""
    f, s = groups.surfaces, groups.sightings
    out = groups.out
    sighted = {(int(a), int(b)) for a, b, gone in zip(s.station, s.target, out) if not gone}
    rows = np.flatnonzero((groups.group[f.station] == group) & (within | ~f.of_ring))
    rows = np.array([r for r in rows if (int(f.station[r]), int(f.target[r])) in sighted], int)
    azimuth = f.angle_rad[rows] + groups.pose[f.station[rows], 2]
    found: dict[int, _Direction] = {}
    for target in sorted({int(t) for t in f.target[rows]}):
        of = np.flatnonzero(f.target[rows] == target)
        weight = f.sigma_rad[rows[of]] ** -2.0
        middle = float(azimuth_of(weight @ unit(azimuth[of])))
        if np.abs(wrap_half(azimuth[of] - middle)).max() < np.pi / 4:
            sigma = float(weight.sum() ** -0.5)
            found[target] = (middle, sigma, tuple(int(r) for r in rows[of]))
    return found


def _speaks_against(groups: Groups, judge: Judge | None, join: SurfaceJoin) -> str:
    """What speaks against a join; empty if nothing does."""
    pose = join.pose
    common = groups.common(join.first, join.second)
    at = common.target == join.target
    lever = np.hypot(*(common.first_m - common.first_m[at]).T)
    off = common.misfit_m(pose)
    wrong = off > common.allowed_m() + 0.05 + 4.0 * join.sigma_rad * lever
    if wrong.any():
        names = ", ".join(groups.sightings.name[t] for t in common.target[wrong][:MOST_NAMES])
        return f"the sightings of {names} contradict it"
    return objection(groups, judge, join.first, join.second, pose)


def _refused(groups: Groups, judge: Judge | None, join: SurfaceJoin, why: str) -> str:
    """What is said of a join that something speaks against."""
    text = (
        f"{_what(groups, join)} would tie {names_of(groups, join.second)} to "
        f"{names_of(groups, join.first)}, but {why}: not used"
    )
    at = groups.points(join.first).at(join.target)
    about = np.append(at, 0.0)
    turned = composed(composed(about, [0.0, 0.0, np.pi]), composed(-about, join.pose))
    other = SurfaceJoin(join.first, join.second, turned, join.sigma_rad, join.target, join.rows)
    if not _speaks_against(groups, judge, other):
        text += "; it would do if the two saw the surface from opposite sides"
    return text + "."


def _told(groups: Groups, judge: Judge | None, join: SurfaceJoin) -> str:
    """What a join rests on, what that is worth, and what else speaks for it."""
    small, large = smaller_first(groups, join.first, join.second)
    of = groups.members(small)
    lever = np.hypot(*(groups.pose[of, :2] - groups.points(small).at(join.target)).T).max()
    found = support(groups, judge, join.first, join.second, join.pose)
    if len(groups.common(join.first, join.second)) > 1:
        found.append("other common targets agree")
    return (
        f"{names_of(groups, small)} tied to {names_of(groups, large)} by {_what(groups, join)} "
        f"alone: the turn is known to "
        f"{np.degrees(join.sigma_rad):.2f} deg, which is {1e3 * join.sigma_rad * lever:.0f} mm at "
        f"the farthest of them; {' and '.join(found) or 'nothing else checks it'}."
    )


def _what(groups: Groups, join: SurfaceJoin) -> str:
    return f"target {groups.sightings.name[join.target]} and the direction of its surface"
