# SPDX-License-Identifier: GPL-2.0-or-later
"""Where a plan lies on the earth: the fit and the evidence behind it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from ..angles import Floats

NAN = float("nan")


@dataclass(frozen=True)
class Evidence:
    """One observation of the fit and what became of it.

    `kind` is ``geotag``, ``compass``, ``control`` or ``footprint``; `name` the station or target
    (for a footprint, which end of its line). The residual is in metres (east, north) for positions
    and in radians for bearings, NaN where it does not apply.
    """

    kind: str
    name: str
    residual_east_m: float
    residual_north_m: float
    residual_rad: float
    standardised: float
    used: bool
    reason: str


@dataclass(frozen=True)
class North:
    """The parts of the rotation: declination (magnetic north east of true north, positive) with
    its own standard error, model and date; convergence (grid north seen from true north, clockwise
    positive), both in radians. Declination is NaN without a compass.

    The place that both hold for: WGS 84 degrees and metres above the ellipsoid; there the model's
    horizontal intensity in nT."""

    declination_rad: float
    sigma_declination_rad: float
    model: str
    on: date | None
    convergence_rad: float
    longitude_deg: float = NAN
    latitude_deg: float = NAN
    height_m: float = NAN
    horizontal_nt: float = NAN


@dataclass(frozen=True)
class Bearing:
    """One station's compass bearing on its way to plan north: the magnetic azimuth of the
    instrument's zero direction as read, with its standard error (both radians), whether the compass
    was `calibrated` (None: not stated), and the adjusted plan azimuth of the zero direction.

    `off_rad` is how far it turns the plan from where all other evidence does, `standardised` the
    test of that (both NaN where nothing checks it); `used` and `reason` as in `Evidence`.
    """

    station: str
    magnetic_azimuth_rad: float
    sigma_rad: float
    calibrated: bool | None
    orientation_rad: float
    off_rad: float = NAN
    standardised: float = NAN
    used: bool = True
    reason: str = ""


@dataclass(frozen=True, eq=False)
class SiteFit:
    """East and north of the plan's origin, rotation and scale of one connected group.

    A plan point (x, y) lies at ``E = east_m + k (x cos r + y sin r)``,
    ``N = north_m + k (-x sin r + y cos r)`` with r = `rotation_rad` (grid azimuth of plan +y) and
    k = `scale` (point scale factor x R / (R + h)), east and north in metres along the host's x and
    y axes; `unit_m` is the target CRS's unit in metres (host x = E / unit_m).
    `covariance (3, 3)` is of (east m, north m, rotation rad), to the second order of the rotation
    (`accuracy.second_order`). `bearings` are the compass bearings in the order of the stations,
    `datum` names the transformation from WGS 84 that geotags went through and the accuracy that
    PROJ states for it (empty without geotags).
    """

    network: int
    target_crs: str
    unit_m: float
    east_m: float
    north_m: float
    rotation_rad: float
    scale: float
    covariance: Floats
    north: North
    evidence: tuple[Evidence, ...]
    decides_position: str
    decides_rotation: str
    warnings: tuple[str, ...] = ()
    bearings: tuple[Bearing, ...] = ()
    datum: str = ""

    def to_target(self, xy_m: Floats) -> Floats:
        """Plan points ``(..., 2)`` as host x, y ``(..., 2)`` in the unit of the target CRS."""
        s, c = np.sin(self.rotation_rad), np.cos(self.rotation_rad)
        x, y = np.asarray(xy_m, dtype=float)[..., 0], np.asarray(xy_m, dtype=float)[..., 1]
        east = self.east_m + self.scale * (x * c + y * s)
        north = self.north_m + self.scale * (-x * s + y * c)
        return np.stack([east, north], axis=-1) / self.unit_m

    def to_plan(self, host_xy: Floats) -> Floats:
        """Host x, y ``(..., 2)`` in the unit of the target CRS as plan points ``(..., 2)``; the
        inverse of `to_target`."""
        s, c = np.sin(self.rotation_rad), np.cos(self.rotation_rad)
        host = np.asarray(host_xy, dtype=float) * self.unit_m
        east = (host[..., 0] - self.east_m) / self.scale
        north = (host[..., 1] - self.north_m) / self.scale
        return np.stack([east * c - north * s, east * s + north * c], axis=-1)
