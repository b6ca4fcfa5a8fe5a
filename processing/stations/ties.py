# SPDX-License-Identifier: GPL-2.0-or-later
"""The list of ties for the report: what tied which station to what, and how well it fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from .connect_frames import apart, between, fitted, moved
from .connect_overlaps import OverlapTie
from .model import TieKind
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .observations import Bools
from .tie_names import compass_name, geotag_name, overlap_name, sighting_name, surface_name
from .tie_rows import NAN, Tie

EQUAL = 1e-6
"""Of standardised residuals, relative: those of the two ends of one tie may be equal in size."""


@dataclass(frozen=True, eq=False)
class _Tested:
    """What an adjustment says of the items ``n`` of one kind, by component ``(n, d)``: residuals,
    w, tests, redundancies, which were used, minimal detectable biases (NaN: not used); and why
    items were rejected, by item."""

    residual: Floats
    standardised: Floats
    test: Floats
    redundancy: Floats
    used: Bools
    detectable: Floats
    reasons: Mapping[int, str]

    @classmethod
    def of(cls, group: AdjustedGroup, kind: str) -> _Tested:
        adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
        reasons: dict[int, str] = {}
        for rejection in group.snooping.rejected:
            if rejection.kind == kind:
                reasons.setdefault(rejection.item, rejection.reason)

        def by_item(values: NDArray) -> NDArray:
            return adjustment.observations.by_item(kind, values)

        return cls(
            residual=by_item(adjustment.residual),
            standardised=by_item(statistics.standardised),
            test=by_item(statistics.test),
            redundancy=by_item(statistics.redundancy),
            used=by_item(adjustment.used),
            detectable=by_item(np.where(adjustment.used, statistics.detectable, np.nan)),
            reasons=reasons,
        )

    def of_angle(self, item: int) -> dict[str, Any]:
        """What a tie says of an observation that is one angle."""
        return {
            "residual_rad": float(self.residual[item, 0]),
            "standardised": float(self.standardised[item, 0]),
            "redundancy": float(self.redundancy[item, 0]),
            "detectable_rad": float(self.detectable[item, 0]),
            "used": bool(self.used[item, 0]),
        }


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


def _mean(values: Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.mean()) if len(finite) else NAN


def add_group(
    out: list[Tie], evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    """Put down the ties of one adjusted group; `place` is where its targets are listed."""
    _add_sightings(out, evidence, group, place)
    _add_target_surfaces(out, evidence, group, place)
    _add_overlaps(out, evidence, group)
    _add_relatives(out, evidence, group)
    _add_compass(out, evidence, group)


def _add_sightings(
    out: list[Tie], evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    told = _Tested.of(group, "sightings")
    s = evidence.sightings

    def put(row: int, **said: Any) -> None:
        station = int(s.station[row])
        name = sighting_name(evidence.names[station], s.name[s.label[row]])
        target = place.get(int(s.target[row]), -1)
        out.append(Tie(name, TieKind.TARGET, station, to_target=target, **said))

    for item, row in enumerate(group.target_rows):
        along, across = told.residual[item, 1], told.residual[item, 0] * s.distance_m[row]
        why = group.why_out.get(int(row)) or told.reasons.get(item)
        put(
            int(row),
            residual_m=float(np.hypot(across, along)),
            residual_rad=float(told.residual[item, 0]),
            standardised=_worst(told.standardised[item]),
            redundancy=_mean(told.redundancy[item]),
            detectable_m=_largest(told.detectable[item] * [s.distance_m[row], 1.0]),
            detectable_rad=float(told.detectable[item, 0]),
            used=bool(told.used[item].all()),
            reason="; ".join(text for text in (str(s.remark[row]), why) if text),
        )
    listed = {int(row) for row in group.target_rows}
    for row, reason in sorted(group.why_out.items()):
        if row not in listed and int(s.station[row]) in group.members:
            put(row, used=False, reason=reason)


def _add_target_surfaces(
    out: list[Tie], evidence: Evidence, group: AdjustedGroup, place: Mapping[int, int]
) -> None:
    told = _Tested.of(group, "surface_directions")
    surfaces = evidence.surfaces
    first = len(told.residual) - len(group.surface_rows)
    for item, row in enumerate(group.surface_rows, start=first):
        station, target = int(surfaces.station[row]), int(surfaces.target[row])
        out.append(
            Tie(
                surface_name(evidence.names[station], evidence.sightings.name[surfaces.label[row]]),
                TieKind.SURFACE,
                station,
                to_target=place.get(target, -1),
                reason=told.reasons.get(item, ""),
                **told.of_angle(item),
            )
        )


def _add_overlaps(out: list[Tie], evidence: Evidence, group: AdjustedGroup) -> None:
    """One tie for each pair of stations that see surfaces in common; what is detectable is that of
    its least controlled face."""
    sights = group.sights
    if not len(sights):
        return
    turns = _Tested.of(group, "surface_directions")
    shifts = _Tested.of(group, "surface_offsets")
    # The directions of target surfaces come after those of walls, so that items are the same.
    pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for items in sights.of_each():
        for a, b in combinations(items.tolist(), 2):
            i, j = int(sights.station[a]), int(sights.station[b])
            if i != j:
                pairs.setdefault((min(i, j), max(i, j)), []).append((a, b))
    for (i, j), shared in sorted(pairs.items()):
        a, b = np.array(shared).T
        taken = shifts.used[a, 0] & shifts.used[b, 0]
        rejected = int(np.sum(~taken))
        keep = taken if taken.any() else np.ones(len(a), dtype=bool)
        ends = np.concatenate([a[keep], b[keep]])

        def apart(of: Floats, first: Ints = a[keep], second: Ints = b[keep]) -> float:
            return float(np.sqrt(np.mean((of[second, 0] - of[first, 0]) ** 2)))

        def both(of: Floats, and_of: Floats, at: Ints = ends) -> Floats:
            return np.concatenate([of[at, 0], and_of[at, 0]])

        out.append(
            Tie(
                overlap_name(evidence.names[i], evidence.names[j]),
                TieKind.OVERLAP,
                i,
                to_station=j,
                residual_m=apart(shifts.residual),
                residual_rad=apart(turns.residual),
                standardised=_worst(both(shifts.standardised, turns.standardised)),
                redundancy=_mean(both(shifts.redundancy, turns.redundancy)),
                detectable_m=_largest(shifts.detectable[ends, 0]),
                detectable_rad=_largest(turns.detectable[ends, 0]),
                used=bool(taken.any()),
                reason=f"{rejected} of {len(a)} common faces rejected" if rejected else "",
            )
        )


def _add_relatives(out: list[Tie], evidence: Evidence, group: AdjustedGroup) -> None:
    """One tie for each pair of stations that their readings tie."""
    told = _Tested.of(group, "relative_poses")
    for item, tie in enumerate(group.relatives):
        out.append(
            Tie(
                overlap_name(evidence.names[tie.first], evidence.names[tie.second]),
                TieKind.OVERLAP,
                tie.first,
                to_station=tie.second,
                residual_m=float(np.hypot(*told.residual[item, :2])),
                residual_rad=float(told.residual[item, 2]),
                standardised=float(np.sqrt(told.test[item, 0])),
                redundancy=_mean(told.redundancy[item]),
                detectable_m=_largest(told.detectable[item, :2]),
                detectable_rad=float(told.detectable[item, 2]),
                used=bool(told.used[item].all()),
                reason=told.reasons.get(item, ""),
            )
        )


def _add_compass(out: list[Tie], evidence: Evidence, group: AdjustedGroup) -> None:
    told = _Tested.of(group, "orientations")
    for item, station in enumerate(group.compass_of):
        reason = told.reasons.get(item, "")
        out.append(
            Tie(
                compass_name(evidence.names[station]),
                TieKind.COMPASS,
                int(station),
                reason=f"local attraction: {reason}" if reason else "",
                **told.of_angle(item),
            )
        )


def add_refused(
    out: list[Tie], evidence: Evidence, overlaps: list[OverlapTie], pose: Floats, group: Ints
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
        out.append(
            Tie(
                overlap_name(evidence.names[tie.first], evidence.names[tie.second]),
                TieKind.OVERLAP,
                tie.first,
                to_station=tie.second,
                residual_m=shift,
                residual_rad=turn,
                used=False,
                reason=tie.reason,
            )
        )


def add_geotags(
    out: list[Tie],
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
        out.append(
            Tie(
                geotag_name(names[station]),
                TieKind.GEOTAG,
                int(station),
                residual_m=float(residual),
                standardised=float(residual / one),
                used=False,
                reason="not used: a geotag places the plan, it does not tie stations",
            )
        )
