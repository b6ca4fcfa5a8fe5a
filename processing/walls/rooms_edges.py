# SPDX-License-Identifier: GPL-2.0-or-later
"""What stands on the edges of the arrangement, and what hangs together over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..captures.model import Ints
from .arrangement import Arrangement
from .arrangement_pieces import CORNER_M, Piece, Pieces
from .openings_edges import separating_edges
from .openings_jambs import Gap


@dataclass(frozen=True, eq=False)
class EdgeKinds:
    """What stands on each edge ``(E,)``: `backed` readings on a face whose free side is the
    edge's left or right (two columns), `closure` an interrupted wall likewise, `bounds` a gap
    or the last bit of a wall up to its corner, both of which end a room."""

    backed: NDArray[np.bool_]
    closure: NDArray[np.bool_]
    bounds: NDArray[np.bool_]


def edge_kinds(arrangement: Arrangement, pieces: Pieces, gaps: tuple[Gap, ...]) -> EdgeKinds:
    """What stands on each edge of the arrangement."""
    bounds = separating_edges(arrangement, pieces, gaps)
    bounds[arrangement.piece[_corner_bits(arrangement, pieces), 0]] = True
    closure = _edges_with(arrangement, pieces, Piece.CLOSURE)
    return EdgeKinds(backed_edges(arrangement, pieces), closure, bounds)


def backed_edges(arrangement: Arrangement, pieces: Pieces) -> NDArray[np.bool_]:
    """Whether readings lie on each edge ``(E, 2)``, on a face whose free side is the edge's left,
    or right."""
    return _edges_with(arrangement, pieces, Piece.BACKED)


def _edges_with(arrangement: Arrangement, pieces: Pieces, kind: Piece) -> NDArray[np.bool_]:
    edge, piece = arrangement.piece.T
    on = pieces.kind[piece] == kind
    found = np.zeros((len(arrangement.edge), 2), dtype=bool)
    found[edge[on], arrangement.forward[on].astype(np.int64)] = True
    return found


def _corner_bits(arrangement: Arrangement, pieces: Pieces) -> NDArray[np.bool_]:
    """Which pairs of edge and piece are the short way from the last reading to the corner."""
    edge, piece = arrangement.piece.T
    ends = arrangement.node_m[arrangement.edge[edge]]
    far = np.full(len(edge), np.inf)
    for end in (0, 1):
        seen = pieces.from_wall_m[piece, end] == 0.0
        offset = ends - pieces.ends_m[piece, end][:, None, :]
        distance = np.hypot(offset[..., 0], offset[..., 1]).max(axis=1)
        far = np.where(seen, np.minimum(far, distance), far)
    return (pieces.kind[piece] == Piece.EXTENSION) & (far <= CORNER_M)


def components(
    arrangement: Arrangement, member: NDArray[np.bool_], passes: NDArray[np.bool_]
) -> Ints:
    """The number of the connected set of each member cell ``(C,)``, from 0; -1 for the others.
    Cells hang together over the edges ``passes (E,)``."""
    left, right = arrangement.left, arrangement.right
    joined = passes & (left >= 0) & (right >= 0)
    joined[joined] &= member[left[joined]] & member[right[joined]]
    count = len(member)
    graph = coo_matrix((np.ones(int(joined.sum())), (left[joined], right[joined])), (count, count))
    _, label = connected_components(graph, directed=False)
    label = np.where(member, label, -1)
    _, dense = np.unique(label[member], return_inverse=True)
    result = np.full(count, -1, dtype=np.int64)
    result[member] = dense.reshape(-1)
    return result
