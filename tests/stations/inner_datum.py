# SPDX-License-Identifier: GPL-2.0-or-later
"""The datum in which errors of simulated networks are told: the mean of all positions and their
turn about it are held (inner constraints: Ghilani, *Adjustment Computations*, 5th ed., sec. 16.7).

An error and what is stated for it can only be compared in one datum. That of a network may be
another: a held station, or of a plan that grew the stations that were there before.
"""

from __future__ import annotations

import numpy as np


def motions(xy) -> np.ndarray:
    """How poses (x, y, orientation) at ``xy (m, 2)`` follow a shift east, a shift north and a
    clockwise turn about their mean: ``(3m, 3)``."""
    away = xy - xy.mean(axis=0)
    follow = np.tile(np.eye(3), (len(xy), 1, 1))
    follow[:, 0, 2], follow[:, 1, 2] = away[:, 1], -away[:, 0]
    return follow.reshape(-1, 3)


def holding(xy) -> np.ndarray:
    """The constraints ``(3m, 3)``, whose products with small errors of the poses are nought: those
    rows of the motions that are of positions."""
    held = motions(xy)
    held[2::3] = 0.0
    return held


def about_all(covariance, xy) -> np.ndarray:
    """The covariance ``(3m, 3m)`` of poses at ``xy (m, 2)`` in this datum, from that in any other
    (S-transformation: Baarda, *S-transformations and criterion matrices*, 1973)."""
    follow, held = motions(xy), holding(xy)
    change = np.eye(len(follow)) - follow @ np.linalg.solve(held.T @ follow, held.T)
    return change @ covariance @ change.T
