# SPDX-License-Identifier: GPL-2.0-or-later
"""What should be decided about stations, with the evidence: a person decides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..captures.model import Survey
from ..progress import SILENT, Progress
from .choices import STATION_TAKEN_OUT, TAKEN_OUT
from .model import TieKind, Ties
from .moved_rings import moved_rings
from .moved_sightings import moved_sightings
from .network_evidence import Evidence
from .network_group import AdjustedGroup

LEAVE_OUT = "leave out, or measure again"
MOST_NAMED = 4


def proposals_of(
    survey: Survey,
    evidence: Evidence,
    adjusted: Sequence[AdjustedGroup],
    ties: Ties,
    progress: Progress = SILENT,
) -> dict[str, str]:
    """What is proposed for stations, by name, the evidence after it."""
    found: dict[str, list[str]] = {}
    for part, group in progress.each(adjusted):
        if len(group.sights):
            for ring in moved_rings(survey.captures, evidence, group, part):
                found.setdefault(ring.station, []).append(str(ring))
        for sighted in moved_sightings(evidence, group):
            known = sighted.station in found
            found.setdefault(sighted.station, []).append(str(sighted))
            if sighted.other and not known:
                found.setdefault(sighted.other, []).append(
                    f"it alone placed the targets against which the sightings of {sighted.station} "
                    f"moved by {1e3 * sighted.shift_m:.0f} mm: either tripod may have"
                )
    for name, text in _mostly_rejected(survey.names, ties).items():
        found.setdefault(name, [text])
    return {name: f"{LEAVE_OUT}: {'; '.join(texts)}" for name, texts in sorted(found.items())}


def _mostly_rejected(names: Sequence[str], ties: Ties) -> Mapping[str, str]:
    """Stations of whose sightings and overlaps two or more, and more than half, were rejected by
    the adjustment's own tests."""
    own = np.array([kind in (TieKind.TARGET, TieKind.OVERLAP) for kind in ties.kind], dtype=bool)
    tested = np.isfinite(ties.standardised)
    decided = np.array([reason in (TAKEN_OUT, STATION_TAKEN_OUT) for reason in ties.reason])
    among = own & tested & ~decided if len(ties) else own
    found = {}
    for station, name in enumerate(names):
        of = np.flatnonzero(among & ((ties.from_station == station) | (ties.to_station == station)))
        out = of[~ties.used[of]]
        if len(out) < 2 or 2 * len(out) <= len(of):
            continue
        worst = out[np.argsort(-np.abs(ties.standardised[out]), kind="stable")][:MOST_NAMED]
        each = ", ".join(
            f"{ties.name[k]} {_residual(ties, int(k))}, test {abs(ties.standardised[k]):.1f}"
            for k in worst
        )
        found[name] = f"{len(out)} of its {len(of)} ties disagree with the others ({each})"
    return found


def _residual(ties: Ties, k: int) -> str:
    if np.isfinite(ties.residual_m[k]):
        return f"{1e3 * ties.residual_m[k]:.0f} mm"
    return f"{np.degrees(abs(ties.residual_rad[k])):.2f} deg"
