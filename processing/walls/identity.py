# SPDX-License-Identifier: GPL-2.0-or-later
"""Identifiers and names of rooms and openings: derived from the survey, never random.

They are UUIDs of version 5 (RFC 9562, section 5.5): a SHA-1 of a name in a name space. The name of
a room says which stations stand in it, or, where none does, from which station most of it was
seen and where it lies from there, coarsely enough that plot scales agree.
"""

from __future__ import annotations

import hashlib
import uuid

import numpy as np
from shapely.geometry import Polygon

from ..angles import Floats, azimuth_of
from ..captures.model import Survey

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:roomtie:survey")
COARSE_DEG = 15.0
COARSE_M = 2.0


def survey_space(survey: Survey) -> uuid.UUID:
    """The name space of a survey: from its stations' names, levels and measured distances, in the
    order of the names, so that neither files nor their order matter."""
    digest = hashlib.sha256()
    for capture in sorted(survey.captures, key=lambda c: c.station):
        digest.update(f"{capture.station}\x00{capture.level}\x00{len(capture)}\x00".encode())
        tenths = np.rint(np.nan_to_num(capture.slope_distance_m, posinf=0.0) * 1e4)
        digest.update(tenths.astype("<i8").tobytes())
    return uuid.uuid5(NAMESPACE, digest.hexdigest())


def room_key(
    polygon: Polygon,
    inside: tuple[str, ...],
    level: int,
    station: str,
    station_m: Floats,
) -> str:
    """The name of a room in its survey's name space: by the stations `inside`, else by its place
    seen from `station` at `station_m (2,)`."""
    if inside:
        return f"room\x00{level}\x00" + "\x00".join(sorted(inside))
    centre = np.array(polygon.centroid.coords[0])
    ray = centre - station_m
    # north is one direction, from whichever side it is rounded
    bearing = round(float(np.degrees(azimuth_of(ray))) / COARSE_DEG) % round(360.0 / COARSE_DEG)
    distance = round(float(np.hypot(*ray)) / COARSE_M)
    return f"room\x00{level}\x00from {station}\x00{bearing}\x00{distance}"


def identify(space: uuid.UUID, keys: list[str]) -> tuple[str, ...]:
    """One UUID a key; equal keys are told apart by their order."""
    met: dict[str, int] = {}
    found = []
    for key in keys:
        turn = met.get(key, 0)
        met[key] = turn + 1
        found.append(str(uuid.uuid5(space, key if not turn else f"{key}\x00{turn}")))
    return tuple(found)


def room_names(
    level: list[int], network: list[int], centre_m: Floats
) -> tuple[list[int], tuple[str, ...]]:
    """The order of rooms and, in that order, names like ``0.01``: the level, and a number by level
    from the top of the plan down and from left to right, in bands two metres high; groups that
    are not connected follow one another."""
    band = np.floor(-centre_m[:, 1] / COARSE_M)
    order = sorted(
        range(len(level)),
        key=lambda i: (level[i], network[i], band[i], centre_m[i, 0], centre_m[i, 1]),
    )
    names = []
    number: dict[int, int] = {}
    for i in order:
        number[level[i]] = number.get(level[i], 0) + 1
        names.append(f"{level[i]}.{number[level[i]]:02d}")
    return order, tuple(names)
