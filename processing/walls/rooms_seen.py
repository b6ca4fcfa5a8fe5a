# SPDX-License-Identifier: GPL-2.0-or-later
"""Which parts of a room's boundary readings back."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .arrangement_pieces import Piece, Pieces

SAME_FACE_M = 0.03
"""A wall face seen this near to a boundary backs it: two faces of one wall may stay apart."""


def backed_stretches(boundary_m: Floats, pieces: Pieces) -> list[Floats]:
    """The intervals that readings back (`stretches_with`)."""
    return stretches_with(boundary_m, pieces, Piece.BACKED)


def stretches_with(boundary_m: Floats, pieces: Pieces, kind: Piece) -> list[Floats]:
    """For each straight stretch of a boundary ``(n, 2, 2)``, the room on its left, the intervals
    ``(k, 2)`` along it, in metres from its start, where pieces of a kind lie; sorted, apart."""
    found = []
    for start, end in boundary_m:
        length = float(np.hypot(*(end - start)))
        step = (end - start) / length
        inward = np.array([-step[1], step[0]])
        near = pieces.near(kind, start, end, SAME_FACE_M)
        offset, normal = pieces.ends_m[near] - start, pieces.normal[near]
        aside = np.abs(offset @ inward).max(axis=1, initial=0.0)
        place = np.sort(offset @ step, axis=1).clip(0.0, length)
        fits = (aside <= SAME_FACE_M) & (normal @ inward > 0.98) & (place[:, 1] > place[:, 0])
        found.append(united(place[fits]))
    return found


def unbacked_stretches(backed: Floats, length_m: float) -> Floats:
    """What sorted intervals ``(k, 2)`` leave of a stretch, as intervals ``(m, 2)``."""
    edges = np.concatenate([[0.0], backed.ravel(), [length_m]]).reshape(-1, 2)
    return edges[edges[:, 1] - edges[:, 0] > 1e-9]


def united(intervals: Floats) -> Floats:
    """Intervals ``(k, 2)`` sorted, with those that touch made one."""
    merged: list[list[float]] = []
    for low, high in intervals[np.lexsort((intervals[:, 1], intervals[:, 0]))]:
        if merged and low <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], float(high))
        else:
            merged.append([float(low), float(high)])
    return np.array(merged).reshape(-1, 2)
