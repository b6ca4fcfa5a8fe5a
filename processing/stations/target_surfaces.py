# SPDX-License-Identifier: GPL-2.0-or-later
"""The directions of the flat surfaces that carry targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.model import Capture, Ints, Kind, Survey


@dataclass(frozen=True, eq=False)
class TargetSurfaces:
    """``n`` directions of the flat surfaces around targets: the instrument angle of the normal
    towards the free side `angle_rad (n,)` and its 1-sigma error, from the readings of kind
    surface; `station (n,)` and `target (n,)` are indices as in `TargetSightings`."""

    station: Ints
    target: Ints
    angle_rad: Floats
    sigma_rad: Floats

    def __len__(self) -> int:
        return len(self.station)

    def chosen(self, rows: Sequence[int] | Ints) -> TargetSurfaces:
        """Only some of the directions."""
        at = np.array(rows, dtype=np.int64)
        return TargetSurfaces(
            self.station[at], self.target[at], self.angle_rad[at], self.sigma_rad[at]
        )


def surfaces_of(survey: Survey, names: Sequence[str]) -> TargetSurfaces:
    """Directions of target surfaces from two or more surface readings each."""
    place = {name: index for index, name in enumerate(names)}
    found: list[tuple[int, int, float, float]] = []
    for index, capture in enumerate(survey.captures):
        on = (capture.kind == Kind.SURFACE) & capture.usable & (capture.target != "")
        for name in sorted({str(name) for name in capture.target[on]}):
            rows = np.flatnonzero(on & (capture.target == name))
            direction = _surface_direction(capture, rows)
            if direction is not None:
                found.append((index, place[name], *direction))
    columns = list(zip(*found)) if found else [(), (), (), ()]
    return TargetSurfaces(
        np.array(columns[0], dtype=np.int64),
        np.array(columns[1], dtype=np.int64),
        np.array(columns[2], dtype=float),
        np.array(columns[3], dtype=float),
    )


def _surface_direction(capture: Capture, rows: Ints) -> tuple[float, float] | None:
    """Instrument angle of the surface's normal and its standard error; None when it is not fixed.

    Weighted orthogonal regression; a reading's error across the surface follows from range, angle
    and incidence.
    """
    if len(rows) < 2:
        return None
    points = capture.xy_m[rows]
    ray = unit(capture.angle_rad[rows])
    weight = np.ones(len(rows))
    azimuth = 0.0
    for _ in range(3):
        centre = weight @ points / weight.sum()
        offset = points - centre
        _, vectors = np.linalg.eigh((offset * weight[:, None]).T @ offset)
        azimuth = float(azimuth_of(vectors[:, 0]))
        if unit(azimuth) @ centre > 0:
            azimuth = float(wrap_half(azimuth + np.pi))
        facing = np.abs(ray @ unit(azimuth))
        across = np.hypot(
            facing * capture.distance_sigma_m,
            np.sqrt(np.maximum(1 - facing**2, 0.0))
            * capture.distance_m[rows]
            * np.radians(capture.angle_sigma_deg),
        )
        weight = 1.0 / np.maximum(across, 1e-6) ** 2
    along = offset @ vectors[:, 1]
    lever = float(weight @ along**2)
    if lever <= 0 or 1.0 / np.sqrt(lever) > 0.2:
        return None
    return azimuth, float(1.0 / np.sqrt(lever))
