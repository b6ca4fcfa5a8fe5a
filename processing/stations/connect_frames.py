# SPDX-License-Identifier: GPL-2.0-or-later
"""Rigid motions of the plane, as arrays ``(..., 3)`` of x, y (m) and a clockwise turn (rad).

The pose of a station in a frame moves points of the station's instrument frame into that frame:
turned by the orientation, then shifted. All functions broadcast over the leading axes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..angles import Floats, turn, turn_matrix, wrap_half

turned = turn


def moved(pose: ArrayLike, points: ArrayLike) -> Floats:
    """Points ``(..., 2)`` of the moved frame in the other one."""
    motion = np.asarray(pose, dtype=float)
    return turned(points, motion[..., 2]) + motion[..., :2]


def composed(outer: ArrayLike, inner: ArrayLike) -> Floats:
    """The motion that applies `inner` first, then `outer`."""
    a, b = np.asarray(outer, dtype=float), np.asarray(inner, dtype=float)
    xy = moved(a, b[..., :2])
    angle = wrap_half(a[..., 2] + b[..., 2])
    return np.concatenate([xy, np.broadcast_to(angle, xy.shape[:-1])[..., None]], axis=-1)


def inverse(pose: ArrayLike) -> Floats:
    """The motion back."""
    motion = np.asarray(pose, dtype=float)
    xy = -turned(motion[..., :2], -motion[..., 2])
    return np.concatenate([xy, -motion[..., 2:]], axis=-1)


def between(first: ArrayLike, second: ArrayLike) -> Floats:
    """The pose of the second in the frame of the first, both given in a common frame."""
    return composed(inverse(first), second)


def apart(first: ArrayLike, second: ArrayLike) -> tuple[Floats, Floats]:
    """How far two motions differ: metres between the origins and radians, both not negative."""
    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    shift = np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1])
    return shift, np.abs(wrap_half(a[..., 2] - b[..., 2]))


def fitted(source: Floats, target: Floats, weight: Floats) -> Floats:
    """The motion (3,) that brings points ``(n, 2)``, n >= 2, onto others by weighted least squares
    (closed form of the plane: Arun, Huang and Blostein 1987 in two dimensions)."""
    share = weight / weight.sum()
    centre, goal = share @ source, share @ target
    p, q = source - centre, target - goal
    cosine = np.sum(share * np.einsum("ij,ij->i", p, q))
    sine = np.sum(share * (p[:, 1] * q[:, 0] - p[:, 0] * q[:, 1]))
    angle = np.arctan2(sine, cosine)
    return np.append(goal - turned(centre, angle), angle)


def pose_matrix(angle_rad: ArrayLike) -> Floats:
    """The matrices ``(..., 3, 3)`` by which a turn of the frame takes small changes of poses."""
    plane = turn_matrix(angle_rad)
    matrix = np.zeros((*plane.shape[:-2], 3, 3))
    matrix[..., :2, :2], matrix[..., 2, 2] = plane, 1.0
    return matrix


def turned_covariance(covariance: Floats, angle_rad: float) -> Floats:
    """The covariance ``(3n, 3n)`` of n poses when their frame is turned clockwise."""
    count = len(covariance) // 3
    turning = pose_matrix(angle_rad)
    # Block by block: a matrix for all of them would cost the cube of their number.
    blocks = covariance.reshape(count, 3, count, 3).transpose(0, 2, 1, 3)
    return (turning @ blocks @ turning.T).transpose(0, 2, 1, 3).reshape(covariance.shape)
