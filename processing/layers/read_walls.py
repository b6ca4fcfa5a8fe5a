# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces of a layer back into what the stages take, with the readings that they rest on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from ..angles import Floats, along, azimuth_of, unit
from ..captures.model import Survey
from ..errors import SurveyError
from ..stations.model import Network
from ..walls.curve_faces import curves_of_chords
from ..walls.model import WallFaces
from .read import Columns, grouped, numbers, rows_by_station
from .rows import MM, NAN

WALL_FIELDS = ("wall", "plot_scale", "sigma_azimuth_deg", "sigma_offset_mm", "level")
OPTIONAL_WALL_FIELDS = (
    *("rms_mm", "largest_residual_mm", "squared_by_deg", "network"),
    *("curve", "radius_m", "sigma_radius_mm"),
)
NOT_ON_WALL_M = 0.5
_NONE = np.empty(0, dtype=np.int64)


def read_walls(
    columns: Columns, geometry: np.ndarray, readings: Columns, survey: Survey, network: Network
) -> dict[int, WallFaces]:
    """The wall faces of a wall layer by plot scale, with the readings that each rests on;
    ``geometry (n,)`` are their lines in plan coordinates.

    SurveyError names a wall that has no line of two points, or whose readings lie elsewhere.
    """
    scales = numbers(columns["plot_scale"], 0.0).astype(np.int64)
    xy = [network.to_plan(i, c.xy_m) for i, c in enumerate(survey.captures)]
    rows = rows_by_station(survey.names, readings)
    of_reading = [[str(readings["wall"][r] or "") for r in rows[n]] for n in survey.names]
    residual = [numbers([readings["residual_mm"][r] for r in rows[n]]) / MM for n in survey.names]
    found = {}
    for scale in np.unique(scales):
        chosen = np.flatnonzero(scales == scale)
        found[int(scale)] = _walls_at(
            int(scale), chosen, columns, geometry, xy, of_reading, residual, survey
        )
    return found


def _walls_at(
    scale: int,
    chosen: np.ndarray,
    columns: Columns,
    geometry: np.ndarray,
    xy: Sequence[Floats],
    of_reading: Sequence[Sequence[str]],
    residual: Sequence[Floats],
    survey: Survey,
) -> WallFaces:
    ids = [str(columns["wall"][i]) for i in chosen]
    drawn = np.empty((len(ids), 2, 2))
    for row, i in enumerate(chosen):
        line = geometry[i]
        if line is None or shapely.get_num_coordinates(line) < 2:
            raise SurveyError(
                f"Layer wall_faces, wall {ids[row]}: found no line, expected one of two points."
            )
        coordinates = shapely.get_coordinates(line)
        drawn[row] = coordinates[[0, -1]]
    normal_rad = azimuth_of(drawn[:, 1] - drawn[:, 0]) + np.pi / 2
    place = {name: row for row, name in enumerate(ids)}
    member = [np.array([place.get(w, -1) for w in words], dtype=np.int64) for words in of_reading]
    centre = drawn.mean(axis=1)
    span = np.stack([-0.5 * np.hypot(*(drawn[:, 1] - drawn[:, 0]).T)] * 2, axis=1) * [1.0, -1.0]
    counts = np.zeros(len(ids), dtype=np.int64)
    seen_by: list[tuple[str, ...]] = []
    station = np.repeat(np.arange(len(member)), [len(own) for own in member])
    every = np.concatenate([np.empty((0, 2)), *xy])
    for row, own in enumerate(grouped(np.concatenate([_NONE, *member]), len(ids))):
        there = every[own]
        counts[row] = len(there)
        seen_by.append(tuple(survey.names[s] for s in np.unique(station[own])))
        if len(there):
            away = np.median(np.abs((there - drawn[row, 0]) @ unit(normal_rad[row])))
            if away > NOT_ON_WALL_M:
                raise SurveyError(
                    f"Layer wall_faces, wall {ids[row]}: its readings lie {away:.1f} m from it; "
                    "expected walls, readings and stations of one plan, in plan coordinates."
                )
            direction, normal = along(normal_rad[row]), unit(normal_rad[row])
            across = (drawn[row, 0] @ normal) * normal
            s = there @ direction
            centre[row] = across + s.mean() * direction
            span[row] = s.min() - s.mean(), s.max() - s.mean()

    def column(name: str, default: float = NAN) -> Floats:
        return numbers([columns[name][i] for i in chosen], default)

    return WallFaces(
        wall=tuple(ids),
        plot_scale=scale,
        level=column("level", 0.0).astype(np.int64),
        network=column("network", 1.0).astype(np.int64),
        centre_m=centre,
        normal_rad=normal_rad,
        sigma_normal_rad=np.radians(column("sigma_azimuth_deg")),
        sigma_offset_m=column("sigma_offset_mm") / MM,
        span_m=span,
        drawn_m=drawn,
        readings=counts,
        stations=tuple(seen_by),
        rms_m=column("rms_mm") / MM,
        largest_residual_m=column("largest_residual_mm") / MM,
        squared_by_rad=np.radians(column("squared_by_deg", 0.0)),
        wall_of_reading=tuple(member),
        residual_of_reading_m=tuple(residual),
        curves=curves_of_chords(
            drawn,
            normal_rad,
            [str(columns["curve"][i] or "") for i in chosen],
            column("radius_m"),
            column("sigma_radius_mm") / MM,
            column("sigma_offset_mm") / MM,
        ),
    )
