# SPDX-License-Identifier: GPL-2.0-or-later
"""The list of ties for the report: what tied which station to what, and how well it fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from .connect_frames import apart, between, fitted, moved
from .connect_overlaps import OverlapTie
from .model import TieKind, Ties
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .tie_names import compass_name, geotag_name, overlap_name, sighting_name, surface_name

NAN = float("nan")
EQUAL = 1e-6
"""Of standardised residuals, relative: those of the two ends of one tie may be equal in size."""


@dataclass(eq=False)
class TieList:
    """Collects ties row by row."""

    rows: list[tuple] = field(default_factory=list)

    def add(
        self,
        name: str,
        kind: TieKind,
        from_station: int,
        *,
        to_station: int = -1,
        to_target: int = -1,
        residual_m: float = NAN,
        residual_rad: float = NAN,
        standardised: float = NAN,
        redundancy: float = NAN,
        detectable_m: float = NAN,
        detectable_rad: float = NAN,
        used: bool = True,
        reason: str = "",
    ) -> None:
        """Put a tie down."""
        self.rows.append(
            (
                name,
                kind,
                from_station,
                to_station,
                to_target,
                residual_m,
                residual_rad,
                standardised,
                redundancy,
                used,
                reason,
                detectable_m,
                detectable_rad,
            )
        )

    def ties(self) -> Ties:
        """All ties, in the order put down."""
        columns = list(zip(*self.rows)) if self.rows else [()] * 13
        return Ties(
            name=tuple(columns[0]),
            kind=tuple(columns[1]),
            from_station=np.array(columns[2], dtype=np.int64),
            to_station=np.array(columns[3], dtype=np.int64),
            to_target=np.array(columns[4], dtype=np.int64),
            residual_m=np.array(columns[5], dtype=float),
            residual_rad=np.array(columns[6], dtype=float),
            standardised=np.array(columns[7], dtype=float),
            redundancy=np.array(columns[8], dtype=float),
            used=np.array(columns[9], dtype=bool),
            reason=tuple(columns[10]),
            detectable_m=np.array(columns[11], dtype=float),
            detectable_rad=np.array(columns[12], dtype=float),
        )


def _worst(w: Floats) -> float:
    """The standardised residual with the largest size, its sign kept; NaN when there is none."""
    finite = w[np.isfinite(w)]
    if not len(finite):
        return NAN
    size = np.abs(finite)
    # Two that are of one size but for rounding: the first, lest rounding decide the sign.
    return float(finite[np.flatnonzero(size >= size.max() * (1.0 - EQUAL))[0]])


def _largest(values: Floats) -> float:
    """The largest of the values there are; NaN when there is none."""
    known = values[~np.isnan(values)]
    return float(known.max()) if len(known) else NAN


def _of_used(group: AdjustedGroup) -> Floats:
    """Minimal detectable biases by row; NaN for rows not used."""
    snooping = group.snooping
    return np.where(snooping.adjustment.used, snooping.statistics.detectable, np.nan)


def _mean(values: Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.mean()) if len(finite) else NAN


def _reasons(group: AdjustedGroup, kind: str) -> dict[int, str]:
    """Why items of a kind were rejected, by item."""
    found: dict[int, str] = {}
    for rejection in group.snooping.rejected:
        if rejection.kind == kind and rejection.item not in found:
            found[rejection.item] = rejection.reason
    return found


def add_group(
    out: TieList, evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    """Put down the ties of one adjusted group; `place` is where its targets are listed."""
    _add_sightings(out, evidence, group, place)
    _add_target_surfaces(out, evidence, group, place)
    _add_overlaps(out, evidence, group)
    _add_relatives(out, evidence, group)
    _add_compass(out, evidence, group)


def _add_sightings(
    out: TieList, evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
    observations = adjustment.observations
    residual = observations.by_item("sightings", adjustment.residual)
    w = observations.by_item("sightings", statistics.standardised)
    redundancy = observations.by_item("sightings", statistics.redundancy)
    used = observations.by_item("sightings", adjustment.used)
    detectable = observations.by_item("sightings", _of_used(group))
    reasons = _reasons(group, "sightings")
    s = evidence.sightings
    for item, row in enumerate(group.target_rows):
        station, target = int(s.station[row]), int(s.target[row])
        out.add(
            sighting_name(evidence.names[station], s.name[s.label[row]]),
            TieKind.TARGET,
            station,
            to_target=place.get(target, -1),
            residual_m=float(np.hypot(residual[item, 0] * s.distance_m[row], residual[item, 1])),
            residual_rad=float(residual[item, 0]),
            standardised=_worst(w[item]),
            redundancy=_mean(redundancy[item]),
            detectable_m=_largest(detectable[item] * [s.distance_m[row], 1.0]),
            detectable_rad=float(detectable[item, 0]),
            used=bool(used[item].all()),
            reason="; ".join(
                text
                for text in (str(s.remark[row]), group.why_out.get(int(row)) or reasons.get(item))
                if text
            ),
        )
    listed = {int(row) for row in group.target_rows}
    for row, reason in sorted(group.why_out.items()):
        station, target = int(s.station[row]), int(s.target[row])
        if row not in listed and station in group.members:
            out.add(
                sighting_name(evidence.names[station], s.name[s.label[row]]),
                TieKind.TARGET,
                station,
                to_target=place.get(target, -1),
                used=False,
                reason=reason,
            )


def _add_target_surfaces(
    out: TieList, evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
    observations = adjustment.observations
    residual = observations.by_item("surface_directions", adjustment.residual)[:, 0]
    w = observations.by_item("surface_directions", statistics.standardised)[:, 0]
    redundancy = observations.by_item("surface_directions", statistics.redundancy)[:, 0]
    used = observations.by_item("surface_directions", adjustment.used)[:, 0]
    detectable = observations.by_item("surface_directions", _of_used(group))[:, 0]
    reasons = _reasons(group, "surface_directions")
    surfaces = evidence.surfaces
    first = len(residual) - len(group.surface_rows)
    for item, row in enumerate(group.surface_rows, start=first):
        station, target = int(surfaces.station[row]), int(surfaces.target[row])
        out.add(
            surface_name(evidence.names[station], evidence.sightings.name[surfaces.label[row]]),
            TieKind.SURFACE,
            station,
            to_target=place.get(target, -1),
            residual_rad=float(residual[item]),
            standardised=float(w[item]),
            redundancy=float(redundancy[item]),
            detectable_rad=float(detectable[item]),
            used=bool(used[item]),
            reason=reasons.get(item, ""),
        )


def _add_overlaps(out: TieList, evidence: Evidence, group: AdjustedGroup) -> None:
    """One tie for each pair of stations that see surfaces in common; what is detectable is that of
    its least controlled face."""
    sights = group.sights
    if not len(sights):
        return
    adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
    observations = adjustment.observations
    n = len(sights)

    def both(values: Floats) -> tuple[Floats, Floats]:
        direction = observations.by_item("surface_directions", values)[:n, 0]
        return direction, observations.by_item("surface_offsets", values)[:, 0]

    turn, shift = both(adjustment.residual)
    w_turn, w_shift = both(statistics.standardised)
    r_turn, r_shift = both(statistics.redundancy)
    d_turn, d_shift = both(_of_used(group))
    _, used_shift = both(adjustment.used.astype(float))
    on: dict[int, list[int]] = {}
    for item, surface in enumerate(sights.surface):
        on.setdefault(int(surface), []).append(item)
    pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for items in on.values():
        for k, a in enumerate(items):
            for b in items[k + 1 :]:
                i, j = int(sights.station[a]), int(sights.station[b])
                if i != j:
                    pairs.setdefault((min(i, j), max(i, j)), []).append((a, b))
    for (i, j), shared in sorted(pairs.items()):
        a, b = np.array(shared).T
        taken = (used_shift[a] > 0) & (used_shift[b] > 0)
        rejected = int(np.sum(~taken))
        keep = taken if taken.any() else np.ones(len(a), dtype=bool)
        ends = np.concatenate([a[keep], b[keep]])
        reason = ""
        if rejected:
            reason = f"{rejected} of {len(a)} common faces rejected"
        out.add(
            overlap_name(evidence.names[i], evidence.names[j]),
            TieKind.OVERLAP,
            i,
            to_station=j,
            residual_m=float(np.sqrt(np.mean((shift[b[keep]] - shift[a[keep]]) ** 2))),
            residual_rad=float(np.sqrt(np.mean((turn[b[keep]] - turn[a[keep]]) ** 2))),
            standardised=_worst(np.concatenate([w_shift[ends], w_turn[ends]])),
            redundancy=_mean(np.concatenate([r_shift[ends], r_turn[ends]])),
            detectable_m=_largest(d_shift[ends]),
            detectable_rad=_largest(d_turn[ends]),
            used=bool(taken.any()),
            reason=reason,
        )


def _add_relatives(out: TieList, evidence: Evidence, group: AdjustedGroup) -> None:
    """One tie for each pair of stations that their readings tie."""
    adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
    observations = adjustment.observations
    residual = observations.by_item("relative_poses", adjustment.residual)
    chi_square = observations.by_item("relative_poses", statistics.test)[:, 0]
    redundancy = observations.by_item("relative_poses", statistics.redundancy)
    used = observations.by_item("relative_poses", adjustment.used)
    detectable = observations.by_item("relative_poses", _of_used(group))
    reasons = _reasons(group, "relative_poses")
    for item, tie in enumerate(group.relatives):
        out.add(
            overlap_name(evidence.names[tie.first], evidence.names[tie.second]),
            TieKind.OVERLAP,
            tie.first,
            to_station=tie.second,
            residual_m=float(np.hypot(*residual[item, :2])),
            residual_rad=float(residual[item, 2]),
            standardised=float(np.sqrt(chi_square[item])),
            redundancy=_mean(redundancy[item]),
            detectable_m=_largest(detectable[item, :2]),
            detectable_rad=float(detectable[item, 2]),
            used=bool(used[item].all()),
            reason=reasons.get(item, ""),
        )


def _add_compass(out: TieList, evidence: Evidence, group: AdjustedGroup) -> None:
    adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
    observations = adjustment.observations
    residual = observations.by_item("orientations", adjustment.residual)[:, 0]
    w = observations.by_item("orientations", statistics.standardised)[:, 0]
    redundancy = observations.by_item("orientations", statistics.redundancy)[:, 0]
    used = observations.by_item("orientations", adjustment.used)[:, 0]
    detectable = observations.by_item("orientations", _of_used(group))[:, 0]
    reasons = _reasons(group, "orientations")
    for item, station in enumerate(group.compass_of):
        reason = reasons.get(item, "")
        out.add(
            compass_name(evidence.names[station]),
            TieKind.COMPASS,
            int(station),
            residual_rad=float(residual[item]),
            standardised=float(w[item]),
            redundancy=float(redundancy[item]),
            detectable_rad=float(detectable[item]),
            used=bool(used[item]),
            reason=f"local attraction: {reason}" if reason else "",
        )


def add_refused(
    out: TieList, evidence: Evidence, overlaps: list[OverlapTie], pose: Floats, group: Ints
) -> None:
    """Put down the overlaps that were found but not used, with the reason."""
    for tie in overlaps:
        if tie.used:
            continue
        shift, turn = NAN, NAN
        if group[tie.first] == group[tie.second] and group[tie.first] > 0:
            expected = between(pose[tie.first], pose[tie.second])
            shift = float(apart(tie.pose, expected)[0])
            turn = float(wrap_half(tie.pose[2] - expected[2]))
        out.add(
            overlap_name(evidence.names[tie.first], evidence.names[tie.second]),
            TieKind.OVERLAP,
            tie.first,
            to_station=tie.second,
            residual_m=shift,
            residual_rad=turn,
            used=False,
            reason=tie.reason,
        )


def add_geotags(
    out: TieList,
    names: Sequence[str],
    members: Ints,
    geotag_m: Floats,
    sigma_m: Floats,
    pose: Floats,
) -> None:
    """Put down how the geotags of a group differ from its adjusted positions after the best common
    motion. They take no part: geotags never connect stations."""
    if len(members) < 3:
        return
    sigma = sigma_m[members]
    motion = fitted(geotag_m[members], pose[members, :2], sigma**-2.0)
    away = np.hypot(*(moved(motion, geotag_m[members]) - pose[members, :2]).T)
    for station, residual, one in zip(members, away, sigma):
        out.add(
            geotag_name(names[station]),
            TieKind.GEOTAG,
            int(station),
            residual_m=float(residual),
            standardised=float(residual / one),
            used=False,
            reason="not used: a geotag places the plan, it does not tie stations",
        )
