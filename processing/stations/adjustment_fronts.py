# SPDX-License-Identifier: GPL-2.0-or-later
"""The entries of the inverse of a sparse symmetric matrix that statistics need, and no others.

Residuals and ellipses need the covariances of unknowns that occur together in an observation: the
inverse on the pattern of the normal matrix. Takahashi's recursion gives exactly these from the
factors (Takahashi, Fagan & Chin 1973; Erisman & Tinney, *Comm. ACM* 18, 1975). Here it runs
supernode by supernode on dense fronts (multifrontal: Duff & Reid, *ACM TOMS* 9, 1983), so that the
work is a few hundred small matrix products.
"""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from ..angles import Floats
from ..captures.model import Ints


def elimination_order(first: Ints, second: Ints, nodes: int) -> Ints:
    """Nodes ``(nodes,)`` of a graph in an order of elimination with little fill (multiple minimum
    degree, in postorder), for edges between `first` and `second`."""
    if not nodes:
        return np.empty(0, dtype=np.int64)
    # SuperLU hands its ordering out only with a factorisation: one of a matrix with the graph's
    # pattern that is diagonally dominant, hence never pivoted.
    ones = -np.ones(len(first))
    graph = sparse.coo_matrix((ones, (first, second)), shape=(nodes, nodes))
    graph = (graph + graph.T).tocsr()
    degree = np.asarray(-graph.sum(axis=1)).ravel()
    matrix = (graph + sparse.diags(degree + 1.0)).tocsc()
    options = {"SymmetricMode": True}
    factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
    return np.argsort(factor.perm_c)


class Fronts:
    """Dense fronts of a symmetric matrix whose columns come in nodes (blocks).

    `node (c,)` is the node of each column, nodes numbered in order of elimination and columns
    sorted by node. `first`, `second (e,)` are the edges between nodes.
    """

    # A supernode is joined to its parent while that adds at most this share of zeros.
    _JOIN_SHARE = 0.25

    def __init__(self, node: Ints, first: Ints, second: Ints) -> None:
        self.columns = len(node)
        nodes = int(node[-1]) + 1 if len(node) else 0
        width = np.bincount(node, minlength=nodes)
        start = np.concatenate([[0], np.cumsum(width)])
        members, below = _supernodes(nodes, width, first, second, self._JOIN_SHARE)

        # Nodes of all fronts one after the other, then their columns: own ones first.
        flat = np.array(
            [k for own, rest in zip(members, below) for k in own + rest], dtype=np.int64
        )
        fronts = len(members)
        nodes_in = [len(own) + len(rest) for own, rest in zip(members, below)]
        of_node = np.repeat(np.arange(fronts), nodes_in)
        columns_in = width[flat]
        front = np.repeat(of_node, columns_in)
        before = np.cumsum(columns_in) - columns_in
        rows = np.arange(len(front)) + np.repeat(start[flat] - before, columns_in)
        self._size = np.bincount(front, minlength=fronts)
        self._offset = np.concatenate([[0], np.cumsum(self._size * self._size)])
        self.storage = int(self._offset[-1])
        first_row = np.cumsum(self._size) - self._size
        own = np.array([width[nodes].sum() for nodes in members], dtype=np.int64)
        local = np.arange(len(rows)) - first_row[front]
        is_own = local < own[front]
        self._front_of_column = np.empty(self.columns, dtype=np.int64)
        self._front_of_column[rows[is_own]] = front[is_own]
        # Keys (front, row) in ascending order, to find a row's place in a front.
        key = front * self.columns + rows
        order = np.argsort(key)
        self._key, self._place = key[order], local[order]
        # The rest of a front is a subset of its parent's rows.
        parent = np.full(fronts, -1, dtype=np.int64)
        has_rest = self._size > own
        parent[has_rest] = self._front_of_column[rows[(first_row + own)[has_rest]]]
        in_parent = self._find(parent[front[~is_own]], rows[~is_own])
        self._in_parent = np.split(in_parent, np.cumsum(self._size - own)[:-1])
        self._parent, self._own = parent.tolist(), own.tolist()

    def _find(self, front: Ints, rows: Ints) -> Ints:
        return self._place[np.searchsorted(self._key, front * self.columns + rows)]

    def positions(self, rows: Ints, columns: Ints) -> Ints:
        """Where entries (row, column) of the matrix lie in the flat storage of the fronts; the two
        must be of one clique of the graph."""
        front = np.minimum(self._front_of_column[rows], self._front_of_column[columns])
        return (
            self._offset[front]
            + self._find(front, rows) * self._size[front]
            + self._find(front, columns)
        )

    def inverse(self, flat: Floats) -> Floats:
        """The inverse on the fronts, flat, of a positive definite matrix given at the same
        positions (both triangles); everything else in `flat` is zero."""
        work = flat.copy()
        fronts = [
            work[self._offset[k] : self._offset[k + 1]].reshape(size, size)
            for k, size in enumerate(self._size)
        ]
        own_inverse, solved = [], []
        for k, front in enumerate(fronts):
            own = self._own[k]
            inverse = np.linalg.inv(front[:own, :own])
            own_inverse.append(0.5 * (inverse + inverse.T))
            x = front[own:, :own] @ own_inverse[-1]
            solved.append(x)
            if self._parent[k] >= 0:
                to = self._in_parent[k]
                fronts[self._parent[k]][to[:, None], to] += (
                    front[own:, own:] - x @ front[:own, own:]
                )
        for k in range(len(fronts) - 1, -1, -1):
            front, own, x = fronts[k], self._own[k], solved[k]
            if self._parent[k] >= 0:
                to = self._in_parent[k]
                rest = fronts[self._parent[k]][to[:, None], to]
                across = -rest @ x
                front[own:, own:] = rest
                front[own:, :own] = across
                front[:own, own:] = across.T
                front[:own, :own] = own_inverse[k] - x.T @ across
            else:
                front[:, :] = own_inverse[k]
        return work


def _supernodes(
    nodes: int, width: Ints, first: Ints, second: Ints, join_share: float
) -> tuple[list[list[int]], list[list[int]]]:
    """Supernodes in order of elimination: the nodes of each and the later ones of its front."""
    later: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in zip(first.tolist(), second.tolist()):
        if a != b:
            later[min(a, b)].add(max(a, b))
    for k in range(nodes):
        if later[k]:
            later[min(later[k])] |= later[k] - {min(later[k])}
    members: list[list[int]] = [[k] for k in range(nodes)]
    columns: list[int] = width.tolist()
    rest = [sum(columns[j] for j in later[k]) for k in range(nodes)]
    joined = [False] * nodes
    for k in range(nodes):
        if not later[k]:
            continue
        parent = min(later[k])
        wide = columns[k] + columns[parent]
        apart = sum(columns[j] * (columns[j] + 2 * rest[j]) for j in (k, parent))
        together = wide * (wide + 2 * rest[parent])
        if together - apart <= join_share * apart:
            members[parent] = members[k] + members[parent]
            columns[parent] = wide
            joined[k] = True
    heads = [k for k in range(nodes) if not joined[k]]
    return [members[k] for k in heads], [sorted(later[k]) for k in heads]
