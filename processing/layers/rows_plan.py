# SPDX-License-Identifier: GPL-2.0-or-later
"""What is drawn of a plan, and what it is worth, as tables of the layers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from ..angles import wrap_full_deg
from ..site.accuracy import error_band
from ..site.model import SiteFit
from ..walls.curve_model import Curves, curve_name
from ..walls.model import Openings, Rooms, WallFaces
from . import schema
from .rows import MM
from .table import Table, make_table, segments

if TYPE_CHECKING:  # it needs scipy.stats, which takes long to load and most layers do without
    from ..walls.taped import Comparison


def _curve_columns(curves: Curves) -> dict[str, list[object]]:
    """The curve of each face with its radius and the radius' standard error; empty for straight
    ones."""
    sigma = np.sqrt(curves.covariance[:, 2, 2]) * MM
    return {
        "curve": [curve_name(k) if k >= 0 else "" for k in curves.of_face],
        "radius_m": [curves.radius_m[k] if k >= 0 else None for k in curves.of_face],
        "sigma_radius_mm": [sigma[k] if k >= 0 else None for k in curves.of_face],
    }


def wall_faces(walls: WallFaces, bounding: NDArray[np.bool_] | None = None) -> Table:
    """Wall faces of one plot scale; `bounding` tells which of them bound a room, where rooms are
    known."""
    return make_table(
        schema.WALL_FACES,
        {
            "wall": walls.wall,
            "plot_scale": [walls.plot_scale] * len(walls),
            "readings": walls.readings,
            "stations": [", ".join(names) for names in walls.stations],
            "length_m": walls.length_m,
            "azimuth_deg": wrap_full_deg(np.degrees(walls.normal_rad) - 90.0),
            "sigma_azimuth_deg": np.degrees(walls.sigma_normal_rad),
            "sigma_offset_mm": walls.sigma_offset_m * MM,
            "rms_mm": walls.rms_m * MM,
            "largest_residual_mm": walls.largest_residual_m * MM,
            "squared_by_deg": np.degrees(walls.squared_by_rad),
            **_curve_columns(walls.curves),
            "bounds_room": [None] * len(walls) if bounding is None else bounding,
            "network": walls.network,
            "level": walls.level,
        },
        segments(walls.drawn_m),
        walls.network,
    )


def rooms(found: Rooms) -> Table:
    """Rooms of one plot scale."""
    return make_table(
        schema.ROOMS,
        {
            "room": found.room,
            "name": found.name,
            "plot_scale": [found.plot_scale] * len(found),
            "area_m2": found.area_m2,
            "sigma_area_m2": found.sigma_area_m2,
            "sigma_seen_m2": found.sigma_seen_m2,
            "perimeter_m": found.perimeter_m,
            "sigma_perimeter_mm": found.sigma_perimeter_m * MM,
            "seen_share": found.seen_share,
            "stations": [", ".join(names) for names in found.stations],
            "network": found.network,
            "level": found.level,
        },
        found.polygon,
        found.network,
    )


def openings(found: Openings) -> Table:
    """Openings of one plot scale."""
    return make_table(
        schema.OPENINGS,
        {
            "opening": found.opening,
            "kind": found.kind,
            "width_m": found.width_m,
            "sigma_width_mm": found.sigma_width_m * MM,
            "wall_thickness_m": found.wall_thickness_m,
            "room_a": [room or None for room in found.room_a],
            "room_b": [room or None for room in found.room_b],
            "plot_scale": [found.plot_scale] * len(found),
            "network": found.network,
            "level": found.level,
        },
        found.line,
        found.network,
    )


def error_bands(fits: Sequence[SiteFit], outlines: Mapping[int, Polygon | MultiPolygon]) -> Table:
    """The error band about the outside of each connected group with a fit of its own."""
    chosen = [fit for fit in fits if fit.network in outlines]
    bands = [error_band(fit, outlines[fit.network]) for fit in chosen]
    return make_table(
        schema.ERROR_BAND,
        {
            "network": [band.network for band in bands],
            "probability": [0.95] * len(bands),
            "least_width_m": [band.least_m for band in bands],
            "greatest_width_m": [band.greatest_m for band in bands],
            "sigma_rotation_deg": [
                float(np.degrees(fit.covariance[2, 2] ** 0.5)) for fit in chosen
            ],
        },
        [band.shape for band in bands],
        [band.network for band in bands],
    )


def taped_distances(comparison: Comparison) -> Table:
    """Taped distances beside the plan's, as lines between the two ends."""
    return make_table(
        schema.TAPED_DISTANCES,
        {
            "from_ref": [row.first for row in comparison.taped],
            "to_ref": [row.second for row in comparison.taped],
            "taped_m": [row.length_m for row in comparison.taped],
            "sigma_taped_mm": [row.sigma_m * MM for row in comparison.taped],
            "plan_m": [plan.length_m for plan in comparison.plan],
            "sigma_plan_mm": [plan.sigma_m * MM for plan in comparison.plan],
            "difference_mm": comparison.difference_m * MM,
            "tolerance_mm": comparison.tolerance_m * MM,
            "verdict": comparison.verdicts,
            "level": comparison.level,
        },
        segments(np.array([plan.ends_m for plan in comparison.plan]).reshape(-1, 2, 2)),
        comparison.network,
    )
