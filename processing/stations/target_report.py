# SPDX-License-Identifier: GPL-2.0-or-later
"""The sentences about targets that a person should read."""

from __future__ import annotations

from collections.abc import Sequence

from .connect_groups import Groups
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .network_options import TargetLimits
from .target_geometry import geometry_warnings
from .tie_names import sighting_name


def target_warnings(
    evidence: Evidence, adjusted: Sequence[AdjustedGroup], groups: Groups, limits: TargetLimits
) -> list[str]:
    """What was not as it should be about targets, a sentence each; `limits` say where a target is
    well placed."""
    return [
        *_mistaken(evidence),
        *groups.told,
        *geometry_warnings(evidence, adjusted, groups.surfaces, limits),
    ]


def _mistaken(evidence: Evidence) -> list[str]:
    """Names that were mistaken, one sentence a sighting."""
    s = evidence.sightings
    return [
        f"{sighting_name(evidence.names[s.station[row]], s.name[s.label[row]])}: {remark}."
        for row, remark in enumerate(s.remark)
        if remark
    ]
