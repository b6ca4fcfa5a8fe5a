# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings of one capture that lie on no face of its own, on faces of the other.

A jamb of a few readings makes no face; the other station may see it broadly. Such readings are
paired with the nearest of the other's faces whose free side holds the station that measured them.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats, sine_cosine
from ..captures.face_model import Faces
from .connect_frames import inverse, moved

BESIDE_M = 0.03
"""How far past the extent of a face a reading may lie that belongs to it."""

LARGE = 3.0
"""From so many standard errors on, readings count less: mixed ones lie anywhere."""


def loose_equations(
    first: Faces,
    second: Faces,
    loose: tuple[Floats, Floats],
    pose: Floats,
    gate_m: float,
    noise_m: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Normal equations ``(H, 3, 3)`` and right sides ``(H, 3)`` of the loose readings of both
    captures (``(n, 2)`` and ``(m, 2)``, noise 1 sigma) on the faces of the other, at poses
    ``(H, 3)`` of the second capture in the first one's frame."""
    total, right = _laid(first, loose[1], pose, gate_m, noise_m[1])
    # The other way round the pose is the inverse; its corrections are turned back.
    back = inverse(pose)
    matrix, push = _laid(second, loose[0], back, gate_m, noise_m[0])
    chain = inverse_jacobian(pose, back)
    total += np.swapaxes(chain, 1, 2) @ matrix @ chain
    right += np.einsum("hij,hi->hj", chain, push)
    return total, right


def inverse_jacobian(pose: Floats, back: Floats) -> Floats:
    """Derivatives ``(H, 3, 3)`` of the inverse poses `back` with respect to the poses."""
    s, c = sine_cosine(pose[:, 2])
    result = np.zeros((len(pose), 3, 3))
    result[:, 0, 0], result[:, 0, 1] = -c, s
    result[:, 1, 0], result[:, 1, 1] = -s, -c
    # A larger turn moves the first station counterclockwise around the second.
    result[:, 0, 2], result[:, 1, 2] = -back[:, 1], back[:, 0]
    result[:, 2, 2] = -1.0
    return result


def _laid(
    faces: Faces, points: Floats, pose: Floats, gate_m: float, noise_m: float
) -> tuple[Floats, Floats]:
    """Normal equations of points, moved by the poses, on faces."""
    count = len(pose)
    total, right = np.zeros((count, 3, 3)), np.zeros((count, 3))
    if not len(faces) or not len(points):
        return total, right
    at = moved(pose[:, None, :], points)
    normal, along = faces.normal, faces.direction
    height = np.einsum("ij,ij->i", normal, faces.centre_m)
    place = np.einsum("ij,ij->i", along, faces.centre_m)
    across = at @ normal.T - height
    h, k, f = np.nonzero(np.abs(across) < gate_m)
    t = np.einsum("ij,ij->i", at[h, k], along[f]) - place[f]
    station = np.einsum("ij,ij->i", pose[h, :2], normal[f]) - height[f]
    fits = (t > faces.span_m[f, 0] - BESIDE_M) & (t < faces.span_m[f, 1] + BESIDE_M)
    fits &= station > 0
    h, k, f, t = h[fits], k[fits], f[fits], t[fits]
    if not len(h):
        return total, right
    e = across[h, k, f]
    # Of several faces the nearest: the first of each reading's, sorted by distance.
    order = np.lexsort((np.abs(e), k, h))
    h, k, f, t, e = h[order], k[order], f[order], t[order], e[order]
    own = np.append(True, (np.diff(h) != 0) | (np.diff(k) != 0))
    h, k, f, t, e = h[own], k[own], f[own], t[own], e[own]
    n = normal[f]
    variance = noise_m**2 + faces.sigma_offset_m[f] ** 2
    variance += (t * faces.sigma_normal_rad[f]) ** 2
    weight = 1.0 / variance / (1.0 + e**2 / (LARGE**2 * variance)) ** 2
    spread = at[h, k] - pose[h, :2]
    row = np.column_stack([n, n[:, 0] * spread[:, 1] - n[:, 1] * spread[:, 0]])
    weighted = weight[:, None] * row
    for i in range(3):
        right[:, i] = -np.bincount(h, e * weighted[:, i], count)
        for j in range(i, 3):
            total[:, i, j] = np.bincount(h, weighted[:, i] * row[:, j], count)
            total[:, j, i] = total[:, i, j]
    return total, right
