# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces as drawn at a plot scale: squared, straightened within the tolerance, closed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..angles import Floats, along, unit, wrap_half
from ..captures.model import Ints
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .corners import CLOSE_M, closed
from .curve_faces import common_chords, corners_on_curves, joined_sectors
from .model import WallFaces
from .squaring import UNTELLABLE, Square, turned_lines, turns
from .straightening import DrawnLine, drawn_lines, supported_ends

PLOT_SCALES = (20, 50, 100, 200)
"""Denominators of the plot scales that a plan is drawn at."""

PAPER_TOLERANCE_M = 0.00025
"""0.25 mm on paper: half the width of a common line (common practice)."""

TOLERANCE_M = {scale: PAPER_TOLERANCE_M * scale for scale in PLOT_SCALES}
"""The tolerance (m on the building) of each plot scale's denominator."""


def draw_walls(
    walls: WallFaces,
    *,
    plot_scale: int | None,
    tolerance_m: float,
    square: Square,
    untellable: float = UNTELLABLE,
    progress: Progress = SILENT,
) -> WallFaces:
    """The faces as drawn at a plot scale, from faces as measured (``plot_scale`` 0).

    ``plot_scale`` is the denominator, or None for a tolerance of one's own (it becomes the scale
    with that tolerance). Faces turn to the building axes as ``square`` says, those that lie within
    ``untellable`` standard errors of one where the readings are to decide; parallel neighbours
    less than ``tolerance_m`` apart become one line; faces shorter than it are left out, and their
    readings go to the neighbour. No face moves further than ``tolerance_m`` from its least-squares
    face over the extent that readings support. Names of walls stay; faces that become one keep
    the name of the longest. `residual_of_reading_m` stays that of the least-squares faces.
    (`tolerance.check_tolerance` checks this on every result.)
    Raises `SurveyError` for a negative tolerance or number of standard errors, and `Cancelled`.
    """
    if walls.plot_scale != 0:
        raise SurveyError(
            f"Walls drawn at 1:{walls.plot_scale}: expected walls as measured to draw from."
        )
    if not 0.0 <= tolerance_m < np.inf:
        raise SurveyError(f"Tolerance {tolerance_m} m: expected a length of 0 or more.")
    if not untellable >= 0.0:
        raise SurveyError(
            f"Squaring: found {untellable} standard errors within which a face turns; expected a "
            "positive number, or 0."
        )
    scale = round(tolerance_m / PAPER_TOLERANCE_M) if plot_scale is None else plot_scale
    turn = np.where(walls.curves.curved, 0.0, turns(walls, square, tolerance_m, untellable))
    progress.at(0.1)
    centre, normal, span = turned_lines(walls, turn)
    squared = replace(walls, centre_m=centre, normal_rad=normal, span_m=span, squared_by_rad=turn)
    straight = ~walls.curves.curved
    lines = drawn_lines(walls, squared, tolerance_m, straight, progress.part(0.1, 0.3))
    progress.at(0.3)
    lines += common_chords(walls, tolerance_m)
    merged, carrier = _as_faces(walls, squared, lines, tolerance_m, progress.part(0.3, 0.6))
    merged = replace(merged, plot_scale=scale)
    table = np.append(carrier, -1)
    merged = replace(
        merged,
        wall_of_reading=tuple(table[wall] for wall in walls.wall_of_reading),
    )
    drawn = closed(merged, CLOSE_M + tolerance_m, progress.part(0.6, 1.0))
    return replace(merged, drawn_m=corners_on_curves(merged, drawn))


def _as_faces(
    measured: WallFaces,
    squared: WallFaces,
    lines: list[DrawnLine],
    tolerance_m: float,
    progress: Progress,
) -> tuple[WallFaces, Ints]:
    """The faces on their lines, pieces that touch made one and short ones left out; and the new
    index that carries each measured face (-1: left out, its readings on no neighbour)."""
    faces: list[tuple[int, list[int], DrawnLine, Floats]] = []
    length = squared.span_m[:, 1] - squared.span_m[:, 0]
    for line in progress.over(lines):
        ends = supported_ends(measured, line.members)
        span = np.sort((ends - line.centre_m) @ along(line.normal_rad), axis=1)
        order = np.argsort(span[:, 0], kind="stable")
        reach = np.maximum.accumulate(span[order, 1])
        apart = np.flatnonzero(span[order[1:], 0] - reach[:-1] > tolerance_m) + 1
        for run in np.split(order, apart):
            members = [line.members[r] for r in run]
            lead = max(members, key=lambda m: (round(float(length[m]), 6), -m))
            extent = np.array([span[run, 0].min(), span[run, 1].max()])
            faces.append((lead, members, line, extent))
    faces.sort(key=lambda face: face[0])
    as_measured = measured.span_m[:, 1] - measured.span_m[:, 0]
    kept = [f for f in faces if max(np.ptp(f[3]), as_measured[f[1]].max()) >= tolerance_m]
    carrier = np.full(len(squared), -1, dtype=np.int64)
    for number, (_, members, _, _) in enumerate(kept):
        carrier[members] = number
    leads = np.array([f[0] for f in kept], dtype=np.int64)
    count = len(kept)

    centre = np.array([f[2].centre_m for f in kept]).reshape(count, 2)
    normal = np.array([f[2].normal_rad for f in kept])
    span = np.array([f[3] for f in kept]).reshape(count, 2)
    # The centre stays where direction and position of the leading face are uncorrelated.
    shift = np.einsum("ij,ij->i", squared.centre_m[leads] - centre, along(normal))
    centre = centre + shift[:, None] * along(normal)
    span = span - shift[:, None]
    u = along(normal)
    drawn = centre[:, None, :] + span[:, :, None] * u[:, None, :]
    groups = [np.asarray(f[1]) for f in kept]
    total = np.array([measured.readings[g].sum() for g in groups], dtype=np.int64)
    squares = np.array([np.sum(measured.readings[g] * measured.rms_m[g] ** 2) for g in groups])
    merged = replace(
        squared,
        wall=tuple(measured.wall[k] for k in leads),
        level=measured.level[leads],
        network=measured.network[leads],
        centre_m=centre,
        normal_rad=normal,
        sigma_normal_rad=measured.sigma_normal_rad[leads],
        sigma_offset_m=measured.sigma_offset_m[leads],
        span_m=span,
        drawn_m=drawn,
        readings=total,
        stations=tuple(
            tuple(sorted({name for k in g for name in measured.stations[k]})) for g in groups
        ),
        rms_m=np.sqrt(squares / np.maximum(total, 1)),
        largest_residual_m=np.array([measured.largest_residual_m[g].max() for g in groups]),
        squared_by_rad=np.where(
            measured.curves.curved[leads], 0.0, _turned(measured.normal_rad[leads], normal)
        ),
        curves=joined_sectors(measured, leads, groups),
    )
    return merged, _with_short(measured, merged, carrier, tolerance_m)


def _turned(measured_rad: Floats, drawn_rad: Floats) -> Floats:
    """The whole turn of each drawn face from its least-squares face, by squaring or by sharing a
    line with its neighbours; exactly 0 where there was none."""
    turn = wrap_half(drawn_rad - measured_rad)
    return np.where(np.abs(turn) < 1e-12, 0.0, turn)


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
