# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment of one connected group: sightings, common surfaces and compass bearings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats, unit, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .adjustment import FreeNetwork, adjust
from .blunders import Snooping, snoop
from .connect_frames import moved
from .connect_groups import Compass, RelativePose
from .network_rigid import LOOSE_ALONE_M, LOOSE_M, Loose, rigid_parts
from .network_walls import Gate, Sights, common_surfaces
from .observations import (
    Observations,
    Orientations,
    RelativePoses,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)
from .statistics import Statistics, statistics_of
from .surfaces_apart import sigma_factors, taken_apart
from .target_surfaces import TargetSurfaces
from .targets import TargetSightings

GATES = (
    Gate(0.10, np.radians(2.0)),
    Gate(0.05, np.radians(1.0)),
    Gate(0.03, np.radians(1.0), sigmas=4.0, sigma_m=0.004, sigma_rad=np.radians(0.05)),
)
"""Surfaces are found again after each adjustment, as the poses become better."""

SCATTER_SIGMAS, SCATTER_SIGMA = 3.0, 1.166
"""Walls fit worse than the readings' noise when the factor exceeds one by so many of its standard
errors; that of a scatter told by the median of n normal residuals is 1.166 over the root of n:
0.5 / (2 phi(0.6745) 0.6745), from the asymptotic variance of a median."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """What all stations of a survey observed; indices are those of the survey. Pairs of stations
    (the lesser first) in `barred` share no surface, as a person decided; those in `overlap_factor`
    have the standard errors of their overlap multiplied."""

    names: tuple[str, ...]
    faces: Sequence[Faces]
    level: Ints
    sightings: TargetSightings
    surfaces: TargetSurfaces
    compass: Compass
    barred: frozenset[tuple[int, int]] = frozenset()
    overlap_factor: Mapping[tuple[int, int], float] = field(default_factory=dict)


def _no_stations() -> Ints:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Datum:
    """Where a group lies: the stations that keep their poses, or, of a free network, those whose
    approximate poses the inner constraints refer to (none: all)."""

    held: Ints = field(default_factory=_no_stations)
    reference: Ints = field(default_factory=_no_stations)


@dataclass(frozen=True, eq=False)
class AdjustedGroup:
    """The adjustment of the stations `members (m,)` (indices of the survey).

    `sights` are the faces observed, `scatter` the factor on their errors; `target_rows`,
    `surface_rows` and `compass_of` say which sighting, target surface and station each item of the
    observations comes from; `targets` are the indices of the adjusted points; `why_out` why
    sightings (rows) took no part; `relatives` are the ties by readings, item by item.
    """

    members: Ints
    snooping: Snooping
    sights: Sights
    scatter: float
    target_rows: Ints
    surface_rows: Ints
    compass_of: Ints
    targets: Ints
    why_out: dict[int, str]
    relatives: tuple[RelativePose, ...] = ()

    @property
    def pose(self) -> Floats:
        """Adjusted poses ``(m, 3)``."""
        u = self.snooping.adjustment.unknowns
        return np.column_stack([u.station_xy_m, u.orientation_rad])


def adjust_group(
    evidence: Evidence,
    members: Ints,
    pose: Floats,
    datum: Datum,
    why_out: dict[int, str],
    use_overlap: bool,
    progress: Progress = SILENT,
    relatives: Sequence[RelativePose] = (),
) -> AdjustedGroup:
    """Adjust a group from approximate poses ``(S, 3)``.

    `datum` says which stations keep their poses, or which poses a free network stays at; `why_out`
    says which sightings
    (rows) take no part, and why. `relatives` tie stations by their readings; the faces of such
    stations are left out, as they are the same readings. Raises Loose when the observations do not
    fix the group's stations to each other.
    """
    pose = pose.copy()
    why_out = dict(why_out)
    sights = _no_sights()
    scatter = 1.0
    inside = {int(m) for m in members}
    relatives = tuple(r for r in relatives if {r.first, r.second} <= inside)
    rough = {end for r in relatives for end in (r.first, r.second)}
    relatives = tuple(_weighed(r, evidence) for r in relatives if r.ends not in evidence.barred)
    with_faces = np.array([m for m in members if int(m) not in rough], dtype=np.int64)
    for step, gate in enumerate(GATES):
        part = progress.part(0.4 * step / len(GATES), 0.4 * (step + 1) / len(GATES))
        part.at(0.0)
        if use_overlap and len(with_faces):
            sights = common_surfaces(evidence.faces, with_faces, pose, evidence.level, gate)
            sights = taken_apart(sights, evidence.barred)
        part.at(0.3)
        system = _System.of(evidence, members, pose, datum, why_out, sights, scatter, relatives)
        # Rough captures know their places to centimetres, and so do stations that a single target
        # and its surface tie; nothing makes these slide.
        hung = np.isin(members, evidence.surfaces.station[system.surface_rows])
        alone_m = np.where(hung | bool(relatives), LOOSE_M, LOOSE_ALONE_M)
        parts = rigid_parts(system.unknowns, system.observations, system.used, alone_m)
        if len(parts) > 1:
            raise Loose(parts)
        result = adjust(
            system.unknowns,
            system.observations,
            used=system.used,
            free=system.free,
            progress=part.part(0.5, 1.0),
        )
        pose[members] = np.column_stack(
            [result.unknowns.station_xy_m, result.unknowns.orientation_rad]
        )
    if len(sights):
        scatter = _scatter(statistics_of(result), system)
    rounds = 3
    for step in range(rounds):
        system = _System.of(evidence, members, pose, datum, why_out, sights, scatter, relatives)
        part = progress.part(0.4 + 0.6 * step / rounds, 0.4 + 0.6 * (step + 1) / rounds)
        snooping = snoop(
            system.unknowns,
            system.observations,
            used=system.used,
            free=system.free,
            progress=part,
        )
        # Blunders raise the scatter of the walls that is seen before they are found.
        better = _scatter(snooping.statistics, system, scatter)
        found = _wholly_wrong(evidence, system, snooping)
        if step == rounds - 1 or (not found and better >= 0.9 * scatter):
            break
        if found:
            # What is left of a sighting may be all that ties a station: then it stays.
            left = _System.of(
                evidence, members, pose, datum, {**why_out, **found}, sights, scatter, relatives
            )
            if len(rigid_parts(left.unknowns, left.observations, left.used, alone_m)) > 1:
                break
        why_out.update(found)
        scatter = better
    return AdjustedGroup(
        members,
        snooping,
        sights,
        scatter,
        system.target_rows,
        system.surface_rows,
        system.compass_of,
        system.targets,
        why_out,
        relatives,
    )


def _wholly_wrong(evidence: Evidence, system: _System, snooping: Snooping) -> dict[int, str]:
    """Sightings to take out as a whole, with the reason: those of which one component was
    rejected, and all of a station of whose sightings two or more and at least half were."""
    reason = {
        int(system.target_rows[r.item]): r.reason
        for r in snooping.rejected
        if r.kind == "sightings"
    }
    found = dict(reason)
    station = evidence.sightings.station
    for at in sorted({int(station[row]) for row in reason}):
        own = system.target_rows[(station[system.target_rows] == at)]
        wrong = [row for row in own if int(row) in reason]
        if len(wrong) >= 2 and 2 * len(wrong) >= len(own):
            text = "most sightings of this station disagree with its ring: did the tripod move?"
            found.update({int(row): text for row in own})
            # What the wrong sightings of one station threw out elsewhere may come back.
            return {row: text for row, text in found.items() if int(station[row]) == at}
    return found


def _no_sights() -> Sights:
    none = np.empty(0, dtype=np.int64)
    return Sights(none, none, none)


def _scatter(statistics: Statistics, system: _System, scatter: float = 1.0) -> float:
    """Factor on the errors of faces that their residuals ask for, from the median so that blunders
    do not raise it; 1 when they are as good as stated, or when chance explains more. `scatter` is
    the factor applied so far."""

    def of_faces(rows: Floats) -> Floats:
        directions = system.observations.by_item("surface_directions", rows)
        offsets = system.observations.by_item("surface_offsets", rows)
        return np.concatenate([directions[: len(system.sights), 0], offsets[:, 0]])

    w = np.abs(of_faces(statistics.standardised))
    freedom = float(np.nansum(of_faces(statistics.redundancy)))
    w = w[np.isfinite(w)]
    if freedom < 5.0:
        return 1.0
    # The median of |w| of normal residuals is 0.6745.
    factor = scatter * float(np.median(w) / 0.6745)
    return factor if factor > 1.0 + SCATTER_SIGMAS * SCATTER_SIGMA / np.sqrt(freedom) else 1.0


@dataclass(frozen=True, eq=False)
class _System:
    """Unknowns, observations and datum of a group, and where each item comes from."""

    unknowns: Unknowns
    observations: Observations
    used: np.ndarray
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
    ) -> _System:
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


def _weighed(tie: RelativePose, evidence: Evidence) -> RelativePose:
    """A tie by readings with the standard errors that a person gave it."""
    factor = evidence.overlap_factor.get(tie.ends, 1.0)
    return replace(tie, covariance=tie.covariance * factor**2)


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
    faces = evidence.faces

    def column(name: str) -> Floats:
        return np.array(
            [getattr(faces[s], name)[f] for s, f in zip(sights.station, sights.face)], dtype=float
        )

    if not n:
        return SurfaceDirections(), SurfaceOffsets()
    centre, normal = column("centre_m"), column("normal_rad")
    sigma_o, sigma_n = column("sigma_offset_m"), column("sigma_normal_rad")
    times = scatter * sigma_factors(sights, evidence.overlap_factor)
    azimuth = wrap_half(normal + pose[sights.station, 2])
    points = moved(pose[sights.station], centre)
    surface, distance, reference = (np.zeros(n, dtype=np.int64) for _ in range(3))
    for index in range(sights.surfaces):
        of = np.flatnonzero(sights.surface == index)
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
