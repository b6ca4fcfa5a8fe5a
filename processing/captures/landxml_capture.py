# SPDX-License-Identifier: GPL-2.0-or-later
"""From a set-up of a total station to a capture with readings of kind target."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import atan2, cos, degrees, hypot, isfinite, nan, radians, sin, sqrt
from types import MappingProxyType

import numpy as np

from ..progress import SILENT, Progress
from .findings import listed
from .landxml_face_checks import face_remarks
from .landxml_faces import (
    CIRCLE_SIGMA_DEG,
    DISTANCE_SIGMA_M,
    Sighting,
    average_faces,
    pointing_sigma_deg,
)
from .landxml_orientation import Oriented, orient
from .landxml_setup import Setup
from .model import Capture, Flag, Kind, Remark

MOST_HEIGHTS = 24


def capture_of(
    setup: Setup,
    station: str,
    file: str,
    precision_deg: float = nan,
    progress: Progress = SILENT,
) -> Capture:
    """The capture of a set-up that has observations: one target reading for each target and round,
    both faces averaged, reduced to the horizontal and turned to the backsight.

    `precision_deg` is the standard error of a circle reading where the file gives it. What was
    sighted without a distance carries the flag for no return.
    """
    circle_sigma = precision_deg if isfinite(precision_deg) else CIRCLE_SIGMA_DEG
    oriented = orient(setup)
    sightings: list[Sighting] = []
    turns: list[float] = []
    remarks: list[Remark] = [*oriented.remarks]
    for part, (round_, turn) in progress.each(list(zip(setup.rounds, oriented.turn_deg))):
        own = average_faces(round_.observations, part)
        remarks += face_remarks(own, circle_sigma, DISTANCE_SIGMA_M)
        sightings += own
        turns += [turn] * len(own)
    polar = [_at_target(s) for s in sightings]
    distance = np.array([d for d, _ in polar])
    angle = np.array([s.circle_deg + t + b for s, t, (_, b) in zip(sightings, turns, polar)])
    count = len(sightings)
    return Capture(
        station=station,
        capture_file=file,
        seq=np.arange(1, count + 1, dtype=np.int64),
        angle_deg=angle % 360.0,
        zenith_deg=np.array([_zenith(s) for s in sightings]),
        slope_distance_m=np.array([_slope(s) for s in sightings]),
        distance_m=distance,
        kind=np.full(count, int(Kind.TARGET), dtype=np.int64),
        target=np.array([s.target for s in sightings]),
        intensity=np.full(count, nan),
        flag=np.where(np.isfinite(distance), int(Flag.USABLE), int(Flag.NO_RETURN)).astype(
            np.int64
        ),
        line=np.array([s.line for s in sightings], dtype=np.int64),
        level=setup.level or 0,
        captured_at=setup.at,
        instrument_height_m=setup.height_m,
        distance_sigma_m=DISTANCE_SIGMA_M,
        angle_sigma_deg=_angle_sigma(sightings, distance, circle_sigma),
        other=_told(setup, oriented, sightings),
        remarks=(*remarks, *_left_out(setup)),
    )


def _zenith(sighting: Sighting) -> float:
    """The zenith angle, else what distance and height difference make of it, else the horizon."""
    if isfinite(sighting.zenith_deg):
        return sighting.zenith_deg
    if isfinite(sighting.vertical_m) and isfinite(sighting.distance_m):
        return degrees(atan2(sighting.distance_m, sighting.vertical_m))
    return 90.0


def _slope(sighting: Sighting) -> float:
    if isfinite(sighting.slope_m):
        return sighting.slope_m
    if not isfinite(sighting.horizontal_m):
        return nan
    zenith = _zenith(sighting)
    steep = sin(radians(zenith))
    return sighting.horizontal_m / steep if steep > 1e-6 else sighting.horizontal_m


def _at_target(sighting: Sighting) -> tuple[float, float]:
    """Horizontal distance to the target, and by how much it lies to the right of what was sighted
    (deg): the same but for offsets."""
    distance, (out, right, _) = sighting.distance_m, sighting.offset_m
    if not isfinite(distance) or (out == 0.0 and right == 0.0):
        return distance, 0.0
    return hypot(distance + out, right), degrees(atan2(right, distance + out))


def _height_difference(sighting: Sighting) -> float:
    """How far what was sighted lies above the instrument's axis."""
    if isfinite(sighting.slope_m) and isfinite(sighting.zenith_deg):
        return sighting.slope_m * cos(radians(sighting.zenith_deg))
    if isfinite(sighting.vertical_m):
        return sighting.vertical_m
    if isfinite(sighting.horizontal_m) and isfinite(sighting.zenith_deg):
        steep = sin(radians(sighting.zenith_deg))
        return sighting.horizontal_m * cos(radians(sighting.zenith_deg)) / max(steep, 1e-6)
    return nan


def _angle_sigma(sightings: Sequence[Sighting], distance: np.ndarray, circle_deg: float) -> float:
    """The standard error of a direction: circle and pointing, less by the root of the observations
    that each target has at least."""
    there = distance[np.isfinite(distance) & (distance > 0)]
    usual = float(np.median(there)) if len(there) else nan
    one = pointing_sigma_deg(usual, circle_deg) if isfinite(usual) else circle_deg
    return one / sqrt(min(s.direct + s.reversed_ for s in sightings))


def _told(setup: Setup, oriented: Oriented, sightings: Sequence[Sighting]) -> Mapping[str, str]:
    """What a reader of the report may want to know of the set-up."""
    told = {"set-up": setup.identity, "orientation": oriented.told}
    if setup.place is not None:
        place = setup.place
        height = f", elevation {place.height_m:.3f} m" if isfinite(place.height_m) else ""
        told["set up over"] = (
            f"{setup.point or setup.station} (northing {place.north_m:.3f} m, "
            f"easting {place.east_m:.3f} m{height})"
        )
    heights = _heights(setup, sightings)
    if heights:
        above = setup.place is not None and isfinite(setup.place.height_m)
        key = "elevations of targets" if above else "heights of targets above the set-up's point"
        told[key] = listed(heights, MOST_HEIGHTS)
    if any(any(s.offset_m) for s in sightings):
        told["offsets"] = "applied, from what was sighted to the target"
    return MappingProxyType(told)


def _heights(setup: Setup, sightings: Sequence[Sighting]) -> list[str]:
    """Height of the instrument and of the line of sight, less that of the target."""
    if not isfinite(setup.height_m):
        return []
    base = setup.height_m
    if setup.place is not None and isfinite(setup.place.height_m):
        base += setup.place.height_m
    found = []
    for sighting in sightings:
        rod = sighting.target_height_m if isfinite(sighting.target_height_m) else 0.0
        height = base + _height_difference(sighting) - rod + sighting.offset_m[2]
        if isfinite(height):
            found.append(f"{sighting.target} {height:.3f} m")
    return found


def _left_out(setup: Setup) -> tuple[Remark, ...]:
    if not setup.left_out:
        return ()
    many = "1 observation is" if setup.left_out == 1 else f"{setup.left_out} observations are"
    return (
        Remark("left out", f"{many} marked as unused or deleted in the file and not taken in."),
    )
