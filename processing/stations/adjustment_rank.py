# SPDX-License-Identifier: GPL-2.0-or-later
"""Finding the unknowns that a singular normal matrix leaves undetermined."""

from __future__ import annotations

import numpy as np
from scipy.sparse.linalg import splu

from ..angles import Floats
from ..captures.model import Ints
from .adjustment_normals import Layout, unit_scale

_SHIFT = 1e-10
_MOST = 24
# With columns scaled to unit length, an exact rank defect shows as a singular value of rounding
# size (1e-15 to 1e-11); below this one the normal equations, which square it, are void anyway.
_ZERO = 1e-8


def undetermined(layout: Layout, jacobians: list[Floats]) -> tuple[Ints, int]:
    """Columns that the null space of the whitened Jacobians moves, and its dimension (up to 24).

    Candidates come from inverse iteration on the scaled normal matrix (Golub & Van Loan, *Matrix
    Computations*, 4th ed., sec. 8.2), shifted to be regular; the decision from the singular values
    of the Jacobian on them, which keep the digits that the normal matrix loses.
    """
    entries = layout.normal(jacobians)
    scale = unit_scale(layout.diagonal(entries))
    matrix = layout.matrix(entries, scale)
    count = matrix.shape[0]
    shifted = matrix.copy()
    shifted.setdiag(matrix.diagonal() + _SHIFT)
    factor = splu(shifted.tocsc(), permc_spec="NATURAL", diag_pivot_thresh=0.0)
    vectors = np.random.default_rng(0).normal(size=(count, min(count, _MOST)))
    for _ in range(4):
        vectors, _ = np.linalg.qr(factor.solve(vectors))
    moves = np.zeros((len(layout.place), vectors.shape[1]))
    moves[layout.solved] = scale[:, None] * vectors
    seen = [
        np.matmul(jacobian, moves[equation.columns]).reshape(-1, vectors.shape[1])
        for equation, jacobian in zip(layout.equations, jacobians)
    ]
    _, singular, right = np.linalg.svd(np.linalg.qr(np.concatenate(seen), mode="r"))
    strength = np.zeros(vectors.shape[1])
    strength[: len(singular)] = singular
    null = strength < _ZERO
    moved = np.abs(vectors @ right[null].T).max(axis=1, initial=0.0)
    return layout.solved[moved > 0.05 * moved.max(initial=0.0)], int(null.sum())
