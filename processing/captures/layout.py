# SPDX-License-Identifier: GPL-2.0-or-later
"""Where to draw stations before anything ties them: for inspection, not for measuring."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .geotags import ELLIPSOID
from .model import Capture, Survey

FARTHEST_M = 2000.0
"""A geotag further than this from the others' middle is no help for drawing."""

GAP_M = 1.0
"""Free space between captures that are drawn side by side."""

_LEAST_REACH_M = 1.0


def lay_out(survey: Survey) -> tuple[Floats, Floats]:
    """Positions ``(S, 2)`` in metres and orientations ``(S,)`` in radians to draw stations at.

    Stations with a geotag lie at their distances and azimuths on the ellipsoid (WGS 84) from the
    first of them, north up; the rest lie below them in rows, far enough apart that no readings
    meet. A station with a compass is turned by its magnetic azimuth, the others are not turned.
    """
    captures = survey.captures
    xy = np.zeros((len(captures), 2))
    placed = _geotagged(captures)
    if placed.any():
        xy[placed] = _local(captures, placed)
    reach = np.array([_reach(capture) for capture in captures])
    rest = np.flatnonzero(~placed)
    if len(rest):
        grid = _rows(reach[rest])
        if placed.any():
            # The block's upper left corner comes under the lower left one of the stations.
            left = np.min(xy[placed, 0] - reach[placed])
            bottom = np.min(xy[placed, 1] - reach[placed]) - GAP_M
            corner = [np.min(grid[:, 0] - reach[rest]), np.max(grid[:, 1] + reach[rest])]
            grid = grid + np.array([left, bottom]) - corner
        xy[rest] = grid
    azimuth = np.array([capture.magnetic_azimuth_deg for capture in captures], dtype=float)
    return xy, np.radians(np.nan_to_num(azimuth))


def _reach(capture: Capture) -> float:
    """The longest distance of a usable reading, else of any that came back: what is absurdly far
    must not drive the stations apart."""
    distance = capture.distance_m[np.isfinite(capture.distance_m)]
    used = capture.distance_m[capture.usable & np.isfinite(capture.distance_m)]
    longest = used if len(used) else distance
    return float(max(np.max(longest, initial=0.0), _LEAST_REACH_M))


def _geotagged(captures: tuple[Capture, ...]) -> NDArray[np.bool_]:
    """Which stations ``(S,)`` have a geotag near the others' middle."""
    tagged = np.array([capture.has_geotag for capture in captures], dtype=bool)
    if not tagged.any():
        return tagged
    lon, lat = _lon_lat(captures, tagged)
    # The middle longitude is found where the circle is not cut through the site.
    turned = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0
    middle = np.full(len(lon), np.median(turned)), np.full(len(lon), np.median(lat))
    _, _, distance = ELLIPSOID.inv(*middle, lon, lat)
    tagged[tagged] = distance <= FARTHEST_M
    return tagged


def _local(captures: tuple[Capture, ...], placed: NDArray[np.bool_]) -> Floats:
    """East and north ``(k, 2)`` of the placed stations from the first of them."""
    lon, lat = _lon_lat(captures, placed)
    first = np.full(len(lon), lon[0]), np.full(len(lon), lat[0])
    azimuth, _, distance = ELLIPSOID.inv(*first, lon, lat)
    angle = np.radians(azimuth)
    return np.stack([distance * np.sin(angle), distance * np.cos(angle)], axis=-1)


def _lon_lat(captures: tuple[Capture, ...], which: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    chosen = [captures[index] for index in np.flatnonzero(which)]
    return (
        np.array([capture.longitude_deg for capture in chosen]),
        np.array([capture.latitude_deg for capture in chosen]),
    )


def _rows(reach: Floats) -> Floats:
    """Positions ``(k, 2)`` in a square block, row by row from the top, first at the origin; columns
    as wide and rows as high as their longest reach asks for."""
    count = len(reach)
    columns = int(np.ceil(np.sqrt(count)))
    row, column = np.divmod(np.arange(count), columns)
    half_width = np.zeros(columns)
    half_height = np.zeros(row[-1] + 1)
    np.maximum.at(half_width, column, reach)
    np.maximum.at(half_height, row, reach)

    def centres(half: Floats) -> Floats:
        return np.concatenate([[0.0], np.cumsum(half[:-1] + half[1:] + GAP_M)])

    return np.stack([centres(half_width)[column], 0.0 - centres(half_height)[row]], axis=-1)
