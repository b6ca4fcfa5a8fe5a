# SPDX-License-Identifier: GPL-2.0-or-later
"""All layers of a finished plan, in plan coordinates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from ..captures.model import Survey
from ..chain import Drawn, Tied
from ..growing import Aside
from ..progress import SILENT, Progress
from ..site.model import SiteFit
from ..stations.model import Network, Status
from . import rows, rows_plan, schema
from .read import no_targets, no_ties
from .table import Table, concatenate


def plan_tables(
    tied: Tied,
    drawn: Drawn,
    fits: Sequence[SiteFit],
    outlines: Mapping[int, Polygon | MultiPolygon],
    progress: Progress = SILENT,
) -> list[Table]:
    """The tables of a plan's GeoPackage, the lowest drawn first; with an error band about the
    outlines of the groups that have a fit."""
    known = [fit for fit in fits if np.isfinite(fit.covariance).all()]
    bands = rows_plan.error_bands(known, outlines)
    control = [
        evidence.name for fit in fits for evidence in fit.evidence if evidence.kind == "control"
    ]
    return [
        *([bands] if len(bands) else []),
        concatenate([rows_plan.rooms(plan.rooms) for plan in drawn.plans]),
        rows.adjusted_readings(drawn.survey, tied.network, drawn.measured, progress),
        rows.ties(tied.survey, tied.network),
        concatenate([rows_plan.wall_faces(plan.walls, plan.bounding) for plan in drawn.plans]),
        concatenate([rows_plan.openings(plan.openings) for plan in drawn.plans]),
        rows.targets(tied.survey, tied.network, control),
        rows.adjusted_stations(drawn.survey, tied.network),
        rows.network_covariance(tied.network),
    ]


def with_aside(
    tables: Sequence[Table], aside: Aside, network: Network, came_from: Mapping[int, int]
) -> list[Table]:
    """The tables with the stations and readings of captures kept aside: as they stood, each a group
    of its own that nothing is tied to, and placed with the group that it was part of."""
    if not aside.captures:
        return list(tables)
    count = len(aside.captures)
    survey = Survey(aside.captures)
    now = {before: number for number, before in came_from.items()}
    first = int(network.network.min(initial=1))
    own = Network(
        survey.names,
        aside.pose[:, :2],
        aside.pose[:, 2],
        np.full((3 * count, 3 * count), np.nan),
        network.network.max(initial=0) + 1 + np.arange(count),
        (Status.UNCONNECTED,) * count,
        no_ties(),
        no_targets(),
        network.statistics,
    )
    placed_with = np.array([now.get(int(group), first) for group in aside.network], dtype=np.int64)
    more = {
        schema.STATIONS.name: (rows.adjusted_stations(survey, own), placed_with),
        schema.READINGS.name: (
            rows.adjusted_readings(survey, own),
            np.repeat(placed_with, [len(capture) for capture in aside.captures]),
        ),
    }
    made = []
    for table in tables:
        if table.schema.name in more:
            extra, groups = more[table.schema.name]
            table = concatenate([table, replace(extra, network=groups)])
        made.append(table)
    return made
