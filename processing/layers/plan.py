# SPDX-License-Identifier: GPL-2.0-or-later
"""All layers of a finished plan, in plan coordinates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from ..chain import Drawn, Tied
from ..site.model import SiteFit
from . import rows
from .table import Table, concatenate


def plan_tables(
    tied: Tied,
    drawn: Drawn,
    fits: Sequence[SiteFit],
    outlines: Mapping[int, Polygon | MultiPolygon],
) -> list[Table]:
    """The tables of a plan's GeoPackage, the lowest drawn first; with an error band about the
    outlines of the groups that have a fit."""
    known = [fit for fit in fits if np.isfinite(fit.covariance).all()]
    bands = rows.error_bands(known, outlines)
    control = [
        evidence.name for fit in fits for evidence in fit.evidence if evidence.kind == "control"
    ]
    return [
        *([bands] if len(bands) else []),
        concatenate([rows.rooms(plan.rooms) for plan in drawn.plans]),
        rows.adjusted_readings(drawn.survey, tied.network, drawn.measured),
        rows.ties(tied.survey, tied.network),
        concatenate([rows.wall_faces(plan.walls, plan.bounding) for plan in drawn.plans]),
        concatenate([rows.openings(plan.openings) for plan in drawn.plans]),
        rows.targets(tied.survey, tied.network, control),
        rows.adjusted_stations(drawn.survey, tied.network),
        rows.network_covariance(tied.network),
    ]
