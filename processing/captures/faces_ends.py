# SPDX-License-Identifier: GPL-2.0-or-later
"""How the faces of one capture end: at a corner, behind something, at an edge, or unknown."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .face_model import End
from .faces_fit import Lines, ReadingNoise, beside, dot, rows_of
from .model import Bools, Ints

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
    (place,) = (label >= 0).nonzero()
    # The labels ascend in scan order.
    first = np.searchsorted(label[place], np.arange(count + 1))
    # Rows of all starts, then of all ends of faces; each looks the way in which it ends.
    own = place[np.concatenate([first[:-1], first[1:] - 1])]
    step, side = np.repeat([-1, 1], count), np.repeat([0, 1], count)
    face = np.concatenate([np.arange(count), np.arange(count)])
    neighbour = (face + step) % count
    beyond = (own + step) % n
    normal, centre = rows_of(lines.normal, face), rows_of(lines.centre_m, face)
    tip = centre + span_m.T.ravel()[:, None] * rows_of(lines.direction, face)
    facing = neighbour + count * (1 - side)
    gap = (step * (angle_rad[beyond] - angle_rad[own])) % (2 * np.pi)
    corner = _meets(normal, dot(normal, centre), tip, facing, widest_rad) & (neighbour != face)
    # Look at the neighbouring face where it follows closely, else at the next reading.
    near = own[facing]
    turn = (step * (angle_rad[near] - angle_rad[own])) % (2 * np.pi)
    look = np.where((turn <= 2 * widest_rad) & (neighbour != face), near, beyond)
    seen = rows_of(xy_m, look)
    height = dot(normal, seen - centre)
    reach = np.hypot(seen[:, 0], seen[:, 1])
    doubt = 3.0 * (noise.distance_m + reach * noise.angle_rad)
    kind = np.full(2 * count, int(End.GAP))
    kind[height > doubt], kind[height < -doubt] = End.OCCLUDED, End.EDGE
    kind[gap > widest_rad] = End.GAP
    kind[corner] = End.CORNER
    return kind.reshape(2, count).T.copy()


def _meets(
    normal: Floats, height_m: Floats, tip_m: Floats, other: Ints, widest_rad: float
) -> Bools:
    """Whether faces with these normals ``(m, 2)`` and heights ``(m,)`` above the instrument meet
    those in the rows ``other (m,)`` close to the tips ``tip_m (m, 2)`` of both."""
    a, b = normal, rows_of(normal, other)
    other_tip, d = rows_of(tip_m, other), height_m[other]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    flat = np.abs(cross) < np.sin(np.radians(3.0))
    cross[flat] = 1.0
    x, y = height_m * b[:, 1] - d * a[:, 1], d * a[:, 0] - height_m * b[:, 0]
    meet = beside(x / cross, y / cross)
    # On two nearly parallel faces the intersection is vague: there the ends must touch.
    meet[flat] = other_tip[flat]
    step = widest_rad / 3.2
    close = np.ones(len(a), dtype=bool)
    for tip, n in ((tip_m, a), (other_tip, b)):
        reach = np.hypot(tip[:, 0], tip[:, 1])
        cosine = np.maximum(np.abs(dot(n, tip)) / reach, 0.1)
        away = meet - tip
        limit = CORNER_STEPS * step * reach / cosine + 0.01
        close &= np.hypot(away[:, 0], away[:, 1]) < limit
    return close
