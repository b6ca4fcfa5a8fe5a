# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces of two groups that come near each other when one group is laid over the other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from .connect_frames import moved
from .overlap_refine import VAGUE

TOUCH_M, TOUCH_RAD = 0.12, np.radians(3.5)
MOST_TOUCH_RAD = np.radians(25.0)
"""Faces farther apart are not one face, however far the pose is refined; the second and, for faces
of uncertain direction, the third are the largest turn."""


def touching(a: Faces, b: Faces, pose: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which faces of two sets, ``(H, A)`` and ``(H, B)``, come near one of the other set that faces
    the same side, at poses ``(H, 3)`` of the second set's frame in the first one's."""
    mask_a = np.zeros((len(pose), len(a)), dtype=bool)
    mask_b = np.zeros((len(pose), len(b)), dtype=bool)
    if not len(a) or not len(b):
        return mask_a, mask_b
    normal, direction, ends, other = a.normal, a.direction, a.ends_m, b.ends_m.reshape(-1, 2)
    low, high = ends.min(axis=1) - TOUCH_M, ends.max(axis=1) + TOUCH_M
    for h, motion in enumerate(pose):
        placed = moved(motion, other)
        inside = (low < placed.max(axis=0)) & (high > placed.min(axis=0))
        rows = np.flatnonzero(inside.all(axis=1))
        centre = moved(motion, b.centre_m)
        turn = b.normal_rad + motion[2]
        far = np.stack([np.sin(turn), np.cos(turn)])
        p, j = np.nonzero(normal[rows] @ far > np.cos(MOST_TOUCH_RAD))
        i = rows[p]
        off = centre[j] - a.centre_m[i]
        near = np.abs(np.einsum("ij,ij->i", off, normal[i])) < TOUCH_M
        i, j, off = i[near], j[near], off[near]
        vague = VAGUE * np.hypot(a.sigma_normal_rad[i], b.sigma_normal_rad[j])
        near = np.abs(wrap_half(turn[j] - a.normal_rad[i])) < np.maximum(TOUCH_RAD, vague)
        along = np.einsum("ij,ij->i", off, direction[i])
        near &= np.minimum(a.span_m[i, 1], along + b.span_m[j, 1]) > np.maximum(
            a.span_m[i, 0], along + b.span_m[j, 0]
        )
        mask_a[h, i[near]] = True
        mask_b[h, j[near]] = True
    return mask_a, mask_b
