# SPDX-License-Identifier: GPL-2.0-or-later
"""How the storeys hang together, in a report."""

from __future__ import annotations

import numpy as np

from ..captures.model import Survey
from ..stations.model import Network
from .html import Markup, paragraph, table
from .values import MM


def storeys_html(survey: Survey, network: Network) -> list[Markup]:
    """A table of the storeys and one of what joins them; nothing for a survey of one storey."""
    levels = sorted({capture.level for capture in survey.captures})
    if len(levels) < 2:
        return []
    of = np.array([capture.level for capture in survey.captures])
    groups = set(network.groups)
    rows = [
        (
            level,
            int(np.sum(of == level)),
            ", ".join(str(k) for k in sorted(set(network.network[of == level].tolist()) & groups))
            or "–",
        )
        for level in levels
    ]
    parts = [table(("Level", "Stations", "Networks"), rows, range(3))]
    if not network.storeys:
        return [*parts, paragraph("No target joins one storey to another.")]
    joins = [
        (
            f"{join.lower} and {join.upper}",
            ", ".join(join.targets),
            ", ".join(join.stations),
            f"{np.degrees(join.sigma_turn_rad):.3f}",
            f"{MM * join.sigma_m:.1f}",
        )
        for join in network.storeys
    ]
    headers = (
        "Levels",
        "Targets sighted from both",
        "Stations",
        "σ of the upper level's turn (deg)",
        "σ of its least certain station (mm)",
    )
    note = "What joins the storeys, seen from the lower level's station; standard errors 1 sigma"
    return [*parts, table(headers, joins, (3, 4), note)]
