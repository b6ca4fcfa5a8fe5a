# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces as drawn at a plot scale: squared, straightened within the tolerance, closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from ..errors import SurveyError
from .corners import CLOSE_M, closed
from .model import WallFaces
from .plot_scales import plot_scale_of
from .squaring import Square, turned_lines, turns

PARALLEL_RAD = np.radians(5.0)
"""Faces that differ more than this are never drawn as one line."""

ALIGNED_GAP_M = 2.5
"""Pieces of a wall on both sides of an opening up to this wide are drawn on one line."""

ONE_FACE_GAP_M = 0.3
"""Pieces of one line with less than this between them are drawn as one face."""


@dataclass
class _Line:
    """Faces (indices) that are drawn on one line, and the line."""

    members: list[int]
    centre_m: Floats
    normal_rad: float


def draw_walls(
    walls: WallFaces, *, plot_scale: int | None, tolerance_m: float, square: Square
) -> WallFaces:
    """The faces as drawn at a plot scale, from faces as measured (``plot_scale`` 0).

    ``plot_scale`` is the denominator, or None for a tolerance of one's own (it becomes the scale
    with that tolerance). Faces turn to the building axes as ``square`` says; parallel neighbours
    less than ``tolerance_m`` apart become one line; faces shorter than it are left out, and their
    readings go to the neighbour. No face moves further than ``tolerance_m`` from its least-squares
    face over the extent that readings support. Names of walls stay; faces that become one keep
    the name of the longest. `residual_of_reading_m` stays that of the least-squares faces.
    Raises `SurveyError` for a negative tolerance.
    """
    if walls.plot_scale != 0:
        raise SurveyError(
            f"Walls drawn at 1:{walls.plot_scale}: expected walls as measured to draw from."
        )
    if not tolerance_m >= 0.0:
        raise SurveyError(f"Tolerance {tolerance_m} m: expected a positive length.")
    scale = plot_scale_of(tolerance_m) if plot_scale is None else plot_scale
    turn = turns(walls, square, tolerance_m)
    centre, normal, span = turned_lines(walls, turn)
    squared = replace(walls, centre_m=centre, normal_rad=normal, span_m=span, squared_by_rad=turn)
    lines = _aligned(walls, squared, tolerance_m)
    merged, carrier = _as_faces(walls, squared, lines, tolerance_m)
    merged = replace(merged, plot_scale=scale)
    table = np.append(carrier, -1)
    merged = replace(
        merged,
        wall_of_reading=tuple(table[wall] for wall in walls.wall_of_reading),
    )
    return replace(merged, drawn_m=closed(merged, CLOSE_M + tolerance_m))


def _aligned(measured: WallFaces, squared: WallFaces, tolerance_m: float) -> list[_Line]:
    """Lines for the faces: neighbours less than the tolerance apart are put on one, the closest
    first, as long as no face moves more than the tolerance."""
    lines: list[_Line | None] = [
        _Line([k], squared.centre_m[k], float(squared.normal_rad[k])) for k in range(len(squared))
    ]
    owner = np.arange(len(squared))
    for a, b in _neighbours(squared, tolerance_m):
        left, right = lines[owner[a]], lines[owner[b]]
        if left is None or right is None or left is right:
            continue
        line = _common(squared, sorted(left.members + right.members))
        if movement(measured, line.members, line.centre_m, line.normal_rad) <= tolerance_m:
            first, second = sorted((int(owner[a]), int(owner[b])))
            lines[first], lines[second] = line, None
            owner[line.members] = first
    return [line for line in lines if line is not None]


def _neighbours(walls: WallFaces, tolerance_m: float) -> list[tuple[int, int]]:
    """Pairs of faces on the same side, nearly parallel, and less than the tolerance apart where
    they come closest; the closest pairs first."""
    pairs = []
    u, n = along(walls.normal_rad), unit(walls.normal_rad)
    ends = walls.centre_m[:, None, :] + walls.span_m[:, :, None] * u[:, None, :]
    for a in range(len(walls)):
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


def _common(walls: WallFaces, members: Sequence[int]) -> _Line:
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
        return _Line(list(members), centre, base)
    v, n = along(base), unit(base)
    t, h = (middle - centre) @ v, (middle - centre) @ n
    # A face of length L is as many points spread evenly over it: L (t^2 + L^2 / 12).
    inertia = float(np.sum(length * (t**2 + length**2 / 12.0)))
    slope = float(np.sum(length * (t * h + length**2 / 12.0 * np.tan(off)))) / inertia
    return _Line(list(members), centre, float(wrap_half(base + np.arctan(slope))))


def movement(
    measured: WallFaces, members: Sequence[int] | Ints, centre_m: Floats, normal_rad: float
) -> float:
    """The largest distance (m) of the faces' supported ends from a line; over the extents in
    between it is no larger."""
    m = np.asarray(members)
    ends = (
        measured.centre_m[m][:, None, :]
        + measured.span_m[m][:, :, None] * along(measured.normal_rad[m])[:, None, :]
    )
    return float(np.max(np.abs((ends - centre_m) @ unit(normal_rad))))


def _as_faces(
    measured: WallFaces, squared: WallFaces, lines: list[_Line], tolerance_m: float
) -> tuple[WallFaces, Ints]:
    """The faces on their lines, pieces that touch made one and short ones left out; and the new
    index that carries each measured face (-1: left out, its readings on no neighbour)."""
    faces: list[tuple[int, list[int], _Line, Floats]] = []
    length = squared.span_m[:, 1] - squared.span_m[:, 0]
    for line in lines:
        v = along(line.normal_rad)
        ends = (
            measured.centre_m[line.members][:, None, :]
            + measured.span_m[line.members][:, :, None]
            * along(measured.normal_rad[line.members])[:, None, :]
        )
        span = np.sort((ends - line.centre_m) @ v, axis=1)
        order = np.argsort(span[:, 0], kind="stable")
        run = [int(order[0])]
        for k in [*order[1:].tolist(), None]:
            if k is not None and span[k, 0] - span[run, 1].max() <= ONE_FACE_GAP_M:
                run.append(k)
                continue
            members = [line.members[r] for r in run]
            lead = max(members, key=lambda m: (round(float(length[m]), 6), -m))
            extent = np.array([span[run, 0].min(), span[run, 1].max()])
            faces.append((lead, members, line, extent))
            run = [] if k is None else [k]
    faces.sort(key=lambda face: face[0])
    kept = [f for f in faces if f[3][1] - f[3][0] >= tolerance_m]
    carrier = np.full(len(squared), -1, dtype=np.int64)
    for number, (_, members, _, _) in enumerate(kept):
        carrier[members] = number
    lead = np.array([f[0] for f in kept], dtype=np.int64)
    count = len(kept)

    centre = np.array([f[2].centre_m for f in kept]).reshape(count, 2)
    normal = np.array([f[2].normal_rad for f in kept])
    span = np.array([f[3] for f in kept]).reshape(count, 2)
    # The centre stays where direction and position of the leading face are uncorrelated.
    shift = np.einsum("ij,ij->i", squared.centre_m[lead] - centre, along(normal))
    centre = centre + shift[:, None] * along(normal)
    span = span - shift[:, None]
    u = along(normal)
    drawn = centre[:, None, :] + span[:, :, None] * u[:, None, :]
    groups = [np.asarray(f[1]) for f in kept]
    total = np.array([measured.readings[g].sum() for g in groups], dtype=np.int64)
    squares = np.array([np.sum(measured.readings[g] * measured.rms_m[g] ** 2) for g in groups])
    merged = replace(
        squared,
        wall=tuple(measured.wall[k] for k in lead),
        level=measured.level[lead],
        network=measured.network[lead],
        centre_m=centre,
        normal_rad=normal,
        sigma_normal_rad=measured.sigma_normal_rad[lead],
        sigma_offset_m=measured.sigma_offset_m[lead],
        span_m=span,
        drawn_m=drawn,
        readings=total,
        stations=tuple(
            tuple(sorted({name for k in g for name in measured.stations[k]})) for g in groups
        ),
        rms_m=np.sqrt(squares / np.maximum(total, 1)),
        largest_residual_m=np.array([measured.largest_residual_m[g].max() for g in groups]),
        squared_by_rad=squared.squared_by_rad[lead],
    )
    return merged, _with_short(measured, merged, carrier, tolerance_m)


def _with_short(measured: WallFaces, drawn: WallFaces, carrier: Ints, tolerance_m: float) -> Ints:
    """The carriers with those of the faces left out: the drawn face that lies nearest, if it is
    within the tolerance of all that their readings support."""
    result = carrier.copy()
    u, n = along(drawn.normal_rad), unit(drawn.normal_rad)
    for k in np.flatnonzero(carrier < 0):
        ends = measured.centre_m[k] + measured.span_m[k][:, None] * along(measured.normal_rad[k])
        away = ends[None] - drawn.centre_m[:, None, :]
        h = np.abs(np.einsum("wej,wj->we", away, n)).max(axis=1)
        t = np.einsum("wej,wj->we", away, u)
        beyond = np.maximum(drawn.span_m[:, :1] - t, t - drawn.span_m[:, 1:]).max(axis=1)
        fits = (
            (drawn.level == measured.level[k])
            & (drawn.network == measured.network[k])
            & (h <= tolerance_m)
            & (beyond <= CLOSE_M)
        )
        if fits.any():
            result[k] = int(
                np.argmin(np.where(fits, np.round(np.maximum(beyond, 0) + h, 7), np.inf))
            )
    return result
