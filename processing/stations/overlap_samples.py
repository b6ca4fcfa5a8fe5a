# SPDX-License-Identifier: GPL-2.0-or-later
"""Points along the faces of a capture, by which another capture is asked about them.

A face may go on past an opening, with readings on both sides and none between. There it says where
a wall would be, not that there is one: another station may well look through. The same holds for a
pane of glass (`overlap_solid`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.model import Bools, Ints

SPACING_M = 0.12
MOST_SAMPLES = 110

CLOSED_M = 0.30
"""Between readings of a face that are no farther apart nothing opens that one looks through: a
doorway is wider (common practice)."""


@dataclass(frozen=True, eq=False)
class Samples:
    """``K`` points on faces in the instrument's frame: `point_m (K, 2)`, the `face (K,)` of each,
    the length of it that each stands for (`length_m (K,)`) and whether it was `seen (K,)` there."""

    point_m: Floats
    face: Ints
    length_m: Floats
    seen: Bools


def samples_of(faces: Faces, reading_m: Floats, firm: Ints | None = None) -> Samples:
    """Points spread along faces, from the readings ``(n, 2)`` that `face_of_reading` numbers; only
    those with the numbers `firm` (None: all) show that a wall is there."""
    length = np.maximum(faces.length_m, 1e-6)
    spacing = max(SPACING_M, float(length.sum()) / MOST_SAMPLES)
    count = np.maximum(np.ceil(length / spacing).astype(np.int64), 1)
    face = np.repeat(np.arange(len(faces)), count)
    place = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + 0.5
    along = faces.span_m[face, 0] + place / count[face] * length[face]
    point = faces.centre_m[face] + along[:, None] * faces.direction[face]
    return Samples(point, face, (length / count)[face], _seen(faces, reading_m, firm, face, along))


def _seen(faces: Faces, reading_m: Floats, firm: Ints | None, face: Ints, along: Floats) -> Bools:
    """Whether positions along faces lie between two readings of the face near each other."""
    on = np.arange(len(reading_m)) if firm is None else firm
    on = on[faces.face_of_reading[on] >= 0]
    of = faces.face_of_reading[on]
    if not len(on) or not len(face):
        return np.zeros(len(face), dtype=bool)
    at = np.einsum("ij,ij->i", reading_m[on] - faces.centre_m[of], faces.direction[of])
    # One number for face and position, so that one search serves all faces.
    step = 4.0 * (np.abs(at).max() + np.abs(along).max() + CLOSED_M)
    known = np.sort(of * step + at)
    wanted = face * step + along
    after = np.searchsorted(known, wanted)
    before = known[np.maximum(after - 1, 0)]
    behind = known[np.minimum(after, len(known) - 1)]
    inside = (after > 0) & (after < len(known))
    return inside & (behind - before <= CLOSED_M)
