# SPDX-License-Identifier: GPL-2.0-or-later
"""Which edges of the arrangement beams crossed, and where that tells that no wall goes on.

What stands before a wall ends in the room: beams pass its end and meet the wall shortly behind, or
what else stands there. On the line beyond that end no wall goes on, however near the next one
is. Beams through a pane end shortly behind a wall as well, and those through a doorway far
behind it: they tell nothing of the wall beside.
"""

from __future__ import annotations

import numpy as np

from ..captures.model import Bools, Ints
from ..progress import SILENT, Progress
from .arrangement import FINEST_SAMPLE_M, Arrangement, Seen
from .arrangement_pieces import Piece, Pieces
from .free_space import FreeSpace
from .stretches import DEEPEST_FURNITURE_M

BESIDE_M = 0.015
PAST_M = 0.03
"""What ends so far behind a line is none of what stands on it: further than noise."""
LEAST_SHARE, LEAST_M = 0.25, 0.5
"""An edge is crossed when beams cross this share of its length, or so much of it."""


def looked_through(
    arrangement: Arrangement, free: FreeSpace, asked: Bools, progress: Progress = SILENT
) -> Bools:
    """Which of the edges ``asked (E,)`` readings crossed over a quarter of their length, or half a
    metre."""
    at = _Samples(arrangement, np.flatnonzero(asked))
    aside = BESIDE_M * at.to_left[at.edge]
    crossed = free.look(at.point_m + aside, progress.part(0.0, 0.6))[0]
    both = np.flatnonzero(crossed)
    crossed[both] = free.look((at.point_m - aside)[both], progress.part(0.6, 1.0))[0]
    result = np.zeros(len(asked), dtype=bool)
    result[at.chosen] = at.most(crossed)
    return result


def passed(
    arrangement: Arrangement,
    pieces: Pieces,
    seen: Seen,
    free: FreeSpace,
    progress: Progress = SILENT,
) -> Bools:
    """The edges ``(E, 2)`` beyond the end of a wall, its free side on their left or right, that
    beams crossed which went no deeper behind than furniture reaches."""
    result = np.zeros((len(arrangement.edge), 2), dtype=bool)
    asked = _beyond_ends(arrangement, pieces, seen)
    at = _Samples(arrangement, np.flatnonzero(asked.any(axis=1)))
    opaque = free.without_glass
    for side in (0, 1):
        some = np.flatnonzero(asked[at.chosen, side][at.edge])
        behind = at.to_left[at.edge[some]] * (1.0 if side else -1.0)
        depth = opaque.beyond(at.point_m[some], behind, progress.part(0.5 * side, 0.5 + 0.5 * side))
        short = np.zeros(len(at.edge), dtype=bool)
        short[some] = (depth > PAST_M) & (depth < DEEPEST_FURNITURE_M + PAST_M)
        result[at.chosen, side] = at.most(short)
    return result


def _beyond_ends(arrangement: Arrangement, pieces: Pieces, seen: Seen) -> Bools:
    """The edges ``(E, 2)`` between two cells of which something was seen, on which nothing stands
    but what a wall with its free side on their left, or right, would be beyond its ends."""
    both = (arrangement.left >= 0) & (arrangement.right >= 0)
    for side in (arrangement.left, arrangement.right):
        both[both] &= seen.free[side[both]] > 0.0
    edge, piece = arrangement.piece.T
    extends = pieces.kind[piece] == Piece.EXTENSION
    both[edge[~extends]] = False
    result = np.zeros((len(both), 2), dtype=bool)
    result[edge[extends], arrangement.forward[extends].astype(np.int64)] = True
    return result & both[:, None]


class _Samples:
    """Points along the chosen edges: `point_m (m, 2)` of the edges `edge (m,)` (places among
    `chosen (k,)`), the unit vectors `to_left (k, 2)`."""

    def __init__(self, arrangement: Arrangement, chosen: Ints) -> None:
        ends = arrangement.node_m[arrangement.edge[chosen]]
        way = ends[:, 1] - ends[:, 0]
        self.chosen = chosen
        self.length_m = arrangement.edge_length_m[chosen]
        self.count = np.clip((self.length_m / FINEST_SAMPLE_M).astype(np.int64), 3, 40)
        self.edge = np.repeat(np.arange(len(chosen)), self.count)
        rank = np.arange(len(self.edge)) - np.repeat(np.cumsum(self.count) - self.count, self.count)
        share = (rank + 0.5) / self.count[self.edge]
        self.point_m = ends[self.edge, 0] + share[:, None] * way[self.edge]
        self.to_left = np.column_stack([-way[:, 1], way[:, 0]]) / self.length_m[:, None]

    def most(self, holds: Bools) -> Bools:
        """Of which of the chosen edges ``(k,)`` enough points ``(m,)`` hold."""
        share = np.bincount(self.edge, holds, len(self.chosen)) / self.count
        most: Bools = (share >= LEAST_SHARE) | (share * self.length_m >= LEAST_M)
        return most
