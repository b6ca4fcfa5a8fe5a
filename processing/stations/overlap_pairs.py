# SPDX-License-Identifier: GPL-2.0-or-later
"""Which pairs of captures to lay over each other.

Of n stations each shares something with a handful, but n (n - 1) / 2 pairs could. Each station is
tried with a bounded number of others, in rounds: those taken just before and after it, and those
whose captures are most alike and that stand nearest. Between rounds what was joined is placed by
the geotags of the whole group, the better the more there are, and what is of one group need not be
tried again. A station that is still alone after that is tried with more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .connect_frames import fitted, moved
from .connect_groups import Groups
from .overlap_likeness import likeness

Pair = tuple[int, int]

FEW = 1000
"""So many pairs are all tried, in one round."""


@dataclass(frozen=True)
class Round:
    """How many stations each is tried with: so many before and after it in the survey's order
    (`soon`) and so many of the `likely` ones; only where one is still alone, if `alone`. After a
    `last` one every likely pair has been tried."""

    soon: int
    likely: int
    last: bool = False
    alone: bool = False


ROUNDS = (
    Round(2, 4),
    Round(2, 8),
    Round(4, 16, last=True),
    Round(8, 32, last=True, alone=True),
)
"""On simulated buildings of 200 stations the first round tries half of all pairs that can be tied,
the third one eight of ten."""

NEAR_M = 6.0
"""How far apart two stations stand that share something (1 sigma, each way)."""

NEARNESS = 0.4
"""What the logarithm of the likelihood of standing so near counts against likeness."""

UNPLACED = -2.0
"""That logarithm where nothing is known about where a station stands."""


@dataclass(eq=False)
class PairsToTry:
    """Pairs of stations, the lesser first, each at most once.

    `storeys` are stations that may be tied to each other, each lot in the survey's order, `alike`
    the likeness of their captures in the same order; `may` says whether a pair is to be tried at
    all. `place_m (S, 2)` are geotags (NaN: none) with their 1-sigma errors
    `sigma_m (S,)`; `groups` is what is joined so far.
    """

    storeys: Sequence[Ints]
    alike: Sequence[Floats]
    groups: Groups
    may: Callable[[int, int], bool]
    place_m: Floats
    sigma_m: Floats
    tried: set[Pair] = field(default_factory=set)

    @classmethod
    def of(
        cls,
        stations: Ints,
        faces: Sequence[Faces],
        level: Ints,
        groups: Groups,
        may: Callable[[int, int], bool],
        place_m: Floats,
        sigma_m: Floats,
        progress: Progress = SILENT,
    ) -> PairsToTry:
        """Pairs of `stations (n,)` of one `level (S,)` each, by the `faces` of all captures."""
        storeys = [stations[level[stations] == one] for one in np.unique(level[stations])]
        alike: list[Floats] = []
        if not _few(storeys):
            alike = [likeness([faces[s] for s in of], part) for part, of in progress.each(storeys)]
        return cls(storeys, alike, groups, may, place_m, sigma_m)

    def rounds(self) -> tuple[Round, ...]:
        """The rounds in which pairs come: one with all of them if they are few."""
        if _few(self.storeys):
            return (Round(max((len(of) for of in self.storeys), default=0), 0, last=True),)
        return ROUNDS

    def next(self, wanted: Round) -> list[Pair]:
        """The pairs of a round, in order, that the groups found so far leave to be tried."""
        group = self.groups.group
        alone = np.bincount(group, minlength=len(group))[group] == 1
        found: set[Pair] = set()
        for of in self.storeys:
            found.update(_soon(of, wanted.soon))
        if wanted.likely:
            found.update(self._likely(wanted.likely))
        new = sorted(
            (i, j)
            for i, j in found - self.tried
            if group[i] != group[j]
            and (not wanted.alone or alone[i] or alone[j])
            and self.may(i, j)
        )
        self.tried.update(new)
        return new

    def _likely(self, most: int) -> Iterator[Pair]:
        """Each station with so many of its storey that it shares something with most likely."""
        place, sigma = placed(self.groups, self.place_m, self.sigma_m)
        for of, alike in zip(self.storeys, self.alike):
            wanted = min(most, len(of) - 1)
            for row, s in enumerate(of if wanted else []):
                off = place[of] - place[s]
                near = -np.sum(off**2, axis=1) / (2 * (sigma[of] ** 2 + sigma[s] ** 2 + NEAR_M**2))
                worth = alike[row] + NEARNESS * np.where(np.isfinite(near), near, UNPLACED)
                worth[row] = -np.inf
                for t in of[np.argpartition(-worth, wanted - 1)[:wanted]]:
                    yield (int(min(s, t)), int(max(s, t)))


def placed(groups: Groups, place_m: Floats, sigma_m: Floats) -> tuple[Floats, Floats]:
    """Where stations stand by the geotags of their groups ``(S, 2)``, NaN where unknown, and the
    1-sigma errors ``(S,)``. A group's frame is fitted to its geotags, however many there are."""
    place, sigma = place_m.copy(), sigma_m.copy()
    for leader in groups.leaders():
        of = groups.members(leader)
        tagged = of[np.isfinite(place_m[of]).all(axis=1)]
        if len(tagged) < 2:
            continue
        weight = 1.0 / np.square(sigma_m[tagged])
        motion = fitted(groups.pose[tagged, :2], place_m[tagged], weight)
        place[of] = moved(motion, groups.pose[of, :2])
        # The shift and the turn each leave as much as one geotag's error over the root of their
        # number, wherever in the group.
        sigma[of] = np.sqrt(2.0 / weight.sum())
    return place, sigma


def _few(storeys: Sequence[Ints]) -> bool:
    return sum(len(of) * (len(of) - 1) // 2 for of in storeys) <= FEW


def _soon(of: Ints, most: int) -> Iterable[Pair]:
    """Pairs of stations that are at most so many apart in the survey's order."""
    for step in range(1, min(most, len(of) - 1) + 1):
        for i, j in zip(of[:-step], of[step:]):
            yield (int(i), int(j))
