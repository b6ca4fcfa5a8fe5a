# SPDX-License-Identifier: GPL-2.0-or-later
"""Corners: faces that end close to where their lines meet are drawn to the intersection."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ..angles import Floats, along, unit
from ..progress import SILENT, Progress
from .model import WallFaces

CLOSE_M = 0.10
"""A face is drawn on (or cut back) by at most this much beyond what readings support, to meet its
neighbour: what is lost to mixed readings in a corner."""

FLATTEST = np.sin(np.radians(10.0))
"""Lines that cross at less than this have no corner: a small error moves it far."""


def closed(walls: WallFaces, close_m: float = CLOSE_M, progress: Progress = SILENT) -> Floats:
    """Start and end points ``(W, 2, 2)`` of the faces with corners closed.

    Two ends of different faces of one level and network join in the intersection of their lines
    when both lie within ``close_m`` of it; each end joins one other, the nearest pairs first.
    """
    u = along(walls.normal_rad)
    ends = walls.centre_m[:, None, :] + walls.span_m[:, :, None] * u[:, None, :]
    drawn = ends.copy()
    count = len(walls)
    if count < 2:
        return drawn
    tips = ends.reshape(-1, 2)
    pairs = cKDTree(tips).query_pairs(2.0 * close_m, output_type="ndarray")
    i, j = pairs[:, 0] // 2, pairs[:, 1] // 2
    fits = (i != j) & (walls.level[i] == walls.level[j]) & (walls.network[i] == walls.network[j])
    pairs, i, j = pairs[fits], i[fits], j[fits]
    meet, sharp = intersections(walls.centre_m, walls.normal_rad, i, j)
    reach = np.maximum(
        np.hypot(*(tips[pairs[:, 0]] - meet).T), np.hypot(*(tips[pairs[:, 1]] - meet).T)
    )
    good = sharp & (reach <= close_m)
    pairs, meet, reach = pairs[good], meet[good], reach[good]
    taken = np.zeros(2 * count, dtype=bool)
    flat = drawn.reshape(-1, 2)
    half = 0.5 * (walls.span_m[:, 1] - walls.span_m[:, 0])
    nearest = np.lexsort((pairs[:, 1], pairs[:, 0], np.round(reach, 6)))
    for k in progress.part(0.0, 0.5).over(nearest):
        a, b = pairs[k]
        if taken[a] or taken[b]:
            continue
        if all(_still_runs(drawn, u, tip, meet[k], half) for tip in (a, b)):
            taken[a] = taken[b] = True
            flat[a] = flat[b] = meet[k]
    _butt(walls, drawn, taken.reshape(-1, 2), close_m, progress.part(0.5, 1.0))
    return drawn


def _butt(
    walls: WallFaces, drawn: Floats, taken: np.ndarray, close_m: float, progress: Progress
) -> None:
    """Draws the ends that joined no other (``taken (W, 2)``) to the face that they run against from
    its free side, where its line is within ``close_m``."""
    u, n = along(walls.normal_rad), unit(walls.normal_rad)
    middle = drawn.mean(axis=1)
    tips = walls.centre_m[:, None, :] + walls.span_m[:, :, None] * u[:, None, :]
    # A face can only be run against by ends that lie in the circle over its extent.
    half = 0.5 * (walls.span_m[:, 1] - walls.span_m[:, 0])
    reach_m = half + 2.0 * close_m
    for k, side in progress.over(np.argwhere(~taken)):
        others = np.flatnonzero(
            (walls.level == walls.level[k])
            & (walls.network == walls.network[k])
            & (np.abs(middle - tips[k, side]).max(axis=1) < reach_m)
        )
        meet, sharp = intersections(
            walls.centre_m, walls.normal_rad, np.full(len(others), k), others
        )
        reach = np.hypot(*(meet - tips[k, side]).T)
        t = np.einsum("kj,kj->k", meet - walls.centre_m[others], u[others])
        on = (t > walls.span_m[others, 0]) & (t < walls.span_m[others, 1])
        free = np.einsum("kj,kj->k", middle[k] - walls.centre_m[others], n[others]) > 0.0
        fits = sharp & on & free & (reach <= close_m)
        if fits.any():
            best = int(np.argmin(np.where(fits, np.round(reach, 6), np.inf)))
            if _still_runs(drawn, u, 2 * k + side, meet[best], half):
                drawn[k, side] = meet[best]


def _still_runs(drawn: Floats, u: Floats, tip: int, to: Floats, least_m: Floats) -> bool:
    """Whether a face keeps its way and half of its length when its end ``tip`` is drawn ``to`` a
    point: a short face must not be turned about by its corners."""
    face, side = divmod(int(tip), 2)
    run = float((to - drawn[face, 1 - side]) @ u[face]) * (1.0 if side else -1.0)
    return run >= float(least_m[face])


def intersections(
    centre_m: Floats, normal_rad: Floats, i: np.ndarray, j: np.ndarray
) -> tuple[Floats, np.ndarray]:
    """Where lines ``i`` and ``j`` meet ``(k, 2)``, and whether the angle between them is large
    enough for that to mean something ``(k,)``."""
    a, b = unit(normal_rad[i]), unit(normal_rad[j])
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    sharp = np.abs(cross) > FLATTEST
    safe = np.where(sharp, cross, 1.0)
    # Offsets from a nearby point keep the digits.
    base = 0.5 * (centre_m[i] + centre_m[j])
    c = np.einsum("kj,kj->k", a, centre_m[i] - base)
    d = np.einsum("kj,kj->k", b, centre_m[j] - base)
    meet = np.stack([c * b[:, 1] - d * a[:, 1], d * a[:, 0] - c * b[:, 0]], axis=-1)
    return base + meet / safe[:, None], sharp
