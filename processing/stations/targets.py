# SPDX-License-Identifier: GPL-2.0-or-later
"""Sightings of named targets and the directions of the surfaces that carry them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.model import Capture, Ints, Kind, Survey
from .connect_frames import fitted, moved, turned

_SIGHTING_COLUMNS = (
    "station",
    "target",
    "capture_row",
    "angle_rad",
    "distance_m",
    "sigma_rad",
    "sigma_m",
)

SHORTEST_BASE_M = 0.30
"""Two common targets nearer to each other than this leave the turn to chance."""


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


@dataclass(frozen=True, eq=False)
class Common:
    """Targets known in two frames: points ``(n, 2)`` in each, the 1-sigma error of their difference
    ``(n,)``, and their indices ``(n,)``."""

    first_m: Floats
    second_m: Floats
    sigma_m: Floats
    target: Ints

    def __len__(self) -> int:
        return len(self.target)

    def misfit_m(self, pose: Floats) -> Floats:
        """Distances ``(n,)`` between the two points of each target when the second frame is laid
        over the first by the pose."""
        return np.hypot(*(moved(pose, self.second_m) - self.first_m).T)

    def allowed_m(self) -> Floats:
        """Misfits ``(n,)`` that noise explains."""
        return 4.0 * self.sigma_m + 0.005


def pose_from_targets(common: Common) -> tuple[Floats, np.ndarray] | None:
    """The motion (3,) of the second frame that brings most common targets together, and which of
    them agree ``(n,)``; None when no two agree on a base long enough to fix the turn.

    Two targets determine the motion, so every pair is tried (as in Fischler and Bolles 1981, but
    exhaustively) and the motion fitted again to all that agree with the best pair.
    """
    n = len(common)
    best: tuple[int, float] = (1, np.inf)
    chosen: Floats | None = None
    allowed = common.allowed_m()
    for i in range(n - 1):
        for j in range(i + 1, n):
            base = common.first_m[j] - common.first_m[i]
            other = common.second_m[j] - common.second_m[i]
            if min(np.hypot(*base), np.hypot(*other)) < SHORTEST_BASE_M:
                continue
            two = np.array([i, j])
            pose = fitted(common.second_m[two], common.first_m[two], np.ones(2))
            misfit = common.misfit_m(pose)
            # The other targets inherit the pair's turn error with their distance from it.
            lever = np.hypot(*(common.first_m - common.first_m[two].mean(axis=0)).T)
            slack = allowed * (1.0 + lever / np.hypot(*base))
            agree = misfit < slack
            if not agree[two].all():
                continue
            rank = (int(agree.sum()), float(np.sum(misfit[agree] ** 2)))
            if rank[0] > best[0] or (rank[0] == best[0] and rank[1] < best[1]):
                best, chosen = rank, pose
                members = agree
    if chosen is None:
        return None
    pose = fitted(
        common.second_m[members], common.first_m[members], common.sigma_m[members] ** -2.0
    )
    return pose, members


def turn_sigma_rad(common: Common, members: np.ndarray) -> float:
    """1-sigma error of the turn that common targets give."""
    weight = common.sigma_m[members] ** -2.0
    centre = weight @ common.first_m[members] / weight.sum()
    lever = np.sum(weight * np.sum((common.first_m[members] - centre) ** 2, axis=1))
    return float(1.0 / np.sqrt(max(lever, 1e-12)))


def pose_from_direction(
    first_m: Floats, second_m: Floats, first_normal_rad: float, second_normal_rad: float
) -> Floats:
    """The motion (3,) from one target and the direction of the surface that carries it, both known
    in the two frames."""
    turn = float(wrap_half(first_normal_rad - second_normal_rad))
    return np.append(first_m - turned(second_m, turn), turn)
