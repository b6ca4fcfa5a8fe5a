# SPDX-License-Identifier: GPL-2.0-or-later
"""The sentences about targets that a person should read."""

from __future__ import annotations

from collections.abc import Sequence

from .network_group import AdjustedGroup, Evidence
from .tie_names import sighting_name


def target_warnings(
    evidence: Evidence, adjusted: Sequence[AdjustedGroup], told: Sequence[str]
) -> list[str]:
    """What was not as it should be about targets, a sentence each; `told` are those of the
    search."""
    return [*_mistaken(evidence), *told]


def _mistaken(evidence: Evidence) -> list[str]:
    """Names that were mistaken, one sentence a sighting."""
    s = evidence.sightings
    return [
        f"{sighting_name(evidence.names[s.station[row]], s.name[s.label[row]])}: {remark}."
        for row, remark in enumerate(s.remark)
        if remark
    ]
