# SPDX-License-Identifier: GPL-2.0-or-later
"""Straightening: parallel neighbours less than a tolerance apart are put on one line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .model import WallFaces

PARALLEL_RAD = np.radians(5.0)
"""Faces that differ more than this are never drawn as one line."""

ALIGNED_GAP_M = 2.5
"""Pieces of a wall on both sides of an opening up to this wide are drawn on one line."""


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """Faces (indices) that are drawn on one line, and the line."""

    members: list[int]
    centre_m: Floats
    normal_rad: float


def drawn_lines(
    measured: WallFaces,
    squared: WallFaces,
    tolerance_m: float,
    which: NDArray[np.bool_],
    progress: Progress = SILENT,
) -> list[DrawnLine]:
    """Lines for the faces ``which (W,)``: neighbours less than the tolerance apart are put on one,
    the closest first, as long as no face moves more than the tolerance."""
    lines: list[DrawnLine | None] = [
        DrawnLine([k], squared.centre_m[k], float(squared.normal_rad[k])) if which[k] else None
        for k in range(len(squared))
    ]
    owner = np.arange(len(squared))
    neighbours = _neighbours(squared, tolerance_m, progress.part(0.0, 0.5))
    for a, b in progress.part(0.5, 1.0).over(neighbours):
        left, right = lines[owner[a]], lines[owner[b]]
        if left is None or right is None or left is right:
            continue
        line = _common(squared, sorted(left.members + right.members))
        if movement(measured, line.members, line.centre_m, line.normal_rad) <= tolerance_m:
            first, second = sorted((int(owner[a]), int(owner[b])))
            lines[first], lines[second] = line, None
            owner[line.members] = first
    return [line for line in lines if line is not None]


def _neighbours(walls: WallFaces, tolerance_m: float, progress: Progress) -> list[tuple[int, int]]:
    """Pairs of faces on the same side, nearly parallel, and less than the tolerance apart where
    they come closest; the closest pairs first."""
    pairs = []
    u, n = along(walls.normal_rad), unit(walls.normal_rad)
    ends = walls.centre_m[:, None, :] + walls.span_m[:, :, None] * u[:, None, :]
    for a in progress.over(range(len(walls))):
        rest = np.arange(a + 1, len(walls))
        rest = rest[
            (walls.level[rest] == walls.level[a])
            & (walls.network[rest] == walls.network[a])
            & (np.abs(wrap_half(walls.normal_rad[rest] - walls.normal_rad[a])) < PARALLEL_RAD)
        ]
        t = (ends[rest] - walls.centre_m[a]) @ u[a]
        h = (ends[rest] - walls.centre_m[a]) @ n[a]
        gap = np.maximum(t[:, 0], walls.span_m[a, 0]) - np.minimum(t[:, 1], walls.span_m[a, 1])
        near = (gap <= ALIGNED_GAP_M) & (np.abs(h).max(axis=1) < 2.0 * tolerance_m)
        offset = np.abs(h.mean(axis=1))
        pairs += [
            (round(float(d), 7), max(round(float(g), 4), 0.0), a, int(b))
            for b, d, g in zip(rest[near], offset[near], gap[near])
            if d < tolerance_m
        ]
    return [(a, b) for _, _, a, b in sorted(pairs)]


def _common(walls: WallFaces, members: Sequence[int]) -> DrawnLine:
    """The line through several faces: the axis direction if all were squared to one, else the
    length-weighted fit of their ends."""
    m = np.asarray(members)
    length = walls.span_m[m, 1] - walls.span_m[m, 0]
    u = along(walls.normal_rad[m])
    middle = walls.centre_m[m] + walls.span_m[m].mean(axis=1)[:, None] * u
    centre = np.average(middle, axis=0, weights=length)
    base = float(walls.normal_rad[m[int(np.argmax(np.round(length, 6)))]])
    off = wrap_half(walls.normal_rad[m] - base)
    if np.all(walls.squared_by_rad[m] != 0.0) and np.all(np.abs(off) < 1e-9):
        return DrawnLine(list(members), centre, base)
    v, n = along(base), unit(base)
    t, h = (middle - centre) @ v, (middle - centre) @ n
    # A face of length L is as many points spread evenly over it: L (t^2 + L^2 / 12).
    inertia = float(np.sum(length * (t**2 + length**2 / 12.0)))
    slope = float(np.sum(length * (t * h + length**2 / 12.0 * np.tan(off)))) / inertia
    return DrawnLine(list(members), centre, float(wrap_half(base + np.arctan(slope))))


def movement(
    measured: WallFaces, members: Sequence[int] | Ints, centre_m: Floats, normal_rad: float
) -> float:
    """The largest distance (m) of the faces' supported ends from a line; over the extents in
    between it is no larger."""
    ends = supported_ends(measured, members)
    return float(np.max(np.abs((ends - centre_m) @ unit(normal_rad))))


def supported_ends(measured: WallFaces, members: Sequence[int] | Ints) -> Floats:
    """Start and end points ``(k, 2, 2)`` of what readings support of the faces."""
    m = np.asarray(members)
    u = along(measured.normal_rad[m])
    return np.asarray(
        measured.centre_m[m][:, None, :] + measured.span_m[m][:, :, None] * u[:, None, :]
    )
