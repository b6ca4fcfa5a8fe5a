# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations and the points seen from them, read out of two layers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats
from ..errors import SurveyError
from ..progress import Progress
from . import from_points_layers as layers
from .findings import Findings, listed, shown
from .from_points_layers import LayerPoints, verb
from .from_points_nearest import nearest_station
from .model import NAN, Bools, Ints, Kind

MOST_NAMES = 8


@dataclass(frozen=True, eq=False)
class StationPoints:
    """``S`` stations: where the instrument's axes met, in metres, z NaN without a height."""

    layer: str
    feature: Ints
    name: list[str]
    level: Ints
    height_m: Floats
    xyz_m: Floats


@dataclass(frozen=True, eq=False)
class SeenPoints:
    """``n`` points in metres, each with its station, kind, target name and place in the order."""

    layer: str
    feature: Ints
    xyz_m: Floats
    station: Ints
    nearly: Bools
    kind: Ints
    target: np.ndarray
    order: Ints | None

    def only(self, kept: Bools | Ints) -> SeenPoints:
        arrays = ("feature", "xyz_m", "station", "nearly", "kind", "target")
        order = None if self.order is None else self.order[kept]
        return replace(self, order=order, **{name: getattr(self, name)[kept] for name in arrays})


def use_heights(points: LayerPoints, stations: LayerPoints) -> tuple[bool, str]:
    """Whether heights are used, and why not where one layer has some."""
    have, flat = [], []
    for layer in (points, stations):
        z = layer.xyz[:, 2][np.isfinite(layer.xyz[:, 2])]
        flat.append(bool(len(z)) and not z.any())
        have.append(bool(len(z)) and not flat[-1])
    # Stations on a floor of height 0 are in order where the points show that z means something.
    if have[0] and flat[1]:
        have[1] = True
    if all(have):
        return True, ""
    if not any(have):
        return False, ""
    with_z, without = (points, stations) if have[0] else (stations, points)
    why = "all have the height 0" if flat[have[0]] else "have no height"
    return False, (
        f"Heights are not used: layer {with_z.layer} has them, the points of layer "
        f"{without.layer} {why}. Distances count as horizontal."
    )


def read_stations(
    stations: LayerPoints, unit_m: float, heights: bool, findings: Findings
) -> StationPoints:
    stations = layers.with_points(stations, findings)
    level, good = layers.checked(
        stations, "level", layers.as_level, "a whole number (0 is the ground floor)", findings
    )
    above, right = layers.checked(
        stations, "instrument_height", layers.as_height, "metres above the point", findings
    )
    if "station" in stations.columns:
        name = layers.names(stations, "station")
        nameless = name == ""
        if nameless.any():
            findings.bad(
                f"{verb(stations.feature[nameless], 'has', 'have')} no station name; expected one."
            )
    else:
        name = np.array([str(number) for number in stations.feature.tolist()], dtype=str)
        nameless = np.zeros(len(stations), dtype=bool)
    first: dict[str, int] = {}
    kept = []
    for place in np.flatnonzero(good & right & ~nameless).tolist():
        other = first.setdefault(str(name[place]), place)
        if other == place:
            kept.append(place)
            continue
        findings.bad(
            f"feature {stations.feature[place]} has the station name {shown(str(name[place]))} "
            f"that feature {stations.feature[other]} has; expected a name of its own for each "
            "point."
        )
    if not kept:
        why = f" ({findings.skipped[0].rstrip('.')})" if findings.skipped else ""
        raise SurveyError(
            f"{findings.place()}: it holds no station{why}; expected the points where the "
            "instrument stood."
        )
    height = np.array([above[place] for place in kept], dtype=float)
    xyz = stations.xyz[kept] * unit_m
    xyz[:, 2] = xyz[:, 2] + np.nan_to_num(height) if heights else NAN
    return StationPoints(
        stations.layer,
        stations.feature[kept],
        [str(name[place]) for place in kept],
        np.array([level[place] for place in kept], dtype=np.int64),
        height,
        xyz,
    )


def read_points(
    points: LayerPoints,
    known: StationPoints,
    unit_m: float,
    heights: bool,
    findings: Findings,
    progress: Progress,
) -> SeenPoints:
    points = layers.with_points(points, findings)
    kind, good = layers.checked(points, "kind", layers.as_kind, "ring, target or surface", findings)
    progress.at(0.2)
    target = layers.names(points, "target")
    progress.at(0.4)
    kinds = np.array([-1 if code is None else code for code in kind], dtype=np.int64)
    kinds = np.where(kinds >= 0, kinds, np.where(target == "", Kind.RING, Kind.TARGET))
    nameless = good & (kinds != Kind.RING) & (target == "")
    if nameless.any():
        findings.bad(
            f"{verb(points.feature[nameless], 'is', 'are')} a target or on its surface and "
            "names none; expected the target's name."
        )
    unused = (kinds == Kind.RING) & (target != "")
    if unused.any():
        findings.warn(
            f"{verb(points.feature[unused], 'is a ring reading', 'are ring readings')} that should "
            "name no target; the name is not used. Is the kind target or surface meant?"
        )
    target = np.where(unused, "", target)
    order = None
    if "order" in points.columns:
        keys, right = layers.checked(
            points, "order", layers.as_order, "a number or an ISO 8601 time", findings
        )
        good &= right
        progress.at(0.6)
        order = _places(keys)
    progress.at(0.8)
    good &= ~nameless
    xyz = points.xyz * unit_m
    if not heights:
        xyz[:, 2] = NAN
    station = np.full(len(points), -1, dtype=np.int64)
    nearly = np.zeros(len(points), dtype=bool)
    if "station" in points.columns:
        station = _named(points, known, good, findings)
    elif len(points):
        station, nearly = _nearest(points, xyz, known, good, findings)
    read = SeenPoints(points.layer, points.feature, xyz, station, nearly, kinds, target, order)
    return read.only(good & (station >= 0))


def _places(keys: list[object]) -> Ints:
    """Places in the order of the keys: by number where all are numbers, else as texts."""
    numbers = all(key is None or isinstance(key, float) for key in keys)
    plain = [(0.0 if key is None else key) if numbers else str(key) for key in keys]
    return np.unique(np.array(plain), return_inverse=True)[1].reshape(-1).astype(np.int64)


def _one_of(names: list[str]) -> str:
    """What a name may be, as it stands in a sentence."""
    more = f" ({len(names) - MOST_NAMES} more)" if len(names) > MOST_NAMES else ""
    return f"{'one of ' if len(names) > 1 else ''}{', '.join(names[:MOST_NAMES])}{more}"


def _named(points: LayerPoints, known: StationPoints, good: Bools, findings: Findings) -> Ints:
    """The station that each point names ``(n,)``, -1 where there is none of that name."""
    name = layers.names(points, "station")
    place = {station: index for index, station in enumerate(known.name)}
    station = np.array([place.get(str(own), -1) for own in name], dtype=np.int64)
    for own in sorted({str(unknown) for unknown in name[good & (station < 0)]}):
        ids = points.feature[good & (name == own)]
        which = (
            f"station {shown(own)}, which is not in layer {known.layer}" if own else "no station"
        )
        findings.bad(f"{verb(ids, 'names', 'name')} {which}; expected {_one_of(known.name)}.")
    return station


def _nearest(
    points: LayerPoints, xyz_m: Floats, known: StationPoints, good: Bools, findings: Findings
) -> tuple[Ints, Bools]:
    """The nearest station of each point's level ``(n,)``, and where another is nearly as near."""
    storeys = sorted(set(known.level.tolist()))
    levels = [str(own) for own in storeys]
    level: list[int | None] = [storeys[0]] * len(points)
    if "level" in points.columns:
        level, right = layers.checked(
            points, "level", layers.as_level, "a whole number (0 is the ground floor)", findings
        )
        good &= right
    elif len(storeys) > 1:
        findings.bad(
            f"its points name neither a station nor a level, but the stations of layer "
            f"{known.layer} stand on levels {listed(levels)}; expected a field with one of them, "
            "as storeys lie over each other."
        )
        good &= False
    of = np.array([NAN if own is None else own for own in level], dtype=float)
    station = np.full(len(points), -1, dtype=np.int64)
    nearly = np.zeros(len(points), dtype=bool)
    rank = np.argsort(np.argsort(np.array(known.name), kind="stable"), kind="stable")
    for own in np.unique(of[good]).tolist():
        rows, there = np.flatnonzero(good & (of == own)), np.flatnonzero(known.level == own)
        if not len(there):
            findings.bad(
                f"{verb(points.feature[rows], 'lies', 'lie')} on level {int(own)}, where layer "
                f"{known.layer} has no station; expected level {_one_of(levels)}."
            )
            continue
        near, nearly[rows] = nearest_station(
            xyz_m[rows, :2], known.xyz_m[there, :2], rank[there].astype(np.int64)
        )
        station[rows] = there[near]
    return station, nearly
