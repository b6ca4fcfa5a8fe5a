# SPDX-License-Identifier: GPL-2.0-or-later
"""Observations of the site fit drawn from their own error model, with the truth beside them."""

from __future__ import annotations

import numpy as np
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.site.observations import COMPASS, CONTROL, GEOTAG, Observations

EAST, NORTH, SCALE = 500_000.0, 5_300_000.0, 0.9996


def draw(
    rng: np.random.Generator,
    geotags: int = 6,
    controls: int = 0,
    bearings: int = 6,
    *,
    size_m: float = 30.0,
    geotag_sigma_m: float = 5.0,
    control_sigma_m: float = 0.01,
    bearing_sigma_deg: float = 3.0,
    sigma_declination_deg: float = 0.4,
    sigma_datum_m: float = 1.0,
    station_sigma_m: float = 0.02,
    orientation_sigma_deg: float = 0.05,
) -> tuple[Observations, np.ndarray]:
    """Observations and the true east, north, rotation ``(3,)``.

    Stations (the geotagged ones first, all with a bearing) have a full random covariance, so that
    positions and orientations are correlated as in an adjusted network; control targets have
    their own. Every error of the model is drawn: stations, targets, geotags, bearings, the
    declination's, the datum's.
    """
    stations = max(geotags, bearings)
    true = np.array([EAST, NORTH, rng.uniform(-np.pi, np.pi)])
    plan = rng.uniform(-size_m / 2, size_m / 2, (stations + controls, 2))

    def host(xy):
        return true[:2] + SCALE * turn(xy, true[2])

    root = np.tril(rng.normal(size=(3 * stations, 3 * stations))) / np.sqrt(3 * stations)
    sizes = np.tile([station_sigma_m] * 2 + [np.radians(orientation_sigma_deg)], stations)
    root *= sizes[:, None]
    error = root @ rng.normal(size=3 * stations)
    target_root = 0.004 * np.tril(rng.uniform(0.3, 1.0, (controls, 2, 2)))
    target_error = np.einsum("kij,kj->ki", target_root, rng.normal(size=(controls, 2)))

    seen = plan.copy()
    seen[:stations] += error.reshape(-1, 3)[:, :2]
    seen[stations:] += target_error
    tagged, known = np.arange(geotags), stations + np.arange(controls)
    sigma_geotag = geotag_sigma_m * rng.uniform(0.5, 1.5, geotags)
    sigma_bearing = np.radians(bearing_sigma_deg) * rng.uniform(0.5, 1.5, bearings)
    datum = rng.normal(size=2) * sigma_datum_m
    geotag = host(plan[tagged]) + datum + sigma_geotag[:, None] * rng.normal(size=(geotags, 2))
    control = host(plan[known]) + control_sigma_m * rng.normal(size=(controls, 2))
    shared = rng.normal() * np.radians(sigma_declination_deg)
    # bearing = compass azimuth - orientation: the orientation's error comes in with a minus.
    bearing = true[2] + shared + sigma_bearing * rng.normal(size=bearings)
    bearing -= error.reshape(-1, 3)[:bearings, 2]

    rows = np.array(
        [3 * i + j for i in range(geotags) for j in (0, 1)] + [3 * i + 2 for i in range(bearings)],
        dtype=int,
    )
    whole = root @ root.T
    size = len(rows) + 2 * controls
    covariance = np.zeros((size, size))
    own = np.r_[np.arange(2 * geotags), np.arange(2 * (geotags + controls), size)].astype(int)
    covariance[np.ix_(own, own)] = whole[np.ix_(rows, rows)]
    for k in range(controls):
        block = slice(2 * (geotags + k), 2 * (geotags + k) + 2)
        covariance[block, block] = target_root[k] @ target_root[k].T
    observations = Observations(
        kind=(GEOTAG,) * geotags + (CONTROL,) * controls + (COMPASS,) * bearings,
        name=tuple(f"{i:02d}" for i in range(geotags + controls + bearings)),
        plan_m=np.concatenate([seen[tagged], seen[known]]),
        host_m=np.concatenate([geotag, control]),
        bearing_rad=wrap_half(bearing),
        sigma=np.concatenate([sigma_geotag, np.full(controls, control_sigma_m), sigma_bearing]),
        plan_covariance=covariance,
        scale=SCALE,
        sigma_declination_rad=np.radians(sigma_declination_deg),
        sigma_datum_m=sigma_datum_m if geotags else 0.0,
    )
    return observations, true
