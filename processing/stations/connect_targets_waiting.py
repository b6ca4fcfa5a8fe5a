# SPDX-License-Identifier: GPL-2.0-or-later
"""Pairs of groups that wait to be joined by their targets, the best-determined first.

When one group is taken into another, only those that sighted a target of it are looked at again, so
that the cost grows with the stations and not with the square of their number.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappop, heappush
from itertools import count
from typing import Generic, Protocol, TypeVar

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_groups import Groups
from .target_names import settle_names
from .target_poses import Points


class Ranked(Protocol):
    """What is known about a pair of groups; of several the one that ranks highest comes first."""

    @property
    def rank(self) -> tuple[float, ...]: ...


T = TypeVar("T", bound=Ranked)

Look = Callable[[int, int, Points, Points], T]


class Waiting(Generic[T]):
    """Pairs of groups, the lesser first, with what `look` finds of them by their targets; with
    `level (S,)` only of groups that share a storey."""

    def __init__(
        self, groups: Groups, look: Look[T], level: Ints | None, progress: Progress = SILENT
    ) -> None:
        self._groups, self._look, self._level, self._progress = groups, look, level, progress
        self._order: list[tuple[tuple[float, ...], int, int, int, T]] = []
        self._stamp: dict[tuple[int, int], int] = {}
        self._stamps = count()
        self._asked: set[tuple[int, int]] = set()
        self._gone: set[int] = set()
        self._points: dict[int, Points] = {}
        for group in groups.leaders():
            others = groups.sharing(group)
            self._look_at(group, others[others > group])

    def points(self, group: int) -> Points:
        """The targets of a group."""
        if group not in self._points:
            self._points[group] = self._groups.points(group)
        return self._points[group]

    def next(self) -> tuple[int, int, T] | None:
        """The pair whose turn it is; None when none is left. It comes again when it is put back,
        or when either group grows."""
        while self._order:
            _, first, second, stamp, found = heappop(self._order)
            gone = first in self._gone or second in self._gone
            if not gone and self._stamp.get((first, second)) == stamp:
                self._asked.add((first, second))
                return first, second, found
        return None

    def put(self, first: int, second: int, found: T) -> None:
        """Let a pair wait for its turn."""
        stamp = self._stamp[first, second] = next(self._stamps)
        heappush(self._order, (tuple(-value for value in found.rank), first, second, stamp, found))

    def join(self, first: int, second: int, pose: Floats) -> None:
        """Take the second group into the first, settle the names of their targets, and look at all
        that this concerns."""
        groups = self._groups
        before, out, storeys = groups.sightings.target, groups.out, self._storeys(first)
        own = groups.group[groups.sightings.station] == second
        groups.join(first, second, pose)
        settle_names(groups, first, last=False)
        after = groups.sightings.target
        self._gone.add(second)
        self._points.pop(first, None)
        concerned = own | (before != after) | (out != groups.out)
        targets = np.union1d(before[concerned], after[concerned])
        sighted = np.isin(after, targets) & ~groups.out
        near = set(groups.group[groups.sightings.station[sighted]].tolist()) - {first}
        if not np.array_equal(storeys, self._storeys(first)):
            near = set(groups.leaders()) - {first}
        for other in near:
            self._stamp.pop(_pair(first, other), None)
        # What was decided about a pair was decided by all that the two groups knew then.
        others = groups.sharing(first).tolist()
        again = [other for other in others if other in near or _pair(first, other) in self._asked]
        self._look_at(first, np.array(again, dtype=np.int64))

    def _look_at(self, group: int, others: Ints) -> None:
        self._progress.at(0.0)
        for other in others.tolist():
            first, second = _pair(group, other)
            self._asked.discard((first, second))
            storeys = self._storeys(first), self._storeys(second)
            if self._level is None or len(np.intersect1d(*storeys)):
                found = self._look(first, second, self.points(first), self.points(second))
                self.put(first, second, found)

    def _storeys(self, group: int) -> Ints:
        if self._level is None:
            return np.empty(0, dtype=np.int64)
        return np.unique(self._level[self._groups.members(group)])


def _pair(one: int, other: int) -> tuple[int, int]:
    return min(one, other), max(one, other)
