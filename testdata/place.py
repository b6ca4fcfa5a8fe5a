# SPDX-License-Identifier: GPL-2.0-or-later
"""Where the invented building stands: in the open sea, so that no real place is meant."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from building import Floats
from pygeomag import GeoMag
from pyproj import Proj, Transformer

CRS = "EPSG:32631"
LATITUDE_DEG, LONGITUDE_DEG = 55.30018, 4.60037  # of the plan's origin
ELLIPSOIDAL_HEIGHT_M = 48.0
ROTATION_DEG = 337.43  # grid azimuth of plan north
DAY = date(2026, 4, 21)
MAGNETIC_MODEL = "WMM-2025"


@dataclass(frozen=True)
class Site:
    """``E = east + k (x cos r + y sin r)``, ``N = north + k (-x sin r + y cos r)`` for plan points
    x, y in metres, k the scale and r the rotation."""

    east_m: float
    north_m: float
    scale: float
    convergence_deg: float
    declination_deg: float

    @property
    def magnetic_azimuth_of_plan_north_deg(self) -> float:
        return ROTATION_DEG + self.convergence_deg - self.declination_deg

    def grid(self, plan_xy: Floats) -> Floats:
        """Grid east and north ``(n, 2)`` of plan points ``(n, 2)``."""
        r = np.radians(ROTATION_DEG)
        x, y = plan_xy[:, 0], plan_xy[:, 1]
        return np.stack(
            [
                self.east_m + self.scale * (x * np.cos(r) + y * np.sin(r)),
                self.north_m + self.scale * (-x * np.sin(r) + y * np.cos(r)),
            ],
            axis=1,
        )

    @staticmethod
    def geographic(grid_xy: Floats) -> Floats:
        """Longitudes and latitudes ``(n, 2)`` in degrees of grid points ``(n, 2)``."""
        back = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
        return np.stack(back.transform(grid_xy[:, 0], grid_xy[:, 1]), axis=1)


def site() -> Site:
    """Grid position and convergence from PROJ, declination from the World Magnetic Model.

    The combined factor is the point scale factor times R / (R + h) with the Gaussian mean radius
    R = sqrt(M N) of the WGS 84 ellipsoid (Snyder, Map Projections: A Working Manual, 1987).
    """
    forth = Transformer.from_crs("EPSG:4326", CRS, always_xy=True)
    east, north = forth.transform(LONGITUDE_DEG, LATITUDE_DEG)
    factors = Proj(CRS).get_factors(LONGITUDE_DEG, LATITUDE_DEG)
    a, f = 6378137.0, 1 / 298.257223563
    e2 = f * (2 - f)
    radius = a * np.sqrt(1 - e2) / (1 - e2 * np.sin(np.radians(LATITUDE_DEG)) ** 2)
    year = DAY.year + (DAY.timetuple().tm_yday - 1) / 365
    field = GeoMag(coefficients_file="wmm/WMM_2025.COF").calculate(
        glat=LATITUDE_DEG, glon=LONGITUDE_DEG, alt=ELLIPSOIDAL_HEIGHT_M / 1000, time=year
    )
    # Rounded far below what the survey can tell, so that no release of PROJ changes a file.
    return Site(
        round(float(east), 3),
        round(float(north), 3),
        round(float(factors.meridional_scale * radius / (radius + ELLIPSOIDAL_HEIGHT_M)), 9),
        round(float(factors.meridian_convergence), 7),
        round(float(field.d), 5),
    )
