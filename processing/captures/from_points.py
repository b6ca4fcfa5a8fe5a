# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures from points that lie in a layer already: angle and distance from coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of, wrap_full_deg
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .findings import Findings
from .from_points_layers import LayerPoints, verb
from .from_points_nearest import NEARLY
from .from_points_read import SeenPoints, StationPoints, read_points, read_stations, use_heights
from .model import NAN, Bools, Capture, Flag, Remark, Survey

AT_STATION_M = 1e-6
"""A point nearer than this is at the station itself."""

SAME_M = 1e-6
"""Points that agree to this are one point that is there twice."""


@dataclass(frozen=True, eq=False)
class PlacedSurvey:
    """A survey whose stations have a place already: `xy_m (S, 2)`, metres in the layer's axes."""

    survey: Survey
    xy_m: Floats


def captures_from_points(
    points: LayerPoints,
    stations: LayerPoints,
    *,
    unit_m: float = 1.0,
    skip_unreadable: bool = False,
    progress: Progress = SILENT,
) -> PlacedSurvey:
    """The captures that the points seen from the stations make.

    Both layers have the same axes and the unit `unit_m` (metres on the ground). Columns of the
    stations: ``station`` (name; else the feature's id), ``level``, ``instrument_height`` (metres).
    Columns of the points: ``station`` (else the nearest station of the point's level, in plan),
    ``level`` (used with the nearest), ``kind`` (ring, target, surface; else target where a target
    is named), ``target``, ``order`` (readings are in its order; else by angle).

    The angle is the azimuth from the layer's +y axis, which so becomes the zero direction. Where
    both layers have heights, the zenith angle and the slope distance are computed from them, the
    instrument's axis standing the instrument height above the station point. A layer whose z are
    all 0 counts as one without heights.

    Features without a point or with a name, level, kind or order that cannot be read raise
    `SurveyError`; with `skip_unreadable` they are told in `Survey.skipped`. Points that are there
    twice carry the flag; points at the station itself and stations without points are left out
    with a warning.
    """
    of_points = points.findings(skip_unreadable)
    of_stations = stations.findings(skip_unreadable)
    heights, note = use_heights(points, stations)
    known = read_stations(stations, unit_m, heights, of_stations)
    progress.at(0.2)
    read = read_points(points, known, unit_m, heights, of_points, progress.part(0.2, 0.6))
    progress.at(0.6)
    nearest = "station" not in points.columns and len(known.name) > 1
    captures, used = [], []
    by_station = np.argsort(read.station, kind="stable")
    ends = np.searchsorted(read.station[by_station], np.arange(len(known.name) + 1))
    for index in progress.part(0.6, 1.0).over(range(len(known.name))):
        own = read.only(by_station[ends[index] : ends[index + 1]])
        capture = _capture(own, known, index, nearest, of_points)
        if capture is None:
            of_stations.warn(
                f"no point belongs to station {known.name[index]} (feature "
                f"{known.feature[index]}); it is left out."
            )
        else:
            captures.append(capture)
            used.append(index)
    if not captures:
        why = (of_points.skipped + of_stations.skipped + of_points.warnings or ["no points"])[0]
        raise SurveyError(f"Layer {points.layer}: no point makes a reading ({why.rstrip('.')}).")
    notes = [note] if note else []
    if nearest:
        notes.append(_told(captures, int(read.nearly.sum()), points.layer))
    survey = Survey(
        tuple(captures),
        (*of_stations.skipped, *of_points.skipped),
        (*notes, *of_stations.warnings, *of_points.warnings),
    )
    return PlacedSurvey(survey, known.xyz_m[used, :2])


def _capture(
    own: SeenPoints, known: StationPoints, index: int, nearest: bool, findings: Findings
) -> Capture | None:
    """The capture of one station from its points; None when there are none."""
    name = known.name[index]
    offset = own.xyz_m - known.xyz_m[index]
    rise = np.nan_to_num(offset[:, 2])
    there = np.hypot(np.hypot(offset[:, 0], offset[:, 1]), rise) < AT_STATION_M
    if there.any():
        findings.warn(
            f"{verb(own.feature[there], 'lies', 'lie')} at station {name} itself, from where there "
            "is no direction to it; left out."
        )
        own, offset, rise = own.only(~there), offset[~there], rise[~there]
    if not len(own.feature):
        return None
    distance = np.hypot(offset[:, 0], offset[:, 1])
    angle = wrap_full_deg(np.degrees(azimuth_of(offset[:, :2])))
    angle[angle == 360.0] = 0.0
    key = angle if own.order is None else own.order
    row = np.lexsort((own.feature, distance, angle, key))
    own, angle, distance, rise = own.only(row), angle[row], distance[row], rise[row]
    twice = _repeated(own)
    if twice.any():
        findings.warn(
            f"{verb(own.feature[twice], 'repeats a point', 'repeat points')} of station {name} "
            "that is there before; flagged as duplicate."
        )
    count = len(angle)
    return Capture(
        station=name,
        capture_file=own.layer,
        seq=np.arange(1, count + 1, dtype=np.int64),
        angle_deg=angle,
        zenith_deg=np.where(rise == 0.0, 90.0, np.degrees(np.arctan2(distance, rise))),
        slope_distance_m=np.where(rise == 0.0, distance, np.hypot(distance, rise)),
        distance_m=distance,
        kind=own.kind,
        target=own.target,
        intensity=np.full(count, NAN),
        flag=np.where(twice, int(Flag.DUPLICATE), int(Flag.USABLE)).astype(np.int64),
        line=np.zeros(count, dtype=np.int64),
        level=int(known.level[index]),
        instrument_height_m=float(known.height_m[index]),
        remarks=_remarks(own, name) if nearest else (),
    )


def _repeated(own: SeenPoints) -> Bools:
    """Which points stand where an earlier one of the same kind and target stands ``(n,)``."""
    _, target = np.unique(own.target, return_inverse=True)
    place = np.round(np.nan_to_num(own.xyz_m) / SAME_M)
    what = np.column_stack([place, own.kind, target.reshape(-1)])
    _, first = np.unique(what, axis=0, return_index=True)
    twice = np.ones(len(what), dtype=bool)
    twice[first] = False
    return twice


def _remarks(own: SeenPoints, name: str) -> tuple[Remark, ...]:
    unsure = int(own.nearly.sum())
    more = (
        f", {unsure} of them nearly as near to another (within {100 * (NEARLY - 1):.0f} %)"
        if unsure
        else ""
    )
    return (Remark("nearest", f"{len(own.feature)} points are nearest to {name}{more}."),)


def _told(captures: list[Capture], unsure: int, layer: str) -> str:
    counts = ", ".join(f"{len(capture)} to {capture.station}" for capture in captures[:12])
    more = f" and so on to {len(captures)} stations" if len(captures) > 12 else ""
    doubtful = f"{unsure or 'none'} of them {'is' if unsure == 1 else 'are'}"
    return (
        f"Layer {layer}: its points name no station and were given to the nearest ({counts}{more});"
        f" {doubtful} nearly as near to another (within {100 * (NEARLY - 1):.0f} %). A wall "
        "between a point and its nearest station is not seen that way: look at the pictures, and "
        "give the field with the station's name where there is one."
    )
