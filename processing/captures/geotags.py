# SPDX-License-Identifier: GPL-2.0-or-later
"""Geotags that cannot all be right: far from the others, at 0, 0, or at the wrong height."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pyproj import Geod

from ..angles import Floats
from .setups import Setup

ELLIPSOID = Geod(ellps="WGS84")

FAR_M = 300.0
"""A station so far from the middle of the others is doubted, where that is also"""

FAR_SPREADS = 5.0
"""so many times the distance that half of the others lie within, and"""

FAR_SIGMAS = 5.0
"""so many standard errors of the geotags."""

APART_M = 2000.0
"""Two stations alone contradict each other when they are this far apart."""

HEIGHT_M = 15.0
"""Heights of one level differ by more than this only by mistake (and by `FAR_SIGMAS`, the height's
error taken as 1.5 times that of the position, common practice with satellite positions)."""

HEIGHT_FACTOR = 1.5

STOREY_M = 10.0
"""A higher level lies no deeper than a lower one, within this much."""


def distances_m(setups: Sequence[Setup], longitude: float, latitude: float) -> Floats:
    """Distances ``(n,)`` of set-ups with a geotag from a place, on the ellipsoid."""
    lon = [setup.longitude_deg for setup in setups]
    lat = [setup.latitude_deg for setup in setups]
    n = len(setups)
    return np.asarray(ELLIPSOID.inv([longitude] * n, [latitude] * n, lon, lat)[2], dtype=float)


def check_geotags(setups: Sequence[Setup]) -> list[tuple[str, str]]:
    """Sentences, each with the station that it is about (empty: the job)."""
    tagged = [setup for setup in setups if setup.has_geotag]
    found = []
    for setup in tagged:
        if setup.longitude_deg == 0.0 and setup.latitude_deg == 0.0:
            found.append(
                (
                    setup.station,
                    f"The geotag of {setup.station} is 0, 0, which receivers write without a fix.",
                )
            )
    tagged = [s for s in tagged if s.longitude_deg != 0.0 or s.latitude_deg != 0.0]
    found.extend(_far(tagged))
    found.extend(_heights(tagged))
    return found


def _far(tagged: list[Setup]) -> list[tuple[str, str]]:
    if len(tagged) == 2:
        one, two = tagged
        apart = float(distances_m([two], one.longitude_deg, one.latitude_deg)[0])
        if apart > APART_M:
            sentence = (
                f"The geotags of {one.station} and {two.station} are {_length(apart)} apart: one "
                "of them is wrong."
            )
            return [("", sentence)]
    if len(tagged) < 3:
        return []
    # Longitudes near the date line are counted from the first station's.
    first = tagged[0].longitude_deg
    around = [(s.longitude_deg - first + 180.0) % 360.0 - 180.0 for s in tagged]
    longitude = first + float(np.median(around))
    latitude = float(np.median([s.latitude_deg for s in tagged]))
    distance = distances_m(tagged, longitude, latitude)
    spread = float(np.median(distance))
    found = []
    for setup, away in zip(tagged, distance):
        if away <= max(FAR_M, FAR_SPREADS * spread, FAR_SIGMAS * setup.geotag_sigma_m):
            continue
        why = "it is wrong, or the capture belongs to another job"
        if abs(setup.longitude_deg) <= 90.0:
            swapped = ELLIPSOID.inv(longitude, latitude, setup.latitude_deg, setup.longitude_deg)[2]
            if swapped < FAR_M:
                why = "longitude and latitude are likely swapped"
        found.append(
            (
                setup.station,
                f"The geotag of {setup.station} lies {_length(away)} from the middle of the "
                f"others: {why}.",
            )
        )
    return found


def _heights(tagged: list[Setup]) -> list[tuple[str, str]]:
    known = [setup for setup in tagged if np.isfinite(setup.ellipsoidal_height_m)]
    found = []
    middle: dict[int, tuple[float, float]] = {}
    for level in sorted({setup.level for setup in known}):
        own = [setup for setup in known if setup.level == level]
        height = np.array([setup.ellipsoidal_height_m for setup in own])
        sigma = HEIGHT_FACTOR * np.array([setup.geotag_sigma_m for setup in own])
        centre = float(np.median(height))
        middle[level] = centre, float(1.25 * np.sqrt(np.mean(sigma**2) / len(own)))
        if len(own) < 3:
            continue
        for setup, h, s in zip(own, height, sigma):
            if abs(h - centre) > max(HEIGHT_M, FAR_SIGMAS * s):
                found.append(
                    (
                        setup.station,
                        f"The ellipsoidal height of {setup.station}, {h:.1f} m, is "
                        f"{abs(h - centre):.0f} m {'above' if h > centre else 'below'} that of "
                        f"the others on level {level}: is it a height above sea level?",
                    )
                )
    levels = sorted(middle)
    for low, high in zip(levels, levels[1:]):
        below = middle[low][0] - middle[high][0]
        sigma_both = float(np.hypot(middle[low][1], middle[high][1]))
        if below > max(STOREY_M, FAR_SIGMAS * sigma_both):
            found.append(
                (
                    "",
                    f"By their geotags the stations on level {high} stand {below:.0f} m lower than "
                    f"those on level {low}: check level and ellipsoidal_height_m.",
                )
            )
    return found


def _length(metres: float) -> str:
    return f"{metres / 1000.0:.1f} km" if metres >= 1000.0 else f"{metres:.0f} m"
