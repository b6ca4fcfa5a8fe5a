# SPDX-License-Identifier: GPL-2.0-or-later
"""Where the normal matrix has entries, and which of them each observation adds to.

Found once for a network, block by block (the unknowns of a station or point are a block, here a
node), so that each iteration only adds numbers up.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..captures.model import Ints


class NodePairs:
    """Pairs of nodes that occur together in an observation.

    `cliques` are the nodes ``(n, g)`` of the items of each kind, -1 for one not solved for. The
    distinct pairs are (`row`, `column`), in both orders and with each node itself; `first` <
    `second` are those of two nodes, once.
    """

    def __init__(self, cliques: list[Ints], nodes: int) -> None:
        keys = []
        for clique in cliques:
            row, column = np.broadcast_arrays(clique[:, :, None], clique[:, None, :])
            keys.append(np.where((row >= 0) & (column >= 0), column * nodes + row, -1))
        itself = np.arange(nodes) * (nodes + 1)
        # The -1 in front makes sure that it is always the first.
        every = np.concatenate([[-1], itself, *[key.ravel() for key in keys]])
        distinct, where = np.unique(every, return_inverse=True)
        self.row, self.column = distinct[1:] % max(nodes, 1), distinct[1:] // max(nodes, 1)
        once = self.row < self.column
        self.first, self.second = self.row[once], self.column[once]
        self.cliques = cliques
        ends = np.cumsum([1 + nodes] + [key.size for key in keys])
        self.of_items = [
            where[start:end].reshape(key.shape) - 1
            for start, end, key in zip(ends[:-1], ends[1:], keys)
        ]


class Pattern:
    """Entries of a symmetric matrix in compressed columns: `row`, `column (e,)`, `start (c + 1,)`;
    `diagonal (c,)` are those on the diagonal.

    `rank` is each node's place in the order of elimination, `node (c,)` the rank of each column's
    node, `places` the columns ``(n, k)`` of the items of each kind (-1: not solved for) and
    `groups (k,)` the member of the item's clique that each belongs to.
    """

    def __init__(
        self, pairs: NodePairs, rank: Ints, node: Ints, places: list[Ints], groups: list[Ints]
    ) -> None:
        width = np.bincount(node, minlength=len(rank))
        first = np.concatenate([[0], np.cumsum(width)])
        row, column = rank[pairs.row], rank[pairs.column]
        order = np.lexsort((row, column))
        tall = width[row[order]]
        height = np.bincount(column, weights=width[row], minlength=len(rank)).astype(np.int64)
        above = np.cumsum(tall) - tall - (np.cumsum(height) - height)[column[order]]
        offset = np.empty(len(order), dtype=np.int64)
        offset[order] = above
        self.start = np.concatenate([[0], np.cumsum(np.repeat(height, width))])
        # Every entry of every pair's block: pair, column and row within the block.
        size = width[row] * width[column]
        pair = np.repeat(np.arange(len(size)), size)
        within = np.arange(len(pair)) - np.repeat(np.cumsum(size) - size, size)
        down, across = within % width[row[pair]], within // width[row[pair]]
        at = first[column[pair]] + across
        slot = self.start[at] + offset[pair] + down
        self.row, self.column = np.empty_like(slot), np.empty_like(slot)
        self.row[slot], self.column[slot] = first[row[pair]] + down, at
        self.diagonal = np.flatnonzero(self.row == self.column)
        self._takes, slots = [], []
        for place, group, clique, of_item in zip(places, groups, pairs.cliques, pairs.of_items):
            # An index of -1 finds the zero at the end, and is not taken.
            local = place - np.append(first[:-1][rank], 0)[clique][:, group]
            block = np.append(offset, 0)[of_item][:, group[:, None], group]
            slot = self.start[place][:, None, :] + block + local[:, :, None]
            take = (place >= 0)[:, :, None] & (place >= 0)[:, None, :]
            self._takes.append(take)
            slots.append(slot[take])
        self._slot = np.concatenate(slots or [np.empty(0, dtype=np.int64)])

    def gather(self, blocks: list[Floats]) -> Floats:
        """The entries ``(e,)`` that blocks ``(n, k, k)`` of the items of each kind add up to."""
        weights = [block[take] for block, take in zip(blocks, self._takes)]
        every = np.concatenate(weights or [np.empty(0)])
        return np.bincount(self._slot, every, len(self.row)).astype(float)
