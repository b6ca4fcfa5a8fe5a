# SPDX-License-Identifier: GPL-2.0-or-later
"""Chords that stand for an arc: how many, and where they lie.

The chords of a sector are sides of the polygon that has the arc's own area: its corners lie a
little outside the circle and the middles of its sides a little inside, so that rooms neither grow
nor shrink by being drawn with straight lines.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats

FINE_M = 0.001
"""The chords as measured depart from the arc by no more than this."""

UNIT = 12
"""The chords as measured come by the dozen, so that 2, 3, 4, 6 or 12 of them become one."""

WIDEST_RAD = np.radians(60.0)
"""No chord stands for more of an arc: a column keeps a shape."""


def corner_radius(radius_m: float, sector_rad: float) -> float:
    """How far from the centre the corners of the polygon of equal area lie: half the corner radius
    squared times the sine of a sector is the sector's area, half the radius squared times it."""
    return float(radius_m * np.sqrt(sector_rad / np.sin(sector_rad)))


def chord_distance(radius_m: float, sector_rad: float) -> float:
    """How far from the centre the sides of that polygon lie."""
    return corner_radius(radius_m, sector_rad) * float(np.cos(0.5 * sector_rad))


def departures(radius_m: Floats, sector_rad: Floats) -> Floats:
    """How far corner or middle of chords ``(k,)`` lie from their arcs."""
    corner = radius_m * np.sqrt(sector_rad / np.sin(sector_rad))
    return np.maximum(corner - radius_m, radius_m - corner * np.cos(0.5 * sector_rad))


def departure(radius_m: float, sector_rad: float) -> float:
    """How far corner or middle of one chord lie from the arc."""
    return float(departures(np.array([radius_m]), np.array([sector_rad]))[0])


def fine_division(radius_m: float, arc_rad: float) -> int:
    """The number of chords of an arc as measured."""
    finest = min(np.sqrt(12.0 * FINE_M / radius_m), 0.5 * WIDEST_RAD)
    dozens = max(int(np.ceil(arc_rad / finest / UNIT)), 1)
    while departure(radius_m, arc_rad / (UNIT * dozens)) > FINE_M:
        dozens += 1
    return UNIT * dozens


def coarse_division(radius_m: float, arc_rad: float, fine: int, tolerance_m: float) -> int:
    """How many chords as measured become one at a tolerance: the most that divide them evenly and
    whose common chord none of theirs leaves further."""
    step = arc_rad / fine
    corners = corner_radius(radius_m, step)
    for group in sorted((g for g in range(2, fine + 1) if fine % g == 0), reverse=True):
        sector = group * step
        if sector > WIDEST_RAD:
            continue
        height = chord_distance(radius_m, sector)
        angle = step * np.arange(group + 1) - 0.5 * sector
        if np.abs(corners * np.cos(angle) - height).max() <= tolerance_m:
            return group
    return 1


def sectors(start_rad: float, arc_rad: float, count: int) -> Floats:
    """The sectors ``(count, 2)`` of an even division of an arc."""
    edges = start_rad + arc_rad * np.arange(count + 1) / count
    return np.stack([edges[:-1], edges[1:]], axis=-1)
