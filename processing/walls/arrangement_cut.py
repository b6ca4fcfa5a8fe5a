# SPDX-License-Identifier: GPL-2.0-or-later
"""Which cells of the arrangement are inside: a minimum cut.

Each cell votes with its area, seen free for inside, unseen for outside; each edge asks a price
for separating inside from outside, none where a wall face looks to the inside, little where a
wall is interrupted, more where nothing speaks for a wall. The labelling of least total price is
a minimum s-t cut (Greig, Porteous & Seheult 1989, J. R. Statist. Soc. B 51, 271-279), found by
scipy's maximum flow.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ..angles import Floats
from .arrangement import Arrangement
from .arrangement_pieces import Piece, Pieces

UNSEEN_PRICE = 0.5
VEILED_PRICE = 0.1
"""Prices of a square metre inside a room that no station saw, in square metres seen."""
EXTENSION_PRICE_M = 0.10
CLOSURE_PRICE_M = 0.02
WRONG_WAY_PRICE_M = 0.20
"""Prices of a metre of boundary, in square metres seen: on the extension of a wall, across a gap
in a wall, on a wall face that looks the other way."""


def edge_prices(arrangement: Arrangement, pieces: Pieces) -> tuple[Floats, Floats]:
    """Prices ``(E,)`` of each edge when only its left, or only its right, is inside."""
    count = len(arrangement.edge)
    e, p = arrangement.piece.T
    right_price = np.full(len(e), EXTENSION_PRICE_M)
    left_price = np.full(len(e), EXTENSION_PRICE_M)
    closure = pieces.kind[p] == Piece.CLOSURE
    backed = pieces.kind[p] == Piece.BACKED
    right_price[closure], left_price[closure] = CLOSURE_PRICE_M, EXTENSION_PRICE_M
    right_price[backed], left_price[backed] = 0.0, WRONG_WAY_PRICE_M
    # the free side of a piece lies to its right
    against = ~arrangement.forward
    right_price[against], left_price[against] = left_price[against], right_price[against]
    left = np.full(count, np.inf)
    right = np.full(count, np.inf)
    np.minimum.at(left, e, left_price)
    np.minimum.at(right, e, right_price)
    length = arrangement.edge_length_m
    bare = np.where(np.isfinite(left), 0.0, WRONG_WAY_PRICE_M)
    left = np.where(np.isfinite(left), left, bare) * length
    right = np.where(np.isfinite(right), right, bare) * length
    return left, right


def inside_cells(
    arrangement: Arrangement, pieces: Pieces, free: Floats, veiled: Floats
) -> NDArray[np.bool_]:
    """Which cells ``(C,)`` are inside, given their shares that are free and veiled ``(C,)``."""
    count = len(arrangement.cell)
    area = arrangement.area_m2
    unseen = np.maximum(1.0 - free - veiled, 0.0)
    gain = area * free
    loss = area * (UNSEEN_PRICE * unseen + VEILED_PRICE * veiled)
    gain[arrangement.frame] = 0.0
    loss[arrangement.frame] = area.sum() + 1.0
    if_left, if_right = edge_prices(arrangement, pieces)
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
