# SPDX-License-Identifier: GPL-2.0-or-later
"""Sightings of named targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, unit
from ..captures.model import Ints, Kind, Survey

_SIGHTING_COLUMNS = (
    "station",
    "target",
    "label",
    "capture_row",
    "angle_rad",
    "distance_m",
    "sigma_rad",
    "sigma_m",
    "remark",
)


@dataclass(frozen=True, eq=False)
class TargetSightings:
    """``n`` polar sightings of ``K`` named targets.

    `station (n,)` and `target (n,)` are indices, `label (n,)` the target that the capture names
    (another one where a name was found to be mistaken; `remark (n,)` says so then),
    `capture_row (n,)` the reading in its capture, `angle_rad`, `distance_m` the horizontal polar
    reading, `sigma_rad`, `sigma_m` its 1-sigma errors.
    """

    name: tuple[str, ...]
    station: Ints
    target: Ints
    label: Ints
    capture_row: Ints
    angle_rad: Floats
    distance_m: Floats
    sigma_rad: Floats
    sigma_m: Floats
    remark: NDArray[np.str_]

    def __len__(self) -> int:
        return len(self.station)

    def chosen(self, rows: Sequence[int] | Ints) -> TargetSightings:
        """Only some of the sightings."""
        at = np.array(rows, dtype=np.int64)
        return replace(self, **{name: getattr(self, name)[at] for name in _SIGHTING_COLUMNS})

    def renamed(self, rows: Sequence[int], name: str, remark: Sequence[str]) -> TargetSightings:
        """Sightings taken for those of another target; one that is not yet known is added."""
        names = self.name if name in self.name else (*self.name, name)
        target, text = self.target.copy(), self.remark.astype(object)
        target[rows] = names.index(name)
        text[rows] = remark
        return replace(self, name=names, target=target, remark=text)

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
    pick = [(survey.captures[s], r) for s, r in zip(station, row)]
    own = np.array(target, dtype=np.int64)
    distance = np.array([capture.distance_m[r] for capture, r in pick])
    sigma_rad = np.array([np.radians(capture.angle_sigma_deg) for capture, _ in pick])
    return TargetSightings(
        name=tuple(names),
        station=np.array(station, dtype=np.int64),
        target=own,
        label=own.copy(),
        capture_row=np.array(row, dtype=np.int64),
        angle_rad=np.array([np.radians(capture.angle_deg[r]) for capture, r in pick]),
        distance_m=distance,
        sigma_rad=sigma_rad,
        sigma_m=_horizontal_sigma_m(
            distance,
            np.array([np.radians(capture.zenith_deg[r]) for capture, r in pick]),
            np.array([capture.distance_sigma_m for capture, _ in pick]),
            sigma_rad,
        ),
        remark=np.full(len(own), "", dtype=object),
    )


def _horizontal_sigma_m(
    distance_m: Floats, zenith_rad: Floats, sigma_m: Floats, sigma_rad: Floats
) -> Floats:
    """1-sigma errors of horizontal distances ``(n,)`` from slope distances and zenith angles.

    A slanting sighting, to a target in a stair, say, has the errors of both (propagated through
    d = s sin z: Ghilani, Adjustment Computations, ch. 6); the zenith angle's is that of an angle.
    """
    rise = distance_m / np.tan(zenith_rad)
    return np.hypot(np.sin(zenith_rad) * sigma_m, rise * sigma_rad)
