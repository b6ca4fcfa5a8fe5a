# SPDX-License-Identifier: GPL-2.0-or-later
"""Networks of known poses, and wall faces with known errors, for tests."""

from __future__ import annotations

import numpy as np
from roomtie.processing.angles import along, azimuth_of
from roomtie.processing.stations.model import (
    Network,
    NetworkStatistics,
    Status,
    Targets,
    Ties,
)
from roomtie.processing.walls.curve_model import no_curves
from roomtie.processing.walls.model import WallFaces

NO_INTS = np.empty(0, dtype=np.int64)
NONE = np.empty(0)


def network_of(names, xy, orientation_rad, covariance=None, network=None):
    """An adjusted network without ties: its poses and covariance are all that walls need."""
    count = len(names)
    return Network(
        station=tuple(names),
        xy_m=np.asarray(xy, dtype=float),
        orientation_rad=np.asarray(orientation_rad, dtype=float),
        covariance=np.zeros((3 * count, 3 * count)) if covariance is None else covariance,
        network=np.ones(count, dtype=np.int64) if network is None else np.asarray(network),
        status=(Status.ADJUSTED,) * count,
        ties=Ties((), (), NO_INTS, NO_INTS, NO_INTS, NONE, NONE, NONE, NONE, NONE.astype(bool), ()),
        targets=Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), NO_INTS, NO_INTS),
        statistics=NetworkStatistics(1.0, 0, 0.0, 0.0, 0.0, 0, 0),
    )


def walls_of(
    ends, *, sigma_normal_rad=1e-4, sigma_offset_m=1e-4, readings=100, network=None, level=None
):
    """Measured faces from start to end points ``(W, 2, 2)``, the free side on the right, each with
    readings of its own."""
    ends = np.asarray(ends, dtype=float).reshape(-1, 2, 2)
    count = len(ends)
    run = ends[:, 1] - ends[:, 0]
    half = 0.5 * np.hypot(*run.T)
    normal = azimuth_of(run) + np.pi / 2
    centre = ends.mean(axis=1)
    np.testing.assert_allclose(along(normal) * 2 * half[:, None], run, atol=1e-9)
    return WallFaces(
        wall=tuple(f"W{k + 1:03d}" for k in range(count)),
        plot_scale=0,
        level=np.zeros(count, dtype=np.int64) if level is None else np.asarray(level),
        network=np.ones(count, dtype=np.int64) if network is None else np.asarray(network),
        centre_m=centre,
        normal_rad=normal,
        sigma_normal_rad=np.broadcast_to(np.asarray(sigma_normal_rad, dtype=float), count).copy(),
        sigma_offset_m=np.broadcast_to(np.asarray(sigma_offset_m, dtype=float), count).copy(),
        span_m=np.stack([-half, half], axis=-1),
        drawn_m=ends,
        readings=np.full(count, readings, dtype=np.int64),
        stations=(("A",),) * count,
        rms_m=np.full(count, 0.002),
        largest_residual_m=np.full(count, 0.006),
        squared_by_rad=np.zeros(count),
        wall_of_reading=(np.repeat(np.arange(count), readings),),
        residual_of_reading_m=(np.zeros(count * readings),),
        curves=no_curves(count),
    )
