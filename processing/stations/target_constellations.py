# SPDX-License-Identifier: GPL-2.0-or-later
"""Laying the targets of one frame over those of another by where they are, whatever their names.

Every pair of targets of the one is laid over every pair of the other of the same length, and what
else comes to lie together is counted (voting of hypotheses from minimal samples, after Fischler and
Bolles 1981, exhaustively). How many targets must agree follows from how many would by chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np

from ..angles import Floats, azimuth_of, wrap_half
from ..captures.model import Ints
from .connect_frames import fitted, moved, turned
from .target_poses import SHORTEST_BASE_M, Points

FEWEST = 3
"""Two targets lie as far apart as any other two; three have a shape."""

CHANCE, DOUBT = 0.01, 0.3
"""A likeness that would come about by chance less often than the first is one; from the second on
it says nothing, and between the two it is a doubt about whatever contradicts it."""

LEAST_AREA_M2 = 9.0
"""Targets near to each other are still those of a room this large, by chance anywhere in it."""

MOST_TOGETHER, MOST_STARTS, MOST_LOOKS = 4_000, 20_000, 4_000_000
"""Beyond this many targets of the one times those of the other, pairs of one length, or distances
to look at, the likeness of two groups is left to others to find."""


@dataclass(frozen=True, eq=False)
class Likeness:
    """How the second frame's targets lie on the first's: the motion `pose (3,)` of the second, and
    the pairs of targets ``(k,)`` that come together, `first` and `second` as in `Points.target`;
    `misfit_m` is the root mean square of their distances, `chance` how many such likenesses targets
    at random would have."""

    pose: Floats
    first: Ints
    second: Ints
    misfit_m: float
    chance: float

    def __len__(self) -> int:
        return len(self.first)

    @property
    def sure(self) -> bool:
        """Whether chance does not explain it."""
        return self.chance < CHANCE

    @property
    def named_alike(self) -> int:
        """How many of the pairs have one name."""
        return int(np.sum(self.first == self.second))


def likenesses(first: Points, second: Points) -> list[Likeness]:
    """The motions that bring three or more targets together and are not quite a matter of chance,
    those with the most pairs first; none where there are too many starts to look at."""
    starts = _starts(first, second)
    if starts is None or not len(starts[0]):
        return []
    pose, base = starts
    area = max(float(np.prod(np.ptp(first.xy_m, axis=0))), LEAST_AREA_M2)
    found: dict[tuple[tuple[int, int], ...], Likeness] = {}
    for pairs in sorted(_pairings(first, second, pose, base), key=len, reverse=True):
        if pairs in found:
            continue
        like = _refined(first, second, pairs)
        if like is None:
            continue
        allowed = float(np.median(_allowed(first, second, like)))
        hit = min(len(first) * np.pi * allowed**2 / area, 1.0)
        more = len(pairs) - 2
        chance = len(pose) * comb(len(second) - 2, more) * hit**more
        if chance < DOUBT:
            found[pairs] = Likeness(*like, chance)
    return sorted(found.values(), key=lambda one: (-len(one), -one.named_alike, one.misfit_m))


def _starts(first: Points, second: Points) -> tuple[Floats, Floats] | None:
    """Motions ``(H, 3)`` that bring a pair of targets onto one of the same length, and that
    length ``(H,)``."""
    if len(first) * len(second) > MOST_TOGETHER:
        return None
    i, j = np.triu_indices(len(first), 1)
    k, m = (at.ravel() for at in np.nonzero(~np.eye(len(second), dtype=bool)))
    ahead, behind = first.xy_m[j] - first.xy_m[i], second.xy_m[m] - second.xy_m[k]
    long, other = np.hypot(*ahead.T), np.hypot(*behind.T)
    tolerance = 4.0 * float(np.hypot(*(p.sigma_m.max(initial=0.0) for p in (first, second)))) + 0.01
    order = np.argsort(other, kind="stable")
    low = np.searchsorted(other[order], long - tolerance)
    count = np.searchsorted(other[order], long + tolerance, side="right") - low
    count[long < SHORTEST_BASE_M] = 0
    if count.sum() > min(MOST_STARTS, MOST_LOOKS / max(len(first) * len(second), 1)):
        return None
    a = np.repeat(np.arange(len(long)), count)
    within = np.arange(len(a)) - np.repeat(np.cumsum(count) - count, count)
    b = order[np.repeat(low, count) + within]
    turn = wrap_half(azimuth_of(ahead[a]) - azimuth_of(behind[b]))
    middle = (first.xy_m[i[a]] + first.xy_m[j[a]]) / 2
    back = turned((second.xy_m[k[b]] + second.xy_m[m[b]]) / 2, turn)
    return np.column_stack([middle - back, turn]), long[a]


def _pairings(
    first: Points, second: Points, pose: Floats, base_m: Floats
) -> set[tuple[tuple[int, int], ...]]:
    """Which targets (places in `first` and `second`) come together under each motion, where three
    or more do, each with one only."""
    placed = moved(pose[:, None, :], second.xy_m[None])
    away = np.hypot(*np.moveaxis(placed[:, :, None] - first.xy_m, -1, 0))
    nearest = np.argmin(away, axis=2)
    least = np.take_along_axis(away, nearest[..., None], axis=2)[..., 0]
    lever = np.hypot(*np.moveaxis(placed - placed.mean(axis=1, keepdims=True), -1, 0))
    allowed = 4.0 * np.hypot(first.sigma_m[nearest], second.sigma_m) + 0.005
    near = least < allowed * (1.0 + lever / base_m[:, None])
    found = set()
    for one, to in zip(near[near.sum(axis=1) >= FEWEST], nearest[near.sum(axis=1) >= FEWEST]):
        own = np.flatnonzero(one)
        if len(set(to[own].tolist())) == len(own):
            found.add(tuple((int(to[n]), int(n)) for n in own))
    return found


_Fit = tuple[Floats, Ints, Ints, float]


def _refined(first: Points, second: Points, pairs: tuple[tuple[int, int], ...]) -> _Fit | None:
    """The motion fitted to all pairs; None when they do not all agree with it."""
    a, b = np.array(pairs).T
    sigma = np.hypot(first.sigma_m[a], second.sigma_m[b])
    pose = fitted(second.xy_m[b], first.xy_m[a], sigma**-2.0)
    away = np.hypot(*(moved(pose, second.xy_m[b]) - first.xy_m[a]).T)
    if np.any(away > 4.0 * sigma + 0.005):
        return None
    return pose, first.target[a], second.target[b], float(np.sqrt(np.mean(away**2)))


def _allowed(first: Points, second: Points, like: _Fit) -> Floats:
    """Distances that noise allows the pairs ``(k,)``."""
    a = np.searchsorted(first.target, like[1])
    b = np.searchsorted(second.target, like[2])
    return 4.0 * np.hypot(first.sigma_m[a], second.sigma_m[b]) + 0.005
