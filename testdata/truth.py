# SPDX-License-Identifier: GPL-2.0-or-later
"""The truth behind the example survey, in the plan frame that the project must arrive at."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import place
from building import FRONT_TURN_DEG, STOREYS, WING_TURN_DEG, Floats, Opening, Storey
from fieldwork import (
    BENT,
    BENT_DEG,
    BUMP_SHIFT,
    BUMP_TURN_DEG,
    BUMPED,
    OVERLAP_PAIRS,
    PASSER_BY,
    STATIONS,
    Target,
)
from instrument import CAUSES
from shapely.geometry import Point, Polygon
from taping import Taped


@dataclass
class SetUp:
    """One set-up as it truly was; `xy (2,)` and `orientation_deg` in the building's axes, `header`
    as in its file, `cause` a letter a ring reading."""

    station: str
    level: int
    xy: Floats
    orientation_deg: float
    header: dict[str, Any]
    cause: str = ""


def write_truth(
    path: Path, site: place.Site, set_ups: list[SetUp], targets: list[Target], taped: list[Taped]
) -> None:
    """Write everything as JSON, one thing a line; lengths in metres, angles in degrees."""
    origin = np.array(next(iter(STATIONS.values()))[1])
    truth = {
        "about": "Quillhaven Reading Rooms, invented; plan frame: origin at the first station,"
        " y along plan north; azimuths clockwise",
        "site": {
            "target_crs": place.CRS,
            "east_m": site.east_m,
            "north_m": site.north_m,
            "rotation_deg": place.ROTATION_DEG,
            "scale": site.scale,
            "convergence_deg": site.convergence_deg,
            "declination_deg": site.declination_deg,
            "magnetic_model": place.MAGNETIC_MODEL,
            "date": place.DAY.isoformat(),
            "ellipsoidal_height_m": place.ELLIPSOIDAL_HEIGHT_M,
        },
        "out_of_square_deg": {"wing": WING_TURN_DEG, "reading room front": -FRONT_TURN_DEG},
        "causes": CAUSES,
        "stations": [_station(s, origin) for s in set_ups],
        "overlap_only": [list(pair) for pair in OVERLAP_PAIRS],
        "targets": [_target(t, origin) for t in targets],
        "taped": [
            {"from_ref": t.from_ref, "to_ref": t.to_ref, "true_m": t.true_m, "blunder": t.blunder}
            for t in taped
        ],
        "rooms": [room for storey in STOREYS for room in _rooms(storey, origin)],
        "doorways": [
            _opening(d, storey.level, origin) for storey in STOREYS for d in storey.doorways
        ],
        "windows": [
            _opening(w, storey.level, origin) for storey in STOREYS for w in storey.windows
        ],
        "walls": [wall for storey in STOREYS for wall in _walls(storey, origin)],
        "furniture": [
            {"name": f.name, "level": storey.level, "room": f.room, **_polygon(f.polygon, origin)}
            for storey in STOREYS
            for f in storey.furniture
        ],
    }
    lines = []
    for key, value in truth.items():
        if isinstance(value, list):
            items = ",\n  ".join(_text(item) for item in value)
            lines.append(f' "{key}": [\n  {items}\n ]')
        else:
            lines.append(f' "{key}": {_text(value)}')
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8", newline="\n")


def _station(set_up: SetUp, origin: Floats) -> dict[str, Any]:
    x, y = set_up.xy - origin
    entry = {
        "station": set_up.station,
        "level": set_up.level,
        "room": set_up.header["comment"],
        "x": x,
        "y": y,
        "orientation_deg": set_up.orientation_deg,
    }
    if set_up.station == BUMPED:
        entry["moved_before_sightings"] = {"shift_m": BUMP_SHIFT, "turn_deg": BUMP_TURN_DEG}
    if set_up.station == BENT:
        entry["compass_bent_deg"] = BENT_DEG
    if set_up.station in PASSER_BY:
        entry["passer_by"] = np.array(PASSER_BY[set_up.station]) - origin
    return {**entry, "cause": set_up.cause}


def _target(target: Target, origin: Floats) -> dict[str, Any]:
    x, y = target.xy - origin
    return {
        "target": target.name,
        "role": target.role,
        "x": x,
        "y": y,
        "height_m": target.height_m,
        "face_azimuth_deg": _azimuth(target.along),
        "stations": target.stations,
    }


def _rooms(storey: Storey, origin: Floats) -> list[dict[str, Any]]:
    occupied = {storey.room_at(*xy) for level, xy in STATIONS.values() if level == storey.level}
    return [
        {
            "name": room.name,
            "level": storey.level,
            "area_m2": room.polygon.area,
            "perimeter_m": room.polygon.length,
            "has_station": room.name in occupied,
            **_polygon(room.polygon, origin),
        }
        for room in storey.rooms
    ]


def _opening(opening: Opening, level: int, origin: Floats) -> dict[str, Any]:
    line = np.array([opening.p, opening.q]) + opening.across * opening.thickness / 2 - origin
    return {
        "level": level,
        "rooms": opening.rooms,
        "centre": opening.centre - origin,
        "line": line,
        "width_m": opening.width,
        "wall_thickness_m": opening.thickness,
        "through_azimuth_deg": _azimuth(opening.across),
    }


def _walls(storey: Storey, origin: Floats) -> list[dict[str, Any]]:
    walls = []
    for start, end in storey.faces():
        along = (end - start) / np.hypot(*(end - start))
        normal = np.array([along[1], -along[0]])
        before = (start + end) / 2 + 0.01 * normal
        room = storey.room_at(*before)
        kind = "room" if room else _kind_of_free_side(storey, before)
        walls.append(
            {
                "level": storey.level,
                "kind": kind,
                "room": room,
                "start": start - origin,
                "end": end - origin,
                "normal_azimuth_deg": _azimuth(normal),
            }
        )
    return walls


def _kind_of_free_side(storey: Storey, point: Floats) -> str:
    if any(d.quad().contains(Point(point)) for d in (*storey.doorways, *storey.windows)):
        return "reveal"
    return "outside"


def _polygon(polygon: Polygon, origin: Floats) -> dict[str, Any]:
    ring = np.asarray(polygon.exterior.coords) - origin
    return {"geometry": {"type": "Polygon", "coordinates": [ring]}}


def _azimuth(vector: Floats) -> float:
    return float(np.degrees(np.arctan2(vector[0], vector[1])) % 360.0)


def _text(value: Any) -> str:
    return json.dumps(_plain(value), ensure_ascii=False)


def _plain(value: Any) -> Any:
    """Arrays as lists, numbers to 1e-9 (scale) or finer than any reading, no negative zero."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [_plain(item) for item in value]
    if isinstance(value, (float, np.floating)):
        return round(float(value), 9) + 0.0
    return value
