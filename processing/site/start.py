# SPDX-License-Identifier: GPL-2.0-or-later
"""A first rotation for the site fit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, wrap_half
from .observations import KNOWN, Observations


def start(observations: Observations, use: NDArray[np.bool_]) -> float:
    """A rotation (rad) near the solution, whatever single observations are wrong.

    Rotations all around, those of the bearings and those of the point sets are tried; the one with
    the smallest sum of log(1 + (residual / sigma)^2) wins, a cost that outliers hardly move.
    """
    positions, bearings = use[: observations.positions], use[observations.positions :]
    plan, host = observations.plan_m[positions], observations.host_m[positions]
    sigma = observations.sigma[: observations.positions][positions]
    bearing = observations.bearing_rad[bearings]
    bearing_sigma = np.hypot(
        observations.sigma[observations.positions :][bearings], observations.sigma_declination_rad
    )
    control = observations.of_kinds(KNOWN)[: observations.positions][positions]
    candidates = [np.radians(np.arange(0.0, 360.0, 5.0)), bearing]
    for chosen in (np.ones(len(plan), dtype=bool), control):
        if chosen.sum() > 1:
            candidates.append(_turn_between(plan[chosen], host[chosen], sigma[chosen]))
    rotations = np.concatenate(candidates)

    weight = sigma**-2.0 / (sigma**-2.0).sum()
    plan_centre, host_centre = weight @ plan, weight @ host
    s, c = np.sin(rotations)[:, None], np.cos(rotations)[:, None]
    x, y = (observations.scale * (plan - plan_centre)).T
    east, north = (host - host_centre).T
    off = np.hypot(east - x * c - y * s, north + x * s - y * c) / sigma
    turned_off = wrap_half(bearing - rotations[:, None]) / bearing_sigma
    cost = np.log1p(off**2).sum(axis=1) + np.log1p(turned_off**2).sum(axis=1)
    return float(rotations[int(np.argmin(cost))])


def _turn_between(plan: Floats, host: Floats, sigma: Floats) -> Floats:
    """Rotation ``(1,)`` of the best similarity between two point sets (Ghilani, Adjustment
    Computations, chapter 18)."""
    weight = sigma**-2.0 / (sigma**-2.0).sum()
    (x, y), (east, north) = (plan - weight @ plan).T, (host - weight @ host).T
    return np.atleast_1d(
        np.arctan2(weight @ (y * east - x * north), weight @ (x * east + y * north))
    )
