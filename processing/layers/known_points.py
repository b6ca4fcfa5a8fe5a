# SPDX-License-Identifier: GPL-2.0-or-later
"""The table of points whose coordinates were given: in capture files, or as control points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..captures.model import KnownPoint
from ..errors import SurveyError
from . import schema
from .read import Columns
from .rows import MM, NAN
from .table import Table, make_table

FROM_FILES, FROM_CONTROL = "capture file", "control points"


def known_points_table(points: Sequence[tuple[KnownPoint, str]]) -> Table:
    """The table of points whose coordinates were given, each with where they came from."""
    return make_table(
        schema.KNOWN_POINTS,
        {
            "name": [p.name for p, _ in points],
            "east_m": [p.east_m for p, _ in points],
            "north_m": [p.north_m for p, _ in points],
            "height_m": [p.height_m for p, _ in points],
            "sigma_mm": [p.sigma_m * MM for p, _ in points],
            "crs": [p.crs or None for p, _ in points],
            "station": [p.station for p, _ in points],
            "source": [source for _, source in points],
        },
        [None] * len(points),
        [0] * len(points),
    )


def read_known_points(columns: Columns | None) -> list[tuple[KnownPoint, str]]:
    """The points of a table's columns, each with where it came from; SurveyError on one without
    coordinates."""
    if columns is None:
        return []
    found = []
    for row, name in enumerate(columns["name"]):

        def number(field_name: str, at: int = row) -> float:
            value = columns[field_name][at]
            return NAN if value is None else float(value)

        point = KnownPoint(
            str(name),
            number("east_m"),
            number("north_m"),
            number("height_m"),
            number("sigma_mm") / MM,
            columns["crs"][row] or "",
            bool(columns["station"][row]),
        )
        if not np.isfinite((point.east_m, point.north_m)).all():
            raise SurveyError(
                f"Table known_points, point {name}: a coordinate is empty; expected metres."
            )
        found.append((point, columns["source"][row] or FROM_FILES))
    return found
