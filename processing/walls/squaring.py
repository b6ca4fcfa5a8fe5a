# SPDX-License-Identifier: GPL-2.0-or-later
"""Squaring as a statistical decision: a face turns to a building axis only where its readings
cannot tell the difference, or where a person asks for more."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..angles import Floats, along, wrap_half
from .model import WallFaces

UNTELLABLE = 2.576
"""A face whose direction lies within so many standard errors of an axis (99 %) cannot be told from
it: of truly square faces one in a hundred stays as measured."""

LONG_M = 0.5
"""Shorter faces say nothing about the axes."""

NEAR_AXIS_RAD = np.radians(3.0)
"""Only faces this near to the first guess decide the axes."""

BUILT_SQUARE_RAD = np.radians(0.05)
"""What walls that were meant square are out of square (1 sigma; common practice: about 1 mm a
metre): it keeps one very well measured wall from deciding the axes alone."""


FARTHEST_RAD = np.radians(6.0)
"""No face turns by more: a short one would turn to anything within a tolerance."""


class Square(Enum):
    """Which faces may turn to a building axis."""

    NEVER = "never"
    WHERE_READINGS_ALLOW = "where the readings allow"
    WITHIN_TOLERANCE = "within tolerance"


@dataclass(frozen=True, eq=False)
class Axes:
    """The building axes of one network: azimuth (rad, 0 to a quarter turn) of one of them, the
    others every quarter turn, and its standard error (infinite where no face is long enough).
    `weight (W,)` tells how much each wall face has decided; zero for most short ones."""

    azimuth_rad: float
    sigma_rad: float
    weight: Floats

    def told_by_others(self, normal_rad: Floats, sigma_rad: Floats) -> tuple[Floats, Floats]:
        """Differences ``(W,)`` of all faces from the axis that the other faces alone tell, and the
        standard errors of these; infinite where there are no others."""
        total = self.weight.sum()
        rest = np.maximum(total - self.weight, 0.0)
        alone = rest <= 1e-9 * total
        rest = np.where(alone, np.inf, rest)
        squares = self.weight**2 * sigma_rad**2
        others = np.maximum(squares.sum() - squares, 0.0) / rest**2
        away = quarter(normal_rad - self.azimuth_rad) * np.where(alone, 1.0, total / rest)
        return away, np.where(alone, np.inf, np.sqrt(sigma_rad**2 + others))


def quarter(angle_rad: Floats) -> Floats:
    """Angles brought into [-45, 45) degrees by quarter turns (radians)."""
    return np.asarray((angle_rad + np.pi / 4) % (np.pi / 2) - np.pi / 4)


def building_axes(walls: WallFaces, network: int) -> Axes:
    """The axes of one network from its long faces.

    First guess: the length-weighted mean of the directions by quarter turns (directional mean of
    four times the angle: Mardia and Jupp, *Directional Statistics*, section 1.2), with the cells of
    one degree that hold most length deciding. Then the weighted mean of the faces near it, by Huber
    weights.
    """
    length = walls.span_m[:, 1] - walls.span_m[:, 0]
    use = (walls.network == network) & (length >= LONG_M)
    if not use.any():
        return Axes(0.0, np.inf, np.zeros(len(walls)))
    angle, length = walls.normal_rad[use], length[use]
    # The direction within 1.5 degrees of which most length lies.
    away = np.abs(quarter(angle[:, None] - angle[None, :]))
    support = ((away < np.radians(1.5)) * length[:, None]).sum(axis=0)
    guess = float(angle[int(np.argmax(np.round(support, 6)))])
    near = np.abs(quarter(angle - guess)) < NEAR_AXIS_RAD
    d, sigma = quarter(angle[near] - guess), walls.sigma_normal_rad[use][near]
    variance = sigma**2 + BUILT_SQUARE_RAD**2
    mean = float(np.median(d))
    weight = 1.0 / variance
    for _ in range(20):
        size = np.abs(d - mean) / np.sqrt(variance)
        weight = np.minimum(1.0, 1.345 / np.maximum(size, 1e-12)) / variance
        mean = float(np.sum(weight * d) / np.sum(weight))
    # What the readings do not tell of the axis; how square the walls were built plays no part.
    sigma_axis = float(np.sqrt(np.sum(weight**2 * sigma**2)) / np.sum(weight))
    decided = np.zeros(len(walls))
    decided[np.flatnonzero(use)[near]] = weight
    return Axes(float((guess + mean) % (np.pi / 2)), sigma_axis, decided)


def turns(walls: WallFaces, square: Square, tolerance_m: float) -> Floats:
    """The turns ``(W,)`` in radians that bring faces to the axes of their network; 0 where a face
    stays.

    A face turns where its own standard error and that of the axis, as the other faces tell it,
    cannot tell the difference (`UNTELLABLE`), or on request within the tolerance. It turns about
    the middle of what its readings support, and never so far that any part of that moves more
    than ``tolerance_m``.
    """
    result = np.zeros(len(walls))
    if square is Square.NEVER:
        return result
    for network in np.unique(walls.network):
        axes = building_axes(walls, int(network))
        if not np.isfinite(axes.sigma_rad):
            continue
        own = walls.network == network
        turn = -quarter(walls.normal_rad - axes.azimuth_rad)
        half = 0.5 * (walls.span_m[:, 1] - walls.span_m[:, 0])
        small = (np.abs(np.tan(turn)) * half <= tolerance_m) & (np.abs(turn) <= FARTHEST_RAD)
        away, sigma = axes.told_by_others(walls.normal_rad, walls.sigma_normal_rad)
        untellable = (np.abs(away) < UNTELLABLE * sigma) & np.isfinite(sigma)
        may = small if square is Square.WITHIN_TOLERANCE else small & untellable
        result[own & may] = turn[own & may]
    return result


def turned_lines(walls: WallFaces, turn_rad: Floats) -> tuple[Floats, Floats, Floats]:
    """Centres ``(W, 2)``, normals' azimuths ``(W,)`` and extents ``(W, 2)`` of the faces turned
    about the middle of their extents; the extents cover the same readings."""
    u = along(walls.normal_rad)
    middle = walls.centre_m + walls.span_m.mean(axis=1)[:, None] * u
    normal = wrap_half(walls.normal_rad + turn_rad)
    v = along(normal)
    centre = middle + np.einsum("ij,ij->i", walls.centre_m - middle, v)[:, None] * v
    ends = walls.centre_m[:, None, :] + walls.span_m[:, :, None] * u[:, None, :]
    span = np.einsum("iej,ij->ie", ends - centre[:, None, :], v)
    return centre, normal, span
