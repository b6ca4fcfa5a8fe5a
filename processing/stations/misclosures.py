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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from ..angles import Floats, unit, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import between, composed, inverse, moved, pose_matrix
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
    pairs, pose, sigma = _pairs(evidence, group, progress.part(0.0, 0.6))
    progress.at(0.6)
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
    progress.at(0.7)
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


@dataclass(frozen=True, eq=False)
class _Equations:
    """Normal equations of the shift and turn ``(3,)`` of a second station (plan frame, about the
    station) against a first one, from what both observed: places in the group `first` < `second
    (n,)`, matrices `normal (n, 3, 3)` and right sides `right (n, 3)`."""

    first: Ints
    second: Ints
    normal: Floats
    right: Floats

    @classmethod
    def of(
        cls, first: Ints, second: Ints, design: Floats, value: Floats, covariance: Floats
    ) -> _Equations:
        """From equations ``(n, d, 3)`` with values ``(n, d)`` and their covariances."""
        weighted = np.swapaxes(design, 1, 2) @ np.linalg.inv(covariance)
        return cls(first, second, weighted @ design, np.einsum("nij,nj->ni", weighted, value))

    @classmethod
    def joined(cls, parts: Sequence[_Equations]) -> _Equations:
        return cls(*(np.concatenate(column) for column in zip(*(p._columns() for p in parts))))

    def _columns(self) -> tuple[np.ndarray, ...]:
        return self.first, self.second, self.normal, self.right

    def summed(self) -> _Equations:
        """One for each pair, in their order."""
        if not len(self.first):
            return self
        order = np.lexsort((self.second, self.first))
        first, second, normal, right = (column[order] for column in self._columns())
        new = np.append(True, (np.diff(first) != 0) | (np.diff(second) != 0))
        start = np.flatnonzero(new)
        return _Equations(
            first[start],
            second[start],
            np.add.reduceat(normal, start, axis=0),
            np.add.reduceat(right, start, axis=0),
        )


def _pairs(
    evidence: Evidence, group: AdjustedGroup, progress: Progress
) -> tuple[Ints, Floats, Floats]:
    """Pairs of stations ``(k, 2)`` (places in the group) that fix each other by themselves, the
    pose ``(k, 3)`` of the second in the first, and its standard error of position ``(k,)``."""
    place = np.full(len(evidence.names), -1, dtype=np.int64)
    place[group.members] = np.arange(len(group.members))
    pose = group.pose
    of_surfaces = _of_surfaces(evidence, group, place, pose, progress.part(0.0, 0.5))
    progress.at(0.5)
    of_targets = _of_targets(evidence, group, place, pose)
    progress.at(0.7)
    of_readings = _of_readings(group, place, pose)
    every = _Equations.joined([of_surfaces, of_targets, of_readings]).summed()
    size = np.maximum(np.einsum("nii->ni", every.normal), 1e-300) ** -0.5
    scaled = every.normal * size[:, :, None] * size[:, None, :]
    known = np.flatnonzero(np.linalg.eigvalsh(scaled)[:, 0] >= 1e-9)
    covariance = np.linalg.inv(every.normal[known])
    sigma = np.sqrt(covariance[:, 0, 0] + covariance[:, 1, 1])
    sure = sigma <= VAGUEST_M
    known, covariance, sigma = known[sure], covariance[sure], sigma[sure]
    first, second = every.first[known], every.second[known]
    there = pose[second] + np.einsum("nij,nj->ni", covariance, every.right[known])
    return np.column_stack([first, second]), between(pose[first], there), sigma


def _two_by_two(groups: Iterable[Ints], station: Ints, place: Ints) -> tuple[Ints, Ints]:
    """Every two items of each group ``(n,)`` that are of different stations, that of the lesser
    place first."""
    found = [of[np.stack(np.triu_indices(len(of), 1))] for of in groups]
    a, b = np.concatenate([np.empty((2, 0), dtype=np.int64), *found], axis=1)
    here, there = place[station[a]], place[station[b]]
    a, b = np.where(here < there, a, b), np.where(here < there, b, a)
    return a[here != there], b[here != there]


def _of_surfaces(
    evidence: Evidence, group: AdjustedGroup, place: Ints, pose: Floats, progress: Progress
) -> _Equations:
    """From every two faces of one surface: directions must agree, and the second's centre lie on
    the first."""
    sights = group.sights
    normal_rad, sigma_rad, sigma_m, centre_m = (
        sights.column(evidence.faces, name)
        for name in ("normal_rad", "sigma_normal_rad", "sigma_offset_m", "centre_m")
    )
    centre_m = centre_m.reshape(-1, 2)
    a, b = _two_by_two(progress.over(sights.of_each()), sights.station, place)
    i, j = place[sights.station[a]], place[sights.station[b]]
    azimuth = pose[i, 2] + normal_rad[a]
    normal, across = unit(azimuth), unit(azimuth + np.pi / 2)
    there = moved(pose[j], centre_m[b])
    apart = there - moved(pose[i], centre_m[a])
    arm = there - pose[j, :2]
    design = np.zeros((len(a), 2, 3))
    design[:, 0, 2] = 1.0
    design[:, 1, :2] = normal
    # A clockwise turn moves the arm (x, y) along (y, -x).
    design[:, 1, 2] = normal[:, 0] * arm[:, 1] - normal[:, 1] * arm[:, 0]
    off = wrap_half(pose[j, 2] + normal_rad[b] - azimuth)
    value = -np.column_stack([off, np.einsum("ni,ni->n", normal, apart)])
    lever = np.einsum("ni,ni->n", across, apart)
    turn = sigma_rad[a] ** 2
    covariance = np.empty((len(a), 2, 2))
    covariance[:, 0, 0] = turn + sigma_rad[b] ** 2
    covariance[:, 0, 1] = covariance[:, 1, 0] = -lever * turn
    covariance[:, 1, 1] = sigma_m[a] ** 2 + sigma_m[b] ** 2 + lever**2 * turn
    return _Equations.of(i, j, design, value, covariance)


def _of_targets(evidence: Evidence, group: AdjustedGroup, place: Ints, pose: Floats) -> _Equations:
    """From every two sightings of one target that were used."""
    adjustment = group.snooping.adjustment
    used = adjustment.observations.by_item("sightings", adjustment.used).all(axis=1)
    s = evidence.sightings
    rows = group.target_rows[used]
    rows = rows[np.argsort(s.target[rows], kind="stable")]
    first = np.flatnonzero(np.diff(s.target[rows])) + 1
    a, b = _two_by_two(np.split(rows, first), s.station, place)
    i, j = place[s.station[a]], place[s.station[b]]
    there = moved(pose[j], s.local_m[b])
    arm = there - pose[j, :2]
    design = np.zeros((len(a), 2, 3))
    design[:, 0, 0] = design[:, 1, 1] = 1.0
    design[:, 0, 2], design[:, 1, 2] = arm[:, 1], -arm[:, 0]
    value = moved(pose[i], s.local_m[a]) - there
    covariance = _spread(pose[i, 2], s, a) + _spread(pose[j, 2], s, b)
    return _Equations.of(i, j, design, value, covariance)


def _spread(orientation_rad: Floats, sightings: TargetSightings, rows: Ints) -> Floats:
    """The covariances ``(n, 2, 2)`` of sighted points in the plan."""
    ahead = unit(orientation_rad + sightings.angle_rad[rows])
    right = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    sideways = sightings.distance_m[rows] * sightings.sigma_rad[rows]
    axes = np.stack([ahead * sightings.sigma_m[rows, None], right * sideways[:, None]], axis=2)
    return np.asarray(axes @ np.swapaxes(axes, 1, 2))


def _of_readings(group: AdjustedGroup, place: Ints, pose: Floats) -> _Equations:
    """From the ties of rough captures."""
    ties = group.relatives
    i = place[np.array([tie.first for tie in ties], dtype=np.int64)]
    j = place[np.array([tie.second for tie in ties], dtype=np.int64)]
    now = between(pose[i], pose[j])
    gap = np.array([tie.pose for tie in ties]).reshape(-1, 3) - now
    gap[:, 2] = wrap_half(gap[:, 2])
    turn = pose_matrix(pose[i, 2])
    covariance = np.array([tie.covariance for tie in ties]).reshape(-1, 3, 3)
    return _Equations.of(
        i,
        j,
        np.tile(np.eye(3), (len(ties), 1, 1)),
        np.einsum("nij,nj->ni", turn, gap),
        turn @ covariance @ np.swapaxes(turn, 1, 2),
    )
