# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment of one connected group: sightings, common surfaces and compass bearings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats
from ..captures.faces import REJECT
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .adjustment import Adjustment, adjust
from .blunders import Snooping, snoop
from .connect_groups import RelativePose
from .network_evidence import Evidence
from .network_rigid import LOOSE_ALONE_M, LOOSE_M, Loose, rigid_parts
from .network_system import Datum, System
from .network_walls import Gate, Sights, common_surfaces
from .observations import Unknowns
from .statistics import Statistics, statistics_of
from .surfaces_apart import taken_apart
from .wall_readings import WallReadings, readings_on_walls

GATES = (
    Gate(0.10, np.radians(2.0)),
    Gate(0.05, np.radians(1.0)),
    Gate(0.03, np.radians(1.0), sigmas=4.0, sigma_m=0.004, sigma_rad=np.radians(0.05)),
)
"""Surfaces are found again after each adjustment, as the poses become better."""

AT_LAST = replace(GATES[-1], sigmas=REJECT, sigma_m=0.0, sigma_rad=0.0)
"""For readings that took part already: their residuals are no larger than their own errors."""

SCATTER_SIGMAS, SCATTER_SIGMA = 3.0, 1.166
"""Walls fit worse than the readings' noise when the factor exceeds one by so many of its standard
errors; that of a scatter told by the median of n normal residuals is 1.166 over the root of n:
0.5 / (2 phi(0.6745) 0.6745), from the asymptotic variance of a median."""


@dataclass(frozen=True, eq=False)
class AdjustedGroup:
    """The adjustment of the stations `members (m,)` (indices of the survey).

    `sights` are the faces observed, `readings` what single readings on their surfaces add (the
    offsets after those of the faces), `scatter` the factor on the errors of both; `target_rows`,
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
    readings: WallReadings = field(default_factory=WallReadings)

    @property
    def pose(self) -> Floats:
        """Adjusted poses ``(m, 3)``."""
        return _poses(self.snooping.adjustment.unknowns)


def _poses(unknowns: Unknowns) -> Floats:
    return np.column_stack([unknowns.station_xy_m, unknowns.orientation_rad])


def adjust_group(
    evidence: Evidence,
    members: Ints,
    pose: Floats,
    datum: Datum,
    why_out: dict[int, str],
    use_overlap: bool,
    progress: Progress = SILENT,
    relatives: Sequence[RelativePose] = (),
    closely: bool = True,
) -> AdjustedGroup:
    """Adjust a group from approximate poses ``(S, 3)``.

    `datum` says which stations keep their poses, or which poses a free network stays at; `why_out`
    says which sightings (rows) take no part, and why. `relatives` tie stations by their readings;
    the faces of such stations are left out, as they are the same readings. `closely` takes single
    readings on walls as well, in the last step. Raises Loose when the other observations do not fix
    the group's stations to each other.
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
        part = progress.part(0.35 * step / len(GATES), 0.35 * (step + 1) / len(GATES))
        part.at(0.0)
        if use_overlap and len(with_faces):
            sights = common_surfaces(evidence.faces, with_faces, pose, evidence.level, gate)
            sights = taken_apart(sights, evidence.barred)
        part.at(0.3)
        system = System.of(evidence, members, pose, datum, why_out, sights, scatter, relatives)
        # Rough captures know their places to centimetres, and so do stations that a single target
        # and its surface tie; nothing makes these slide.
        hung = np.isin(members, evidence.surfaces.station[system.surface_rows])
        alone_m = np.where(hung | bool(relatives), LOOSE_M, LOOSE_ALONE_M)
        parts = rigid_parts(system.unknowns, system.observations, system.used, alone_m)
        if len(parts) > 1:
            raise Loose(parts)
        result = _adjusted(system, part.part(0.5, 1.0))
        pose[members] = _poses(result.unknowns)
    if len(sights):
        scatter = _scatter(statistics_of(result), system)
    readings = WallReadings()
    if closely and len(sights):
        common = sights
        sights, readings = _on_walls(evidence, with_faces, pose, common, scatter, GATES[-1])
        if len(readings):
            part = progress.part(0.35, 0.4)
            system = System.of(
                evidence, members, pose, datum, why_out, sights, scatter, relatives, readings
            )
            pose[members] = _poses(_adjusted(system, part).unknowns)
            sights, readings = _on_walls(evidence, with_faces, pose, common, scatter, AT_LAST)
    rounds = 3
    for step in range(rounds):
        system = System.of(
            evidence, members, pose, datum, why_out, sights, scatter, relatives, readings
        )
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
            left = System.of(
                evidence,
                members,
                pose,
                datum,
                {**why_out, **found},
                sights,
                scatter,
                relatives,
                readings,
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
        readings,
    )


def _wholly_wrong(evidence: Evidence, system: System, snooping: Snooping) -> dict[int, str]:
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


def _adjusted(system: System, progress: Progress) -> Adjustment:
    return adjust(
        system.unknowns,
        system.observations,
        used=system.used,
        free=system.free,
        progress=progress,
    )


def _on_walls(
    evidence: Evidence, stations: Ints, pose: Floats, common: Sights, scatter: float, gate: Gate
) -> tuple[Sights, WallReadings]:
    """The readings on walls within a gate that is as much wider as walls fit worse than stated."""
    return readings_on_walls(
        evidence.loose,
        evidence.faces,
        common,
        stations,
        pose,
        evidence.level,
        replace(gate, sigmas=scatter * gate.sigmas),
        evidence.barred,
    )


def _no_sights() -> Sights:
    none = np.empty(0, dtype=np.int64)
    return Sights(none, none, none)


def _scatter(statistics: Statistics, system: System, scatter: float = 1.0) -> float:
    """Factor on the errors of faces that their residuals ask for, from the median so that blunders
    do not raise it; 1 when they are as good as stated, or when chance explains more. `scatter` is
    the factor applied so far."""

    def of_faces(rows: Floats) -> Floats:
        directions = system.observations.by_item("surface_directions", rows)
        offsets = system.observations.by_item("surface_offsets", rows)
        faces = slice(len(system.sights))
        return np.concatenate([directions[faces, 0], offsets[faces, 0]])

    w = np.abs(of_faces(statistics.standardised))
    freedom = float(np.nansum(of_faces(statistics.redundancy)))
    w = w[np.isfinite(w)]
    if freedom < 5.0:
        return 1.0
    # The median of |w| of normal residuals is 0.6745.
    factor = scatter * float(np.median(w) / 0.6745)
    return factor if factor > 1.0 + SCATTER_SIGMAS * SCATTER_SIGMA / np.sqrt(freedom) else 1.0


def _weighed(tie: RelativePose, evidence: Evidence) -> RelativePose:
    """A tie by readings with the standard errors that a person gave it."""
    factor = evidence.overlap_factor.get(tie.ends, 1.0)
    return replace(tie, covariance=tie.covariance * factor**2)
