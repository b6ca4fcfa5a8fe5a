# SPDX-License-Identifier: GPL-2.0-or-later
"""The directions of the flat surfaces that carry targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from ..angles import Floats, azimuth_of, unit, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Capture, Ints, Kind, Survey
from .targets import TargetSightings

LONGEST_BESIDE_M = 0.05
"""A target may stand this far beyond what readings support of the face that carries it."""

SHORTEST_FACE_M = 0.30

VAGUEST_RAD = 0.2
"""A direction less certain than this is none."""

_COLUMNS = ("station", "target", "label", "angle_rad", "sigma_rad", "of_ring")


@dataclass(frozen=True, eq=False)
class TargetSurfaces:
    """``n`` directions of the flat surfaces around targets: the instrument angle of the normal
    towards the free side `angle_rad (n,)` and its 1-sigma error; `station (n,)`, `target (n,)` and
    `label (n,)` are indices as in `TargetSightings`. `of_ring (n,)`: the direction is that of the
    face which the ring shows around the target, not one of readings of kind surface.
    """

    station: Ints
    target: Ints
    label: Ints
    angle_rad: Floats
    sigma_rad: Floats
    of_ring: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.station)

    def chosen(self, rows: Sequence[int] | Ints) -> TargetSurfaces:
        """Only some of the directions."""
        at = np.array(rows, dtype=np.int64)
        return TargetSurfaces(*(getattr(self, name)[at] for name in _COLUMNS))

    def with_more(self, more: TargetSurfaces) -> TargetSurfaces:
        """These and others."""
        pairs = ((getattr(self, name), getattr(more, name)) for name in _COLUMNS)
        return TargetSurfaces(*(np.concatenate(pair) for pair in pairs))


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
    return _table(found, of_ring=False)


def surfaces_in_rings(
    faces: Sequence[Faces], sightings: TargetSightings, known: TargetSurfaces
) -> TargetSurfaces:
    """Directions of the faces that the stations' own rings show around the targets they sighted,
    where no surface readings are `known`.

    The sighted point lies on the face within its errors, and within its extent. A wall is taken to
    stand upright, since a target may hang above or below the ring.
    """
    have = set(zip(known.station.tolist(), known.target.tolist()))
    point, spread = sightings.local_m, sightings.spread_m
    found: list[tuple[int, int, float, float]] = []
    for row, (station, target) in enumerate(zip(sightings.station, sightings.target)):
        if (int(station), int(target)) in have:
            continue
        seen = faces[station]
        away = point[row] - seen.centre_m
        off = np.abs(np.einsum("ij,ij->i", away, seen.normal))
        at = np.einsum("ij,ij->i", away, seen.direction)
        start, end = seen.span_m.T
        on = (off < 4.0 * spread[row] + 0.01) & (seen.length_m > SHORTEST_FACE_M)
        on &= (at > start - LONGEST_BESIDE_M) & (at < end + LONGEST_BESIDE_M)
        # At a corner two faces carry the point, and which of them the target is on is not known.
        if on.sum() == 1:
            (face,) = np.flatnonzero(on)
            angle, sigma = float(seen.normal_rad[face]), float(seen.sigma_normal_rad[face])
            found.append((int(station), int(target), angle, sigma))
    return _table(found, of_ring=True)


def _table(found: Sequence[tuple[int, int, float, float]], *, of_ring: bool) -> TargetSurfaces:
    columns = list(zip(*found)) if found else [(), (), (), ()]
    target = np.array(columns[1], dtype=np.int64)
    return TargetSurfaces(
        station=np.array(columns[0], dtype=np.int64),
        target=target,
        label=target.copy(),
        angle_rad=np.array(columns[2], dtype=float),
        sigma_rad=np.array(columns[3], dtype=float),
        of_ring=np.full(len(found), of_ring),
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
    if lever <= 0 or 1.0 / np.sqrt(lever) > VAGUEST_RAD:
        return None
    # A surface that is not flat, or a reading beside it, makes the direction less certain.
    square, freedom = float(weight @ (offset @ vectors[:, 0]) ** 2), len(rows) - 2
    bent = freedom > 0 and square > chi2.isf(0.001, freedom)
    return azimuth, float(np.sqrt((square / freedom if bent else 1.0) / lever))
