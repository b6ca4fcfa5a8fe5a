# SPDX-License-Identifier: GPL-2.0-or-later
"""Squaring as a statistical decision: a face turns to a building axis only where its readings
cannot tell the difference, or where a person asks for more."""

from __future__ import annotations

from enum import Enum

import numpy as np

from ..angles import Floats, along, wrap_half
from ..stations.axes import Axes, axes_of, quarter
from .model import WallFaces

UNTELLABLE = 2.576
"""A face whose direction lies within so many standard errors of an axis (99 %) cannot be told from
it: of truly square faces one in a hundred stays as measured. What is used unless a person says
otherwise."""

FARTHEST_RAD = np.radians(6.0)
"""No face turns by more: a short one would turn to anything within a tolerance."""


class Square(Enum):
    """Which faces may turn to a building axis."""

    NEVER = "never"
    WHERE_READINGS_ALLOW = "where the readings allow"
    WITHIN_TOLERANCE = "within tolerance"


def building_axes(walls: WallFaces, network: int) -> Axes:
    """The axes of one network from its long faces."""
    own = np.flatnonzero(walls.network == network)
    length = walls.span_m[own, 1] - walls.span_m[own, 0]
    axes = axes_of(walls.normal_rad[own], length, walls.sigma_normal_rad[own])
    weight = np.zeros(len(walls))
    weight[own] = axes.weight
    return Axes(axes.azimuth_rad, axes.sigma_rad, weight)


def drawn_axis(axes: Axes, untellable: float = UNTELLABLE) -> float:
    """The azimuth to which faces turn: plan north where the readings cannot tell the axes from it,
    so that a squared plan is square to its own frame."""
    aligned = np.abs(quarter(axes.azimuth_rad)) < untellable * axes.sigma_rad
    return 0.0 if aligned else axes.azimuth_rad


def turns(
    walls: WallFaces, square: Square, tolerance_m: float, untellable: float = UNTELLABLE
) -> Floats:
    """The turns ``(W,)`` in radians that bring faces to the axes of their network; 0 where a face
    stays.

    A face turns where its own standard error and that of the axis, as the other faces tell it,
    cannot tell the difference (less than ``untellable`` standard errors), or on request within the
    tolerance. It turns about the middle of what its readings support, and never so far that any
    part of that moves more than ``tolerance_m``.
    """
    result = np.zeros(len(walls))
    if square is Square.NEVER:
        return result
    for network in np.unique(walls.network):
        axes = building_axes(walls, int(network))
        if not np.isfinite(axes.sigma_rad):
            continue
        own = walls.network == network
        turn = -quarter(walls.normal_rad - drawn_axis(axes, untellable))
        half = 0.5 * (walls.span_m[:, 1] - walls.span_m[:, 0])
        small = (np.abs(np.tan(turn)) * half <= tolerance_m) & (np.abs(turn) <= FARTHEST_RAD)
        away, sigma = axes.told_by_others(walls.normal_rad, walls.sigma_normal_rad)
        alike = (np.abs(away) < untellable * sigma) & np.isfinite(sigma)
        may = small if square is Square.WITHIN_TOLERANCE else small & alike
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
