# SPDX-License-Identifier: GPL-2.0-or-later
"""Azimuths and directions: the few formulas that every stage needs.

Azimuths run clockwise from +y, as in surveying, so that the unit vector of azimuth ``a`` is
``(sin a, cos a)``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def sine_cosine(angle_rad: ArrayLike) -> tuple[Floats, Floats]:
    """Sines and cosines ``(...)`` of angles ``(...)`` in radians: the same for the same angles,
    wherever they lie in memory.

    numpy has two implementations of these functions, which differ in the last bit of some results,
    and chooses by whether input and output might overlap. Of a column of a larger array it cannot
    tell exactly, so that the choice hangs on what else lies in memory: hence the copy.
    """
    angle = np.asarray(angle_rad, dtype=float, order="C")
    return np.sin(angle), np.cos(angle)


def bearing(dx: ArrayLike, dy: ArrayLike) -> Floats:
    """Azimuths ``(...)`` in radians, -pi to pi, of what lies at ``dx, dy`` (each ``(...)``); the
    same wherever these lie in memory (see `sine_cosine`)."""
    x, y = np.asarray(dx, dtype=float, order="C"), np.asarray(dy, dtype=float, order="C")
    return np.arctan2(x, y)


def unit(azimuth_rad: ArrayLike) -> Floats:
    """Unit vectors ``(..., 2)`` of azimuths ``(...)`` in radians."""
    return np.stack(sine_cosine(azimuth_rad), axis=-1)


def along(normal_rad: ArrayLike) -> Floats:
    """Unit vectors ``(..., 2)`` along faces whose normals have these azimuths: the normal turned 90
    degrees counterclockwise. The free side lies to the right, and an instrument that turns
    clockwise on the free side runs along the face in this direction."""
    return unit(np.asarray(normal_rad, dtype=float) - np.pi / 2)


def azimuth_of(vector: ArrayLike) -> Floats:
    """Azimuths ``(...)`` in radians, -pi to pi, of vectors ``(..., 2)``."""
    v = np.asarray(vector, dtype=float)
    return bearing(v[..., 0], v[..., 1])


def turn(points: ArrayLike, angle_rad: ArrayLike) -> Floats:
    """Points ``(..., 2)`` turned clockwise about the origin by angles ``(...)`` in radians."""
    p = np.asarray(points, dtype=float)
    s, c = sine_cosine(angle_rad)
    return np.stack([p[..., 0] * c + p[..., 1] * s, -p[..., 0] * s + p[..., 1] * c], axis=-1)


def turn_matrix(angle_rad: ArrayLike) -> Floats:
    """The matrices ``(..., 2, 2)`` by which `turn` takes a point."""
    s, c = sine_cosine(angle_rad)
    return np.stack([np.stack([c, s], axis=-1), np.stack([-s, c], axis=-1)], axis=-2)


def wrap_half(angle_rad: ArrayLike) -> Floats:
    """Angles brought into [-pi, pi)."""
    return (np.asarray(angle_rad, dtype=float) + np.pi) % (2 * np.pi) - np.pi


def wrap_half_deg(angle_deg: ArrayLike) -> Floats:
    """Angles in degrees brought into [-180, 180)."""
    return (np.asarray(angle_deg, dtype=float) + 180.0) % 360.0 - 180.0


def wrap_full_deg(angle_deg: ArrayLike) -> Floats:
    """Angles in degrees brought into [0, 360)."""
    return np.asarray(angle_deg, dtype=float) % 360.0
