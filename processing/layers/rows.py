# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations, readings and what ties them as tables of the layers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, turn, wrap_full_deg
from ..captures.model import Capture, Flag, Kind, Survey
from ..captures.spool import in_memory
from ..progress import SILENT, Progress
from ..stations.choices import Choices
from ..stations.model import Network, Status
from ..walls.model import WallFaces
from . import schema
from .table import Column, Table, TableParts, make_table, points, segments

MM, PPM = 1e3, 1e6
NAN = float("nan")
FLAG_TEXTS = np.array([flag.text for flag in Flag], dtype=object)
KIND_TEXTS = np.array([kind.text for kind in Kind], dtype=object)


def station_columns(survey: Survey) -> dict[str, Column]:
    """What the captures' headers give the stations layer."""
    captures = survey.captures
    return {
        "station": [c.station for c in captures],
        "capture_file": [c.capture_file for c in captures],
        "captured_at": [c.captured_at.isoformat() if c.captured_at else None for c in captures],
        "level": [c.level for c in captures],
        "instrument_height_m": [c.instrument_height_m for c in captures],
        "tilt_deg": [c.tilt_deg for c in captures],
        "moved": [c.moved for c in captures],
        "compass_calibrated": [c.compass_calibrated for c in captures],
        "magnetic_azimuth_deg": [c.magnetic_azimuth_deg for c in captures],
        "magnetic_azimuth_sigma_deg": [c.magnetic_azimuth_sigma_deg for c in captures],
        "longitude_deg": [c.longitude_deg for c in captures],
        "latitude_deg": [c.latitude_deg for c in captures],
        "geotag_sigma_m": [c.geotag_sigma_m for c in captures],
        "ellipsoidal_height_m": [c.ellipsoidal_height_m for c in captures],
        "distance_sigma_mm": [c.distance_sigma_m * MM for c in captures],
        "angle_sigma_deg": [c.angle_sigma_deg for c in captures],
        "distance_zero_mm": [c.distance_zero_m * MM for c in captures],
        "axis_eccentricity_mm": [c.axis_eccentricity_m * MM for c in captures],
        "angle_scale_ppm": [c.angle_scale * PPM for c in captures],
        "comment": [c.comment or None for c in captures],
        "readings": [len(c) for c in captures],
        "used": [int(c.usable.sum()) for c in captures],
    }


def recorded_stations(survey: Survey, xy_m: Floats, orientation_rad: Floats) -> Table:
    """Stations as recorded, laid out for inspection."""
    n = len(survey)
    unknown = [NAN] * n
    return make_table(
        schema.STATIONS,
        {
            **station_columns(survey),
            "x_m": xy_m[:, 0],
            "y_m": xy_m[:, 1],
            "orientation_deg": wrap_full_deg(np.degrees(orientation_rad)),
            "sigma_orientation_deg": unknown,
            "sigma_x_mm": unknown,
            "sigma_y_mm": unknown,
            "cov_xy_mm2": unknown,
            "network": [None] * n,
            "status": [Status.AS_RECORDED.value] * n,
            "choice": [None] * n,
            "proposal": [None] * n,
        },
        points(xy_m),
        [0] * n,
    )


def adjusted_stations(survey: Survey, network: Network) -> Table:
    """Stations with their adjusted poses and standard errors."""
    sigma = network.sigma()
    covariance_xy = np.diagonal(network.covariance, offset=1)[::3]
    return make_table(
        schema.STATIONS,
        {
            **station_columns(survey),
            "x_m": network.xy_m[:, 0],
            "y_m": network.xy_m[:, 1],
            "orientation_deg": wrap_full_deg(np.degrees(network.orientation_rad)),
            "sigma_orientation_deg": np.degrees(sigma[:, 2]),
            "sigma_x_mm": sigma[:, 0] * MM,
            "sigma_y_mm": sigma[:, 1] * MM,
            "cov_xy_mm2": covariance_xy * MM**2,
            "network": network.network,
            "status": [status.value for status in network.status],
            "choice": [_station_choice(network.choices, name) for name in network.station],
            "proposal": [network.proposals.get(name) for name in network.station],
        },
        points(network.xy_m),
        network.network,
    )


def _station_choice(choices: Choices, name: str) -> str | None:
    if name in choices.held:
        return schema.HOLD
    return schema.LEAVE_OUT if name in choices.left_out else None


def readings(
    survey: Survey,
    xy_m: Sequence[Floats],
    network: Sequence[int],
    walls: WallFaces | None = None,
    progress: Progress = SILENT,
) -> Table:
    """All readings; `xy_m` has an ``(n, 2)`` array of positions for each capture."""
    names = np.array([*walls.wall, None] if walls else [None], dtype=object)
    counts = [len(c) for c in survey.captures]

    def joined(arrays: Sequence[np.ndarray]) -> np.ndarray:
        return np.concatenate(arrays) if arrays else np.empty(0)

    def repeated(values: Sequence) -> NDArray[np.object_]:
        return np.repeat(np.array([*values, None], dtype=object)[:-1], counts)

    def named(targets: np.ndarray) -> NDArray[np.object_]:
        words = targets.astype(object)  # of no capture there are numbers
        return np.where(words == "", None, words)

    if walls is None:
        wall = [np.full(count, -1) for count in counts]
        residual = [np.full(count, NAN) for count in counts]
    else:
        wall, residual = list(walls.wall_of_reading), list(walls.residual_of_reading_m)
    captures = survey.captures
    return make_table(
        schema.READINGS,
        {
            "station": repeated(survey.names),
            "level": repeated([c.level for c in captures]),
            "seq": joined([c.seq for c in captures]),
            "angle_deg": joined([c.angle_deg for c in captures]),
            "zenith_deg": joined([c.zenith_deg for c in captures]),
            "slope_distance_m": joined([c.slope_distance_m for c in captures]),
            "distance_m": joined([c.distance_m for c in captures]),
            "kind": KIND_TEXTS[joined([c.kind for c in captures]).astype(int)],
            "target": named(joined([c.target for c in captures])),
            "intensity": joined([c.intensity for c in captures]),
            "flag": FLAG_TEXTS[joined([c.flag for c in captures]).astype(int)],
            "residual_mm": joined(residual) * MM,
            "wall": names[joined(wall).astype(int)],
        },
        points(joined(list(xy_m)) if counts else np.empty((0, 2))),
        repeated(list(network)),
        progress,
    )


def recorded_readings(survey: Survey, xy_m: Floats, orientation_rad: Floats) -> TableParts:
    """All readings of stations drawn at ``xy_m (S, 2)`` and turned by ``orientation_rad (S,)``, a
    capture at a time."""

    def of(index: int, capture: Capture) -> Table:
        # Each array of a stored capture is fetched once.
        capture = in_memory(capture)
        xy = turn(capture.xy_m, float(orientation_rad[index])) + xy_m[index]
        return readings(Survey((capture,)), [xy], [0])

    return TableParts(
        schema.READINGS,
        sum(len(capture) for capture in survey.captures),
        (of(index, capture) for index, capture in enumerate(survey.captures)),
    )


def adjusted_readings(
    survey: Survey,
    network: Network,
    walls: WallFaces | None = None,
    progress: Progress = SILENT,
) -> Table:
    """All readings at their adjusted positions."""
    positions = [network.to_plan(i, c.xy_m) for i, c in enumerate(survey.captures)]
    progress.at(0.1)
    return readings(survey, positions, network.network.tolist(), walls, progress.part(0.2, 1.0))


def targets(survey: Survey, network: Network, control: Sequence[str] = ()) -> Table:
    """Sighted targets; those with known coordinates have the role ``control``. One that joins
    storeys belongs to the lowest that sighted it."""
    t = network.targets
    covariance = t.covariance_m2.reshape(-1, 2, 2)
    known = set(control)
    level: dict[int, int] = {}
    for station, target in zip(network.ties.from_station, network.ties.to_target):
        own = survey.captures[station].level
        level[int(target)] = min(own, level.get(int(target), own))
    return make_table(
        schema.TARGETS,
        {
            "target": t.name,
            "x_m": t.xy_m[:, 0],
            "y_m": t.xy_m[:, 1],
            "sigma_x_mm": np.sqrt(covariance[:, 0, 0]) * MM,
            "sigma_y_mm": np.sqrt(covariance[:, 1, 1]) * MM,
            "cov_xy_mm2": covariance[:, 0, 1] * MM**2,
            "sightings": t.sightings,
            "role": ["control" if name in known else "tie" for name in t.name],
            "network": t.network,
            "level": [level.get(k) for k in range(len(t))],
        },
        points(t.xy_m),
        t.network,
    )


def with_control(table: Table, control: Sequence[str]) -> Table:
    """A targets table in which the targets of these names, and no others, are control points; roles
    that a person gave stay."""
    known = set(control)
    names, roles = table.column("target"), table.column("role")
    role = [
        "control" if name in known else "tie" if given == "control" else given
        for name, given in zip(names, roles)
    ]
    at = table.schema.field_names.index("role")
    return replace(table, columns=(*table.columns[:at], role, *table.columns[at + 1 :]))


def ties(survey: Survey, network: Network) -> Table:
    """Ties as lines from station to station or target (none for a bearing or a geotag)."""
    t = network.ties
    ends: list[Floats | None] = []
    for start, end, target in zip(t.from_station, t.to_station, t.to_target):
        if end >= 0:
            ends.append(network.xy_m[[start, end]])
        elif target >= 0:
            ends.append(np.array([network.xy_m[start], network.targets.xy_m[target]]))
        else:
            ends.append(None)
    lines = [None if pair is None else segments(pair[None])[0] for pair in ends]
    names = network.station

    def far_name(station: int, target: int) -> str | None:
        if station >= 0:
            return names[station]
        return network.targets.name[target] if target >= 0 else None

    return make_table(
        schema.TIES,
        {
            "tie": t.name,
            "from_station": [names[i] for i in t.from_station],
            "to_station": [far_name(s, k) for s, k in zip(t.to_station, t.to_target)],
            "kind": [kind.value for kind in t.kind],
            "residual_mm": t.residual_m * MM,
            "residual_deg": np.degrees(t.residual_rad),
            "standardised": t.standardised,
            "redundancy": t.redundancy,
            "detectable_mm": _finite(t.detectable_m, len(t)) * MM,
            "detectable_deg": np.degrees(_finite(t.detectable_rad, len(t))),
            "used": t.used,
            "reason": t.reason,
            "choice": [
                schema.LEAVE_OUT if name in network.choices.ties_left_out else None
                for name in t.name
            ],
            "sigma_factor": [network.choices.sigma_factor.get(name) for name in t.name],
            "level": [survey.captures[i].level for i in t.from_station],
        },
        lines,
        network.network[t.from_station],
    )


def _finite(values: Floats | None, count: int) -> Floats:
    """A column of numbers in which what is not known or without limit is empty."""
    known = np.full(count, NAN) if values is None else values
    return np.where(np.isfinite(known), known, NAN)


def network_covariance(network: Network) -> Table:
    """The covariance of the adjusted stations by blocks: one row for each pair of a group (the
    other triangle is the transpose)."""
    to_layer = np.array([MM, MM, np.degrees(1.0)])
    scale = np.outer(to_layer, to_layer)
    blocks = network.covariance.reshape(len(network), 3, len(network), 3).transpose(0, 2, 1, 3)
    first, second = np.triu_indices(len(network))
    known = (network.network[first] == network.network[second]) & np.isfinite(
        blocks[first, second]
    ).all(axis=(1, 2))
    first, second = first[known], second[known]
    values = (blocks[first, second] * scale).reshape(-1, 9)
    names = schema.NETWORK_COVARIANCE.field_names[2:]
    return make_table(
        schema.NETWORK_COVARIANCE,
        {
            "station_a": [network.station[i] for i in first],
            "station_b": [network.station[i] for i in second],
            **{name: values[:, i] for i, name in enumerate(names)},
        },
        [None] * len(first),
        network.network[first],
    )
