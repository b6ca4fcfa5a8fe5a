# SPDX-License-Identifier: GPL-2.0-or-later
"""Which pairs of captures to lay over each other first.

Of n stations each shares something with a handful, but n (n - 1) / 2 pairs could. So stations that
were taken one after the other, or whose geotags lie near, are tried first, and what that joins need
not be tried again: pairs within a group fall away. A geotag may be far off indoors: what it rules
out comes last, for stations that are still alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..captures.model import Ints

Pair = tuple[int, int]

FEW = 1000
"""So many pairs are tried in one round."""

AT_ONCE = 4000
"""Of pairs that nothing speaks for, so many are tried before what they say is looked at."""

IN_ORDER, AROUND = 8, 16
"""Stations that each is tried with first: before and after it in the survey's order, and nearest by
geotag."""

GEOTAG_SIGMAS = 4.0


@dataclass(frozen=True)
class Round:
    """Pairs to be tried; only those of stations still alone where `alone`."""

    pairs: list[Pair]
    alone: bool = False

    def left(self, group: Ints) -> list[Pair]:
        """The pairs that the groups ``(S,)`` found so far leave to be tried."""
        size = np.bincount(group)[group]
        return [
            (i, j)
            for i, j in self.pairs
            if group[i] != group[j] and not (self.alone and min(size[i], size[j]) > 1)
        ]


def pair_rounds(
    pairs: Sequence[Pair], place_m: Floats | None, sigma_m: Floats | None, reach_m: Floats
) -> list[Round]:
    """The pairs in rounds, the likeliest first.

    `place_m (S, 2)` are the geotags (NaN: none) with 1-sigma errors `sigma_m (S,)`, `reach_m (S,)`
    is how far each station measured.
    """
    if len(pairs) <= FEW:
        return [Round(list(pairs))] if len(pairs) else []
    first, second = np.array(pairs, dtype=np.int64).T
    count = len(reach_m)
    away = np.full(len(pairs), np.nan)
    doubt = np.zeros(len(pairs))
    if place_m is not None and sigma_m is not None:
        away = np.hypot(*(place_m[first] - place_m[second]).T)
        doubt = GEOTAG_SIGMAS * np.hypot(sigma_m[first], sigma_m[second])
    between = (second - first).astype(float)
    soon = _nearest(first, second, between, count, IN_ORDER)
    soon |= _nearest(first, second, away, count, AROUND)
    far = np.nan_to_num(away - doubt) > reach_m[first] + reach_m[second]
    # Nearer ones first; where there are no geotags, those taken soon after each other.
    order = np.lexsort((second, first, between, np.where(np.isfinite(away), away, 0.0)))
    rounds = [_round(first, second, order[soon[order]])]
    for chosen in (~soon & ~far, ~soon & far):
        some = order[chosen[order]]
        parts = np.array_split(some, max(-(-len(some) // AT_ONCE), 1))
        rounds.extend(_round(first, second, part, bool(far[part].any())) for part in parts)
    return [some for some in rounds if some.pairs]


def _round(first: Ints, second: Ints, chosen: Ints, alone: bool = False) -> Round:
    return Round([(int(first[k]), int(second[k])) for k in chosen], alone)


def _nearest(first: Ints, second: Ints, away: Floats, count: int, most: int) -> np.ndarray:
    """Which pairs are among the `most` nearest of one of their stations; NaN is far."""
    chosen = np.zeros(len(away), dtype=bool)
    known = np.flatnonzero(np.isfinite(away))
    station = np.concatenate([first[known], second[known]])
    pair = np.concatenate([known, known])
    order = np.lexsort((pair, away[pair], station))
    station, pair = station[order], pair[order]
    begin = np.searchsorted(station, np.arange(count))
    rank = np.arange(len(station)) - begin[station]
    chosen[pair[rank < most]] = True
    return chosen
