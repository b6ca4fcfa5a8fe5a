# SPDX-License-Identifier: GPL-2.0-or-later
"""The guarantee of a plot scale, checked on what is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, along
from ..captures.model import Ints
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .model import WallFaces
from .straightening import movement

ROUNDING_M = 1e-9


@dataclass(frozen=True, eq=False)
class Movements:
    """How far drawn faces lie from the least-squares faces they stand for.

    `moved_m (W,)` is the largest distance over the extent that readings support of each measured
    face, `carrier (W,)` the drawn face that stands for it (-1: left out as shorter than the
    tolerance; its movement is NaN).
    """

    moved_m: Floats
    carrier: Ints

    @property
    def largest_m(self) -> float:
        return float(np.nanmax(self.moved_m)) if np.isfinite(self.moved_m).any() else 0.0


def carriers(measured: WallFaces, drawn: WallFaces) -> Ints:
    """The drawn face ``(W,)`` that carries the readings of each measured face, or -1."""
    carrier = np.full(len(measured), -1, dtype=np.int64)
    for before, after in zip(measured.wall_of_reading, drawn.wall_of_reading):
        on = (before >= 0) & (after >= 0)
        carrier[before[on]] = after[on]
    return carrier


def check_tolerance(
    measured: WallFaces, drawn: WallFaces, tolerance_m: float, progress: Progress = SILENT
) -> Movements:
    """Checks the guarantee of the tolerance and returns how far each face moved.

    Holds when no measured face lies further than ``tolerance_m`` from the drawn face that carries
    its readings, over the extent that they support; when only faces shorter than the tolerance
    are left out; when all readings of a face go to one drawn face; and when their residuals from
    the least-squares face are untouched. A reading's normal residual from the drawn face is then at
    most the tolerance more than from its least-squares face, that is, tolerance + 3.29 sigma.
    Raises `SurveyError` naming the first wall that breaks it.
    """
    carrier = carriers(measured, drawn)
    moved = np.full(len(measured), np.nan)
    length = measured.span_m[:, 1] - measured.span_m[:, 0]
    for k, face in enumerate(progress.over(carrier)):
        if face < 0:
            if measured.readings[k] and length[k] >= tolerance_m + ROUNDING_M:
                raise SurveyError(
                    f"Wall {measured.wall[k]} at 1:{drawn.plot_scale} is left out though it is "
                    f"{length[k] * 1000:.1f} mm long; the tolerance is {tolerance_m * 1000:.1f} mm."
                )
            continue
        moved[k] = movement(measured, [k], drawn.centre_m[face], float(drawn.normal_rad[face]))
        if moved[k] > tolerance_m + ROUNDING_M:
            raise SurveyError(
                f"Wall {measured.wall[k]} at 1:{drawn.plot_scale} lies {moved[k] * 1000:.2f} mm "
                f"from its least-squares face; the tolerance is {tolerance_m * 1000:.1f} mm."
            )
    _check_drawn_on_line(drawn)
    for before, after in zip(measured.wall_of_reading, drawn.wall_of_reading):
        walls, faces = before[before >= 0], after[before >= 0]
        astray = walls[carrier[walls] != faces]
        if len(astray):
            raise SurveyError(
                f"Readings of wall {measured.wall[astray[0]]} at 1:{drawn.plot_scale} are "
                "on several faces; expected one."
            )
    for residual, kept in zip(measured.residual_of_reading_m, drawn.residual_of_reading_m):
        if not np.array_equal(residual, kept, equal_nan=True):
            raise SurveyError(
                f"Residuals at 1:{drawn.plot_scale} differ from those of the least-squares faces."
            )
    return Movements(moved, carrier)


def _check_drawn_on_line(drawn: WallFaces) -> None:
    """What is drawn must lie on the face's line and run the same way."""
    u = along(drawn.normal_rad)
    away = drawn.drawn_m - drawn.centre_m[:, None, :]
    off = np.abs(np.einsum("iej,ij->ie", away, drawn.normal)).max(axis=1, initial=0.0)
    run = np.einsum("ij,ij->i", drawn.drawn_m[:, 1] - drawn.drawn_m[:, 0], u)
    for k in np.flatnonzero((off > 1e-7) | (run < -1e-7)):
        raise SurveyError(
            f"Wall {drawn.wall[k]} at 1:{drawn.plot_scale} is not drawn on its face: "
            f"{off[k] * 1000:.3f} mm off."
        )
