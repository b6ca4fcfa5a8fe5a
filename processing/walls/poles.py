# SPDX-License-Identifier: GPL-2.0-or-later
"""Legs, poles and other things too small for a plan that stand free in a room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..captures.face_model import End, Faces

WIDEST_M = 0.15
"""What one station sees of a thing that stands free and is smaller than this, corner to corner, is
a leg or a pole. Thinner walls end in a corner with a longer face of theirs."""


def poles(faces: Faces) -> NDArray[np.bool_]:
    """Which faces ``(F,)`` of a capture belong to such a thing.

    Faces that meet in corners are one thing; it stands free when no usable reading joins on to it:
    it ends in an edge, or in nothing, on both sides.
    """
    count = len(faces)
    result = np.zeros(count, dtype=bool)
    if count == 0:
        return result
    following = (np.arange(count) + 1) % count
    linked = (faces.end[:, 1] == End.CORNER) & (faces.end[following, 0] == End.CORNER)
    for chain in _chains(linked):
        first, last = chain[0], chain[-1]
        free = faces.end[first, 0] in (End.EDGE, End.GAP) and faces.end[last, 1] in (
            End.EDGE,
            End.GAP,
        )
        size = np.ptp(faces.ends_m[chain].reshape(-1, 2), axis=0)
        result[chain] = free and bool(np.hypot(*size) < WIDEST_M)
    return result


def _chains(linked: NDArray[np.bool_]) -> Sequence[NDArray[np.int64]]:
    """The runs of faces, once round, in which each is linked to the next."""
    count = len(linked)
    breaks = np.flatnonzero(~linked)
    if len(breaks) == 0:
        return [np.arange(count)]
    order = (np.arange(count) + breaks[0] + 1) % count
    return np.split(order, np.flatnonzero(~linked[order])[:-1] + 1)
