# SPDX-License-Identifier: GPL-2.0-or-later
"""Which old rooms belong to which new ones.

Two links make groups: a room that lies mostly within another (a part of a split, or of a merger),
and, where a pair shares enough, the optimal assignment of old to new rooms by what they share over
what both cover together (Kuhn 1955, *The Hungarian method for the assignment problem*; by scipy).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..captures.model import Ints
from .model import RoomSet
from .overlap import Overlaps, overlaps

MOSTLY = 0.5
SHARED = 1.0 / 3.0 + 1e-6
"""Two rooms of one size that share half of each share a third of what both cover: not enough."""
CLEARLY = 1.1
LITTLE = 0.1


@dataclass(frozen=True)
class Group:
    """Rooms that belong together, and the pairs of them that the assignment found."""

    old: tuple[int, ...]
    new: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class Matching:
    """All groups, and the overlaps that they come from."""

    groups: tuple[Group, ...]
    overlaps: Overlaps
    both: dict[tuple[int, int], float]
    """Intersection over union of every pair that shares ground."""


def matched(old: RoomSet, new: RoomSet) -> Matching:
    """Every room in exactly one group; alone where it has no counterpart."""
    found = overlaps(old, new)
    both = {
        (int(i), int(j)): float(share) for i, j, share in zip(found.old, found.new, found.of_both)
    }
    pairs = assigned(len(old), len(new), found)
    within = (found.of_old > MOSTLY) | (found.of_new > MOSTLY)
    links = [*zip(found.old[within].tolist(), found.new[within].tolist())]
    links += [pair for pair in pairs if both[pair] >= SHARED]
    total = len(old) + len(new)
    i = np.array([a for a, _ in links], dtype=np.int64)
    j = np.array([b for _, b in links], dtype=np.int64) + len(old)
    graph = coo_matrix((np.ones(len(links)), (i, j)), shape=(total, total))
    count, label = connected_components(graph, directed=False)
    members: list[tuple[list[int], list[int]]] = [([], []) for _ in range(count)]
    for node, own in enumerate(label.tolist()):
        members[own][0 if node < len(old) else 1].append(
            node if node < len(old) else node - len(old)
        )
    groups = []
    for olds, news in members:
        inside = tuple(pair for pair in pairs if pair[0] in olds and pair[1] in news)
        groups.append(Group(tuple(olds), tuple(news), inside))
    return Matching(tuple(groups), found, both)


def assigned(n_old: int, n_new: int, found: Overlaps) -> list[tuple[int, int]]:
    """The pairs of the assignment of greatest total share, solved in each part of the graph of
    overlaps by itself; pairs that share little are none."""
    use = np.maximum(found.of_old, found.of_new) > LITTLE
    i, j, share = found.old[use], found.new[use], found.of_both[use]
    graph = coo_matrix((np.ones(len(i)), (i, j + n_old)), shape=(n_old + n_new,) * 2)
    _, label = connected_components(graph, directed=False)
    pairs: list[tuple[int, int]] = []
    for part in np.unique(label[i]) if len(i) else ():
        own = label[i] == part
        rows, row = np.unique(i[own], return_inverse=True)
        columns, column = np.unique(j[own], return_inverse=True)
        gain = np.zeros((len(rows), len(columns)))
        gain[row, column] = share[own]
        for a, b in zip(*linear_sum_assignment(gain, maximize=True)):
            if gain[a, b] > 0.0:
                pairs.append((int(rows[a]), int(columns[b])))
    return pairs


def is_clear(group: Group, both: dict[tuple[int, int], float]) -> bool:
    """Whether every room of a group has one partner, with which it shares enough, and clearly more
    than with any other."""
    if not len(group.pairs) == len(group.old) == len(group.new):
        return False
    for i, j in group.pairs:
        rivals = [both.get((i, k), 0.0) for k in group.new if k != j]
        rivals += [both.get((k, j), 0.0) for k in group.old if k != i]
        if both[i, j] < max(SHARED, CLEARLY * max(rivals, default=0.0)):
            return False
    return True


def covered(rooms: int, index: Ints, share: np.ndarray) -> np.ndarray:
    """The share of each room ``(rooms,)`` that rooms of the other date lie on."""
    return np.bincount(index, weights=share, minlength=rooms)
