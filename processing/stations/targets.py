# SPDX-License-Identifier: GPL-2.0-or-later
"""Sightings of named targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, unit
from ..captures.model import Ints, Kind, Survey

_SIGHTING_COLUMNS = (
    "station",
    "target",
    "capture_row",
    "angle_rad",
    "distance_m",
    "sigma_rad",
    "sigma_m",
)


@dataclass(frozen=True, eq=False)
class TargetSightings:
    """``n`` polar sightings of ``K`` named targets.

    `station (n,)` and `target (n,)` are indices, `capture_row (n,)` the reading in its capture,
    `angle_rad`, `distance_m` the polar reading, `sigma_rad`, `sigma_m` its 1-sigma errors.
    """

    name: tuple[str, ...]
    station: Ints
    target: Ints
    capture_row: Ints
    angle_rad: Floats
    distance_m: Floats
    sigma_rad: Floats
    sigma_m: Floats

    def __len__(self) -> int:
        return len(self.station)

    def chosen(self, rows: Sequence[int] | Ints) -> TargetSightings:
        """Only some of the sightings."""
        at = np.array(rows, dtype=np.int64)
        return replace(self, **{name: getattr(self, name)[at] for name in _SIGHTING_COLUMNS})

    @property
    def local_m(self) -> Floats:
        """Sighted points ``(n, 2)`` in the instrument's frame."""
        return self.distance_m[:, None] * unit(self.angle_rad)

    @property
    def spread_m(self) -> Floats:
        """1-sigma error ``(n,)`` of the sighted point in its worse direction."""
        return np.maximum(self.sigma_m, self.distance_m * self.sigma_rad)


def sightings_of(survey: Survey) -> TargetSightings:
    """All usable sightings of a survey, targets in the order of their names."""
    names = sorted(
        {
            str(name)
            for capture in survey.captures
            for name in capture.target[(capture.kind != Kind.RING) & (capture.target != "")]
        }
    )
    place = {name: index for index, name in enumerate(names)}
    station: list[int] = []
    target: list[int] = []
    row: list[int] = []
    for index, capture in enumerate(survey.captures):
        sighted = (capture.kind == Kind.TARGET) & capture.usable & (capture.target != "")
        for at in np.flatnonzero(sighted & (capture.distance_m > 0)):
            station.append(index)
            target.append(place[str(capture.target[at])])
            row.append(int(at))
    captures = survey.captures
    pick = list(zip(station, row))
    return TargetSightings(
        name=tuple(names),
        station=np.array(station, dtype=np.int64),
        target=np.array(target, dtype=np.int64),
        capture_row=np.array(row, dtype=np.int64),
        angle_rad=np.array([np.radians(captures[s].angle_deg[r]) for s, r in pick]),
        distance_m=np.array([captures[s].distance_m[r] for s, r in pick]),
        sigma_rad=np.array([np.radians(captures[s].angle_sigma_deg) for s, _ in pick]),
        sigma_m=np.array([captures[s].distance_sigma_m for s, _ in pick]),
    )
