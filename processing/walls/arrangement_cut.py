# SPDX-License-Identifier: GPL-2.0-or-later
"""Which cells of the arrangement are inside: a minimum cut.

Each cell votes with its area seen free for inside, and a little with what is unseen for outside,
more so behind a wall face. Each edge asks a price for separating inside from outside: none where a
wall face looks to the inside, little where a wall goes on, more where nothing speaks for a wall.
So the shadow of a piece of furniture belongs to the room when walls close it, while what wall
faces enclose stays outside. The labelling of least total price is a minimum s-t cut (Greig,
Porteous & Seheult 1989, J. R. Statist. Soc. B 51, 271-279), found by scipy's maximum flow.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ..angles import Floats
from ..captures.model import Bools
from .arrangement import Arrangement, Seen
from .arrangement_pieces import Piece, Pieces

UNSEEN_PRICE = 0.02
VEILED_PRICE = 0.01
FAR_PRICE = 0.20
"""Prices of a square metre inside that no station saw, in square metres seen; the last one far
from everything seen."""
BEHIND_PRICE_M = 0.04
BEHIND_LONG_PRICE_M = 0.40
BEFORE_GAIN_M = 0.40
"""Price, per metre of a wall face seen, of being inside behind it, the second where the face is
longer than furniture; and gain before it: it was seen through something free."""
LONGEST_FURNITURE_M = 2.5
"""What was seen in one line over more than this is a wall (common practice: few cupboards and
shelves are longer)."""
CLOSURE_PRICE_M = 0.02
NEAR_PRICE_M = 0.03
FAR_PRICE_M = 0.20
ASTRAY_PRICE_M = 0.30
PASSED_PRICE_M = 1.0
"""Prices of a metre of boundary, in square metres seen: across a gap in a wall; on the extension
of a wall, near to it and from twice its seen length on; where no wall looks to the inside; and
where beams passed the end of a wall that does not go on."""


def edge_prices(arrangement: Arrangement, pieces: Pieces, passed: Bools) -> tuple[Floats, Floats]:
    """Prices ``(E,)`` of each edge when only its left, or only its right, is inside;
    `passed (E, 2)` are those beside the ends of walls where none goes on."""
    count = len(arrangement.edge)
    e, p = arrangement.piece.T
    kind = pieces.kind[p]
    away = np.minimum(
        np.hypot(*(arrangement.middle_m[e] - pieces.ends_m[p, 0]).T) + pieces.from_wall_m[p, 0],
        np.hypot(*(arrangement.middle_m[e] - pieces.ends_m[p, 1]).T) + pieces.from_wall_m[p, 1],
    )
    share = np.minimum(away / (2.0 * pieces.backed_m[p]), 1.0)
    price = NEAR_PRICE_M + (FAR_PRICE_M - NEAR_PRICE_M) * share
    price[kind == Piece.CLOSURE] = CLOSURE_PRICE_M
    price[kind == Piece.BACKED] = 0.0
    left = np.full(count, ASTRAY_PRICE_M)
    right = np.full(count, ASTRAY_PRICE_M)
    # the free side of a piece lies to its right
    forward = arrangement.forward
    np.minimum.at(right, e[forward], price[forward])
    np.minimum.at(left, e[~forward], price[~forward])
    left[passed[:, 0]] = PASSED_PRICE_M
    right[passed[:, 1]] = PASSED_PRICE_M
    length = arrangement.edge_length_m
    return left * length, right * length


def wall_lengths(arrangement: Arrangement, pieces: Pieces) -> tuple[Floats, Floats]:
    """The lengths ``(C,)`` of wall faces seen that look into each cell, and the price of what is
    right behind them."""
    edge, piece = arrangement.piece.T
    backed = pieces.kind[piece] == Piece.BACKED
    long = pieces.backed_m[piece[backed]] > LONGEST_FURNITURE_M
    # of faces on one edge the longest counts
    rows = np.column_stack([edge[backed], arrangement.forward[backed], ~long])
    rows = rows[np.lexsort(rows.T[::-1])]
    new = np.append(True, (rows[1:, :2] != rows[:-1, :2]).any(axis=1))[: len(rows)]
    e, forward, long = rows[new, 0], rows[new, 1] == 1, rows[new, 2] == 0
    length = arrangement.edge_length_m[e]
    price = length * np.where(long, BEHIND_LONG_PRICE_M, BEHIND_PRICE_M)
    count = len(arrangement.cell)
    sums = []
    for cell, amount in (
        (np.where(forward, arrangement.right[e], arrangement.left[e]), length),
        (np.where(forward, arrangement.left[e], arrangement.right[e]), price),
    ):
        known = cell >= 0
        sums.append(np.bincount(cell[known], amount[known], count).astype(float))
    return sums[0], sums[1]


def inside_cells(
    arrangement: Arrangement, pieces: Pieces, seen: Seen, prices: tuple[Floats, Floats]
) -> Bools:
    """Which cells ``(C,)`` are inside, given what was seen of them and `edge_prices`."""
    count = len(arrangement.cell)
    area = arrangement.area_m2
    unseen = np.maximum(1.0 - seen.free - seen.veiled, 0.0)
    gain = area * seen.free
    loss = area * (UNSEEN_PRICE * unseen + VEILED_PRICE * seen.veiled + FAR_PRICE * seen.far)
    before, behind = wall_lengths(arrangement, pieces)
    gain = gain + BEFORE_GAIN_M * before
    loss = loss + behind
    gain[arrangement.frame] = 0.0
    loss[arrangement.frame] = area.sum() + 1.0
    if_left, if_right = prices
    both = (arrangement.left >= 0) & (arrangement.right >= 0)
    both &= arrangement.left != arrangement.right
    left, right = arrangement.left[both], arrangement.right[both]
    source, sink = count, count + 1
    every = np.arange(count)
    tail = np.concatenate([np.full(count, source), every, left, right])
    head = np.concatenate([every, np.full(count, sink), right, left])
    price = np.concatenate([gain, loss, if_left[both], if_right[both]])
    scale = 5e8 / max(float(price.sum()), 1.0)
    capacity = np.rint(price * scale).astype(np.int32)
    graph = csr_matrix(coo_matrix((capacity, (tail, head)), shape=(count + 2, count + 2)))
    graph.sum_duplicates()
    graph.eliminate_zeros()
    result = maximum_flow(graph, source, sink)
    flow = result.flow if hasattr(result, "flow") else result.residual
    rest = csr_matrix(graph - flow)
    rest.data[rest.data < 0] = 0
    rest.eliminate_zeros()
    reached = breadth_first_order(rest, source, return_predecessors=False)
    inside = np.zeros(count + 2, dtype=bool)
    inside[reached] = True
    return inside[:count]
