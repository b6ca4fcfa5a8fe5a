# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys with a known place on the earth, for the tests of the site stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from pyproj import CRS
from roomtie.processing.angles import turn
from roomtie.processing.captures.model import Capture, Survey
from roomtie.processing.site.declination import magnetic_field
from roomtie.processing.site.grid import geographic_to, grid_at
from roomtie.processing.stations.model import Network, NetworkStatistics, Status, Targets, Ties

WHEN = datetime(2026, 3, 18, 10, 0)


def capture(station: str, **header) -> Capture:
    """A capture without readings: the site stage reads headers only."""
    none = np.empty(0)
    whole = np.empty(0, dtype=np.int64)
    return Capture(
        station=station,
        capture_file=f"{station}.csv",
        seq=whole,
        angle_deg=none,
        zenith_deg=none,
        slope_distance_m=none,
        distance_m=none,
        kind=whole,
        target=np.empty(0, dtype=np.str_),
        intensity=none,
        flag=whole,
        line=whole,
        **header,
    )


def no_ties() -> Ties:
    none, whole = np.empty(0), np.empty(0, dtype=np.int64)
    return Ties((), (), whole, whole, whole, none, none, none, none, whole.astype(bool), ())


@dataclass(frozen=True, eq=False)
class Truth:
    """A network of `n` stations whose plan origin lies at a place, turned by a grid azimuth."""

    crs: CRS
    lonlat: tuple[float, float]
    rotation_rad: float
    scale: float
    origin_m: np.ndarray
    unit_m: float
    plan_m: np.ndarray
    orientation_rad: np.ndarray

    def host_m(self, xy):
        return self.origin_m + self.scale * turn(xy, self.rotation_rad)


def truth(
    crs="EPSG:32632", lonlat=(9.6, 48.2), rotation_deg=23.0, stations=5, size_m=30.0, height_m=300.0
) -> Truth:
    rng = np.random.default_rng(7)
    target = CRS.from_user_input(crs)
    place = grid_at(target, *lonlat, height_m)
    to_host = geographic_to(place.crs, *lonlat).transformer
    plan = rng.uniform(-size_m / 2, size_m / 2, (stations, 2))
    plan[0] = 0.0
    return Truth(
        place.crs,
        lonlat,
        np.radians(rotation_deg),
        place.scale,
        np.array(to_host.transform(*lonlat)) * place.unit_m,
        place.unit_m,
        plan,
        rng.uniform(-np.pi, np.pi, stations),
    )


def survey_of(
    true: Truth,
    *,
    geotag_errors=None,
    compass_errors_deg=None,
    geotag_sigma_m=5.0,
    compass_sigma_deg=3.0,
    declination_error_rad=0.0,
    height_m=300.0,
    when=WHEN,
    header=None,
) -> Survey:
    """Captures with geotags (errors in metres east, north; None: no geotag) and compass bearings
    (errors in degrees; None: no compass; a NaN in either: none for that station)."""
    to_host = geographic_to(true.crs, *true.lonlat).transformer
    place = grid_at(true.crs, *true.lonlat, height_m)
    field = magnetic_field(*true.lonlat, height_m, WHEN.date())
    captures = []
    for i, (xy, orientation) in enumerate(zip(true.plan_m, true.orientation_rad)):
        values = {"captured_at": when, "ellipsoidal_height_m": height_m}
        if geotag_errors is not None and np.isfinite(geotag_errors[i]).all():
            at = (true.host_m(xy) + geotag_errors[i]) / true.unit_m
            longitude, latitude = to_host.transform(*at, direction="INVERSE")
            values.update(
                longitude_deg=longitude, latitude_deg=latitude, geotag_sigma_m=geotag_sigma_m
            )
        if compass_errors_deg is not None and np.isfinite(compass_errors_deg[i]):
            azimuth = orientation + true.rotation_rad - place.true_north_rad
            azimuth -= field.declination_rad + declination_error_rad
            values.update(
                magnetic_azimuth_deg=(np.degrees(azimuth) + compass_errors_deg[i]) % 360,
                magnetic_azimuth_sigma_deg=compass_sigma_deg,
            )
        values.update((header or {}).get(i, {}))
        captures.append(capture(f"S{i + 1:02d}", **values))
    return Survey(tuple(captures))


def network_of(
    true: Truth,
    *,
    covariance=None,
    network=None,
    status=None,
    targets=None,
    target_sigma_m=0.003,
    xy_m=None,
    orientation_rad=None,
) -> Network:
    """The network of the truth; `targets` are true plan points by name."""
    count = len(true.plan_m)
    targets = targets or {}
    names = tuple(targets)
    network = np.ones(count, dtype=np.int64) if network is None else np.asarray(network)
    return Network(
        station=tuple(f"S{i + 1:02d}" for i in range(count)),
        xy_m=true.plan_m if xy_m is None else xy_m,
        orientation_rad=true.orientation_rad if orientation_rad is None else orientation_rad,
        covariance=np.zeros((3 * count, 3 * count)) if covariance is None else covariance,
        network=network,
        status=(Status.ADJUSTED,) * count if status is None else status,
        ties=no_ties(),
        targets=Targets(
            names,
            np.array([targets[n] for n in names], dtype=float).reshape(-1, 2),
            np.tile(np.eye(2) * target_sigma_m**2, (len(names), 1, 1)),
            np.full(len(names), 2),
            np.ones(len(names), dtype=np.int64),
        ),
        statistics=NetworkStatistics(1.0, 0, 0.0, 0.0, 0.0, 0, 0),
    )
