# SPDX-License-Identifier: GPL-2.0-or-later
"""Misclosures of independent loops of stations.

Every two stations that share targets or surfaces give a relative pose by themselves, without the
rest of the network. A tree of the surest of them reaches all stations of a group; each further pair
closes one loop, and what is missing when the relative poses are followed around it is its
misclosure, as in a traverse (Ghilani and Wolf, *Elementary Surveying*, 13th ed., sec. 10.7: linear
misclosure over the length). Stations that all see the same faces close among themselves: such a
loop tells less than one through several rooms.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from ..angles import Floats, unit, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import between, composed, inverse, moved
from .model import Loop
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .targets import TargetSightings

VAGUEST_M = 0.05
"""A pair that fixes its stations worse than this to each other closes no loop."""


def loops_of(
    evidence: Evidence, group: AdjustedGroup, progress: Progress = SILENT
) -> tuple[Loop, ...]:
    """The independent loops of an adjusted group, the worst first."""
    pairs, pose, sigma = _pairs(evidence, group, progress)
    count = len(group.members)
    if not len(pairs):
        return ()
    table = csr_matrix((sigma, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    tree = minimum_spanning_tree(table).tocoo()
    in_tree = set(zip(tree.row.tolist(), tree.col.tolist()))
    relative = {(int(i), int(j)): p for (i, j), p in zip(pairs, pose)}
    both = csr_matrix(tree + tree.T)
    before: Ints = np.full(count, -9999, dtype=np.int64)
    for start in range(count):
        if before[start] < 0:
            order, previous = breadth_first_order(both, start, directed=False)
            before[order[1:]] = previous[order[1:]]
            before[start] = start
    own = group.pose
    loops = [
        _loop(_path(before, i, j), relative, own, group.members)
        for i, j in relative
        if (i, j) not in in_tree
    ]
    return worst_first(loops)


def worst_first(loops: Iterable[Loop]) -> tuple[Loop, ...]:
    """Loops by the size of their misclosure."""
    return tuple(sorted(loops, key=lambda loop: (-loop.misclosure_m, loop.stations)))


def _path(before: Ints, first: int, last: int) -> list[int]:
    """The stations from the last to the first through the tree."""

    def up(station: int) -> list[int]:
        line = [station]
        while before[line[-1]] != line[-1]:
            line.append(int(before[line[-1]]))
        return line

    a, b = up(first), up(last)
    while len(a) > 1 and len(b) > 1 and a[-2] == b[-2]:
        a.pop()
        b.pop()
    return b + a[-2::-1]


def _loop(
    path: list[int], relative: dict[tuple[int, int], Floats], own: Floats, members: Ints
) -> Loop:
    """Follow the pairs from the first station of the path's end around to itself."""
    around = [path[-1], *path]
    pose, length = np.zeros(3), 0.0
    for i, j in zip(around[:-1], around[1:]):
        step = relative[i, j] if (i, j) in relative else inverse(relative[j, i])
        pose = composed(pose, step)
        length += float(np.hypot(*(own[j, :2] - own[i, :2])))
    return Loop(
        tuple(int(members[s]) for s in around[:-1]),
        float(np.hypot(pose[0], pose[1])),
        float(abs(wrap_half(pose[2]))),
        length,
    )


def _pairs(
    evidence: Evidence, group: AdjustedGroup, progress: Progress
) -> tuple[Ints, Floats, Floats]:
    """Pairs of stations ``(k, 2)`` (places in the group) that fix each other by themselves, the
    pose ``(k, 3)`` of the second in the first, and its standard error of position ``(k,)``."""
    equations: dict[tuple[int, int], list[tuple[Floats, Floats, Floats]]] = {}
    of_surfaces = _of_surfaces(evidence, group, progress.part(0.0, 0.6))
    for pair, equation in (*of_surfaces, *_of_targets(evidence, group)):
        equations.setdefault(pair, []).append(equation)
    place = {int(m): k for k, m in enumerate(group.members)}
    for tie in group.relatives:
        pair = (place[tie.first], place[tie.second])
        now = between(group.pose[pair[0]], group.pose[pair[1]])
        turn = np.eye(3)
        s, c = np.sin(group.pose[pair[0], 2]), np.cos(group.pose[pair[0], 2])
        turn[:2, :2] = [[c, s], [-s, c]]
        gap = turn @ np.append(tie.pose[:2] - now[:2], wrap_half(tie.pose[2] - now[2]))
        equations.setdefault(pair, []).append((np.eye(3), gap, turn @ tie.covariance @ turn.T))
    found, poses, sigmas = [], [], []
    for (i, j), rows in progress.part(0.6, 1.0).over(sorted(equations.items())):
        normal, right = np.zeros((3, 3)), np.zeros(3)
        for design, value, covariance in rows:
            weight = np.linalg.inv(covariance)
            normal += design.T @ weight @ design
            right += design.T @ weight @ value
        scale = 1.0 / np.sqrt(np.maximum(np.diagonal(normal), 1e-300))
        if np.linalg.eigvalsh(normal * np.outer(scale, scale))[0] < 1e-9:
            continue
        covariance = np.linalg.inv(normal)
        sigma = float(np.sqrt(np.trace(covariance[:2, :2])))
        if sigma > VAGUEST_M:
            continue
        second = group.pose[j] + covariance @ right
        found.append((i, j))
        poses.append(between(group.pose[i], second))
        sigmas.append(sigma)
    return np.array(found, dtype=np.int64).reshape(-1, 2), np.array(poses), np.array(sigmas)


def _of_surfaces(
    evidence: Evidence, group: AdjustedGroup, progress: Progress
) -> list[tuple[tuple[int, int], tuple[Floats, Floats, Floats]]]:
    """Equations of the second station's shift and turn (plan frame, about the station) from every
    two faces of one surface: directions must agree, and the second's centre lie on the first."""
    sights = group.sights
    place = {int(m): k for k, m in enumerate(group.members)}
    out = []
    for of in progress.over(sights.of_each()):
        for at, a in enumerate(of):
            for b in of[at + 1 :]:
                i, j = place[int(sights.station[a])], place[int(sights.station[b])]
                if i == j:
                    continue
                if i > j:
                    i, j, a, b = j, i, b, a
                first = evidence.faces[int(sights.station[a])]
                second = evidence.faces[int(sights.station[b])]
                f, g = int(sights.face[a]), int(sights.face[b])
                azimuth = group.pose[i, 2] + first.normal_rad[f]
                normal, across = unit(azimuth), unit(azimuth + np.pi / 2)
                there = moved(group.pose[j], second.centre_m[g])
                apart = there - moved(group.pose[i], first.centre_m[f])
                arm = there - group.pose[j, :2]
                # A clockwise turn moves the arm (x, y) along (y, -x).
                design = np.array(
                    [[0.0, 0.0, 1.0], [*normal, normal @ np.array([arm[1], -arm[0]])]]
                )
                value = -np.array(
                    [
                        float(wrap_half(group.pose[j, 2] + second.normal_rad[g] - azimuth)),
                        normal @ apart,
                    ]
                )
                lever = float(across @ apart)
                turn = first.sigma_normal_rad[f] ** 2
                covariance = np.array(
                    [
                        [turn + second.sigma_normal_rad[g] ** 2, -lever * turn],
                        [
                            -lever * turn,
                            first.sigma_offset_m[f] ** 2
                            + second.sigma_offset_m[g] ** 2
                            + lever**2 * turn,
                        ],
                    ]
                )
                out.append(((i, j), (design, value, covariance)))
    return out


def _of_targets(
    evidence: Evidence, group: AdjustedGroup
) -> list[tuple[tuple[int, int], tuple[Floats, Floats, Floats]]]:
    """The same from every two sightings of one target that were used."""
    adjustment = group.snooping.adjustment
    used = adjustment.observations.by_item("sightings", adjustment.used).all(axis=1)
    rows = group.target_rows[used]
    s = evidence.sightings
    place = {int(m): k for k, m in enumerate(group.members)}
    out = []
    for target in np.unique(s.target[rows]):
        of = rows[s.target[rows] == target]
        for at, a in enumerate(of):
            for b in of[at + 1 :]:
                i, j = place[int(s.station[a])], place[int(s.station[b])]
                if i == j:
                    continue
                if i > j:
                    i, j, a, b = j, i, b, a
                here = moved(group.pose[i], s.local_m[a])
                there = moved(group.pose[j], s.local_m[b])
                arm = there - group.pose[j, :2]
                design = np.array([[1.0, 0.0, arm[1]], [0.0, 1.0, -arm[0]]])
                covariance = _spread(group.pose[i, 2], s, int(a)) + _spread(
                    group.pose[j, 2], s, int(b)
                )
                out.append(((i, j), (design, here - there, covariance)))
    return out


def _spread(orientation_rad: float, sightings: TargetSightings, row: int) -> Floats:
    """The covariance ``(2, 2)`` of a sighted point in the plan."""
    ahead = unit(orientation_rad + sightings.angle_rad[row])
    right = np.array([ahead[1], -ahead[0]])
    sideways = sightings.distance_m[row] * sightings.sigma_rad[row]
    return np.asarray(
        sightings.sigma_m[row] ** 2 * np.outer(ahead, ahead) + sideways**2 * np.outer(right, right)
    )
