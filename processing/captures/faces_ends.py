# SPDX-License-Identifier: GPL-2.0-or-later
"""How the faces of one capture end: at a corner, behind something, at an edge, or unknown."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .face_model import End
from .faces_fit import Lines, ReadingNoise, beside, dot
from .model import Ints

CORNER_STEPS = 4.0
"""A corner lies within this many steps of the beam of the last reading on each of its faces
(readings close to it see both faces and are often lost)."""


def end_kinds(
    angle_rad: Floats,
    xy_m: Floats,
    label: Ints,
    lines: Lines,
    span_m: Floats,
    widest_rad: float,
    noise: ReadingNoise,
) -> Ints:
    """`End` values ``(F, 2)`` of faces with extents ``span_m (F, 2)``, from the readings in scan
    order with their faces ``label (n,)`` (-1: none)."""
    n, count = len(label), len(lines.weight)
    place = np.flatnonzero(label >= 0)
    # The labels ascend in scan order.
    first = place[np.searchsorted(label[place], np.arange(count))]
    last = place[np.searchsorted(label[place], np.arange(count), side="right") - 1]
    kinds = np.empty((count, 2), dtype=np.int64)
    ends = lines.centre_m[:, None, :] + span_m[:, :, None] * lines.direction[:, None, :]
    for side, (own, step) in enumerate(((first, -1), (last, 1))):
        neighbour = (np.arange(count) + step) % count
        beyond = (own + step) % n
        gap = (step * (angle_rad[beyond] - angle_rad[own])) % (2 * np.pi)
        corner = _meets(lines, ends[:, side], ends[neighbour, 1 - side], neighbour, widest_rad)
        # Look at the neighbouring face where it follows closely, else at the next reading.
        near = (last if step < 0 else first)[neighbour]
        turn = (step * (angle_rad[near] - angle_rad[own])) % (2 * np.pi)
        look = np.where((turn <= 2 * widest_rad) & (neighbour != np.arange(count)), near, beyond)
        height = dot(lines.normal, xy_m[look] - lines.centre_m)
        doubt = 3.0 * (noise.distance_m + np.hypot(*xy_m[look].T) * noise.angle_rad)
        kind = np.full(count, int(End.GAP))
        kind[height > doubt], kind[height < -doubt] = End.OCCLUDED, End.EDGE
        kind[gap > widest_rad] = End.GAP
        kind[corner] = End.CORNER
        kinds[:, side] = kind
    return kinds


def _meets(
    lines: Lines, end_m: Floats, other_end_m: Floats, other: Ints, widest_rad: float
) -> np.ndarray:
    """Whether each face ``(F,)`` meets the face ``other (F,)`` close to both their ends."""
    normal, normal_b = lines.normal, lines.normal[other]
    cross = normal[:, 0] * normal_b[:, 1] - normal[:, 1] * normal_b[:, 0]
    flat = np.abs(cross) < np.sin(np.radians(3.0))
    cross = np.where(flat, 1.0, cross)
    c = dot(normal, lines.centre_m)
    d = c[other]
    x, y = c * normal_b[:, 1] - d * normal[:, 1], d * normal[:, 0] - c * normal_b[:, 0]
    meet = beside(x, y) / cross[:, None]
    # On two nearly parallel faces the intersection is vague: there the ends must touch.
    meet = np.where(flat[:, None], other_end_m, meet)
    step = widest_rad / 3.2
    close = other != np.arange(len(other))
    for tip, n in ((end_m, normal), (other_end_m, normal_b)):
        reach = np.hypot(*tip.T)
        cosine = np.maximum(np.abs(dot(n, tip)) / reach, 0.1)
        close = close & (np.hypot(*(meet - tip).T) < CORNER_STEPS * step * reach / cosine + 0.01)
    return close
