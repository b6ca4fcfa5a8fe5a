# SPDX-License-Identifier: GPL-2.0-or-later
"""The unknowns and observations of one connected group at approximate poses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats, unit, wrap_half
from ..captures.model import Ints
from .adjustment import FreeNetwork
from .connect_frames import moved
from .connect_groups import Compass, RelativePose
from .network_evidence import Evidence
from .network_walls import Sights
from .observations import (
    Bools,
    Observations,
    Orientations,
    RelativePoses,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)
from .surfaces_apart import factors_of, sigma_factors
from .target_surfaces import TargetSurfaces
from .wall_readings import WallReadings


def _no_stations() -> Ints:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Datum:
    """Where a group lies: the stations that keep their poses, or, of a free network, those whose
    approximate poses the inner constraints refer to (none: all)."""

    held: Ints = field(default_factory=_no_stations)
    reference: Ints = field(default_factory=_no_stations)


@dataclass(frozen=True, eq=False)
class System:
    """Unknowns, observations and datum of a group, and where each item comes from."""

    unknowns: Unknowns
    observations: Observations
    used: Bools
    sights: Sights
    free: FreeNetwork | None
    target_rows: Ints
    surface_rows: Ints
    compass_of: Ints
    targets: Ints

    @classmethod
    def of(
        cls,
        evidence: Evidence,
        members: Ints,
        pose: Floats,
        datum: Datum,
        why_out: dict[int, str],
        sights: Sights,
        scatter: float,
        relatives: Sequence[RelativePose],
        readings: WallReadings | None = None,
    ) -> System:
        count = len(members)
        local = np.full(len(evidence.names), -1, dtype=np.int64)
        local[members] = np.arange(count)
        s = evidence.sightings
        inside = local[s.station] >= 0
        good = inside.copy()
        good[list(why_out)] = False
        # A sighting that is out still gets a residual, if others determine the target.
        rows = np.flatnonzero(inside & np.isin(s.target, s.target[good]))
        targets, point = np.unique(s.target[rows], return_inverse=True)
        seen = moved(pose[s.station[rows]], s.local_m[rows])
        weight = np.where(good[rows], s.spread_m[rows] ** -2.0, 0.0)
        total = np.bincount(point, weight, len(targets))
        where = np.stack(
            [np.bincount(point, weight * seen[:, k], len(targets)) / total for k in (0, 1)], axis=1
        )
        scalars = _Scalars()
        directions, offsets = _of_surfaces(evidence, sights, local, pose, scatter, scalars)
        if readings is not None and len(readings):
            offsets = _with_readings(evidence, sights, readings, local, scatter, offsets)
        directions, surface_rows = _with_target_surfaces(
            evidence.surfaces, s.name, local, pose, scalars, directions
        )
        orientations, compass_of = _of_compass(evidence.compass, members, local, pose, scalars)
        observations = Observations(
            sightings=Sightings(
                station=local[s.station[rows]],
                to=count + point,
                angle_rad=s.angle_rad[rows],
                distance_m=s.distance_m[rows],
                sigma_rad=s.sigma_rad[rows],
                sigma_m=s.sigma_m[rows],
            ),
            relative_poses=_of_relatives(relatives, local),
            orientations=orientations,
            surface_directions=directions,
            surface_offsets=offsets,
        )
        station_held = np.zeros((count, 3), dtype=bool)
        free = None
        if len(datum.held):
            station_held[local[datum.held]] = True
        else:
            at = np.zeros(count + len(targets), dtype=bool)
            at[local[datum.reference] if len(datum.reference) else slice(count)] = True
            free = FreeNetwork(at)
        unknowns = Unknowns(
            station=tuple(evidence.names[m] for m in members),
            station_xy_m=pose[members, :2],
            orientation_rad=pose[members, 2],
            point=tuple(s.name[t] for t in targets),
            point_xy_m=where,
            scalar_name=tuple(scalars.name),
            scalar=np.array(scalars.value),
            station_held=station_held,
        )
        used = observations.all_used()
        used[observations.rows_of("sightings")] = np.repeat(good[rows], 2)
        return cls(
            unknowns,
            observations,
            used,
            sights,
            free,
            rows,
            surface_rows,
            compass_of,
            targets,
        )


def _of_relatives(relatives: Sequence[RelativePose], local: Ints) -> RelativePoses:
    if not relatives:
        return RelativePoses()
    return RelativePoses(
        station=local[[r.first for r in relatives]],
        to=local[[r.second for r in relatives]],
        pose=np.array([r.pose for r in relatives]),
        covariance=np.array([r.covariance for r in relatives]),
    )


class _Scalars:
    """Names and approximate values of the scalar unknowns, collected one by one."""

    def __init__(self) -> None:
        self.name: list[str] = []
        self.value: list[float] = []

    def add(self, name: str, value: float) -> int:
        self.name.append(name)
        self.value.append(float(value))
        return len(self.name) - 1


def _of_surfaces(
    evidence: Evidence,
    sights: Sights,
    local: Ints,
    pose: Floats,
    scatter: float,
    scalars: _Scalars,
) -> tuple[SurfaceDirections, SurfaceOffsets]:
    """Observations of the common surfaces; the reference of each is its best station."""
    n = len(sights)
    if not n:
        return SurfaceDirections(), SurfaceOffsets()
    centre, normal, sigma_o, sigma_n = (
        sights.column(evidence.faces, name)
        for name in ("centre_m", "normal_rad", "sigma_offset_m", "sigma_normal_rad")
    )
    times = scatter * sigma_factors(sights, evidence.overlap_factor)
    azimuth = wrap_half(normal + pose[sights.station, 2])
    points = moved(pose[sights.station], centre)
    surface, distance, reference = (np.zeros(n, dtype=np.int64) for _ in range(3))
    for of in sights.of_each():
        best = of[np.argmin(sigma_o[of])]
        at = int(sights.station[best])
        name = f"surface {evidence.names[at]}/{int(sights.face[best]) + 1}"
        surface[of] = scalars.add(name, azimuth[best])
        away = unit(azimuth[best]) @ (points[best] - pose[at, :2])
        distance[of] = scalars.add(f"distance of {name}", float(away))
        reference[of] = local[at]
    station = local[sights.station]
    return (
        SurfaceDirections(
            station=station, surface=surface, angle_rad=normal, sigma_rad=times * sigma_n
        ),
        SurfaceOffsets(
            station=station,
            reference=reference,
            surface=surface,
            normal_distance=distance,
            centre_m=centre,
            sigma_m=times * sigma_o,
        ),
    )


def _with_readings(
    evidence: Evidence,
    sights: Sights,
    readings: WallReadings,
    local: Ints,
    scatter: float,
    offsets: SurfaceOffsets,
) -> SurfaceOffsets:
    """Offsets of readings on the surfaces, added to those of the faces."""
    _, first = np.unique(sights.surface, return_index=True)
    face = first[readings.surface]
    times = scatter * factors_of(
        readings.station, readings.surface, sights, evidence.overlap_factor
    )
    return replace(
        offsets,
        station=np.append(offsets.station, local[readings.station]),
        reference=np.append(offsets.reference, offsets.reference[face]),
        surface=np.append(offsets.surface, offsets.surface[face]),
        normal_distance=np.append(offsets.normal_distance, offsets.normal_distance[face]),
        centre_m=np.concatenate([offsets.centre_m, readings.point_m]),
        sigma_m=np.append(offsets.sigma_m, times * readings.sigma_m),
    )


def _with_target_surfaces(
    surfaces: TargetSurfaces,
    names: tuple[str, ...],
    local: Ints,
    pose: Floats,
    scalars: _Scalars,
    directions: SurfaceDirections,
) -> tuple[SurfaceDirections, Ints]:
    """Directions of target surfaces that two or more stations measured, added to the others."""
    inside = local[surfaces.station] >= 0
    target, count = np.unique(surfaces.target[inside], return_counts=True)
    shared = target[count > 1]
    rows = np.flatnonzero(inside & np.isin(surfaces.target, shared))
    if not len(rows):
        return directions, rows
    azimuth = wrap_half(surfaces.angle_rad[rows] + pose[surfaces.station[rows], 2])
    scalar = {}
    for row, value in zip(rows, azimuth):
        key = int(surfaces.target[row])
        if key not in scalar:
            scalar[key] = scalars.add(f"surface {names[key]}", value)
    added = np.array([scalar[int(t)] for t in surfaces.target[rows]], dtype=np.int64)
    joined = replace(
        directions,
        station=np.append(directions.station, local[surfaces.station[rows]]),
        surface=np.append(directions.surface, added),
        angle_rad=np.append(directions.angle_rad, surfaces.angle_rad[rows]),
        sigma_rad=np.append(directions.sigma_rad, surfaces.sigma_rad[rows]),
    )
    return joined, rows


def _of_compass(
    compass: Compass, members: Ints, local: Ints, pose: Floats, scalars: _Scalars
) -> tuple[Orientations, Ints]:
    """Compass bearings with one common offset; none when a single station has one."""
    of = members[compass.known[members]]
    if len(of) < 2:
        return Orientations(), np.empty(0, dtype=np.int64)
    offset = wrap_half(compass.bearing_rad[of] - pose[of, 2])
    middle = np.arctan2(np.median(np.sin(offset)), np.median(np.cos(offset)))
    scalar = scalars.add("compass offset", middle)
    return (
        Orientations(
            station=local[of],
            azimuth_rad=compass.bearing_rad[of],
            sigma_rad=compass.sigma_rad[of],
            offset=np.full(len(of), scalar),
        ),
        of,
    )
