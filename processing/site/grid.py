# SPDX-License-Identifier: GPL-2.0-or-later
"""What a map projection does to directions and lengths at a place."""

from __future__ import annotations

import math
import warnings as python_warnings
from dataclasses import dataclass

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from ..angles import Floats, wrap_half
from ..errors import SurveyError
from .target_crs import (
    GEOGRAPHIC,
    around,
    bare,
    east_north_counterpart,
    geodetic_part,
    horizontal,
    in_area,
    utm_for,
)

__all__ = ["GridPlace", "geographic_to", "grid_at", "grid_north_rad", "utm_for"]

STEP_M = 100.0
"""Half of the step of the differences: truncation (step / R)^2 / 6 and the rounding of
coordinates of 1e7 m are both under 1e-10 then."""

CONFORMAL = 1e-5
"""Meridional and parallel scale may differ by this; a millimetre in 100 m."""


@dataclass(frozen=True)
class Datum:
    """The transformation from WGS 84 longitude, latitude to the target and its accuracy in metres
    (0 where the register says that it is exact, 5 m assumed where it is unknown); `told` names it
    with the accuracy that PROJ states."""

    transformer: Transformer
    accuracy_m: float
    warnings: tuple[str, ...]
    told: str


@dataclass(frozen=True)
class GridPlace:
    """The projection of `crs` (projected, two axes) at WGS 84 degrees `longitude_deg`,
    `latitude_deg` and ellipsoidal height `height_m`.

    `unit_m` is the unit of the axes in metres. `convergence_rad` is the azimuth of grid north seen
    from true north, clockwise positive; `true_north_rad` is the azimuth of true north in host x, y
    (clockwise from +y), equal to minus the convergence where the axes run east and north and off
    by 90 or 180 degrees where they do not. `meridional_scale` and `parallel_scale` are grid over
    ellipsoid lengths, `point_scale` their geometric mean; `radius_m` is the Gaussian mean radius
    sqrt(M N) at the latitude and `scale` = point_scale x R / (R + h), the combined factor from
    ground to grid.
    """

    crs: CRS
    longitude_deg: float
    latitude_deg: float
    height_m: float
    unit_m: float
    convergence_rad: float
    true_north_rad: float
    meridional_scale: float
    parallel_scale: float
    point_scale: float
    radius_m: float
    scale: float
    warnings: tuple[str, ...] = ()


def geographic_to(crs: CRS, longitude_deg: float, latitude_deg: float) -> Datum:
    """The best transformation at hand from WGS 84 longitude, latitude to host x, y near a place.

    PROJ orders the candidates by area and accuracy; the first that it can run is taken. Raises
    SurveyError where there is none.
    """
    area = around(longitude_deg, latitude_deg)
    try:
        with python_warnings.catch_warnings():
            python_warnings.simplefilter("ignore")
            group = TransformerGroup(GEOGRAPHIC, crs, always_xy=True, area_of_interest=area)
    except ProjError as error:
        raise SurveyError(
            f"{crs.name}: no transformation from WGS 84 longitude and latitude ({error}); expected "
            "a projected CRS tied to the earth."
        ) from error
    if not group.transformers:
        raise SurveyError(
            f"{crs.name}: no transformation from WGS 84 longitude and latitude is at hand here."
        )
    chosen = group.transformers[0]
    notes = []
    if "ballpark" in chosen.description.lower():
        notes.append(
            f"{crs.name}: only an approximate change of datum is at hand here; geotags may be off "
            "by a hundred metres, so use control points."
        )
    elif not group.best_available:
        notes.append(
            f"{crs.name}: a change of datum of accuracy {chosen.accuracy:g} m is used for the "
            f"geotags; {_better(group, chosen.accuracy)}."
        )
    accuracy = 100.0 if "ballpark" in chosen.description.lower() else chosen.accuracy
    stated = f"accuracy {chosen.accuracy:g} m" if chosen.accuracy >= 0 else "accuracy not known"
    steps = [s for s in chosen.description.split(" + ") if not s.startswith("axis order change")]
    told = f"{' + '.join(steps)}; {stated} as PROJ states it"
    return Datum(chosen, accuracy if accuracy >= 0 else 5.0, tuple(notes), told)


def _better(group: TransformerGroup, accuracy_m: float) -> str:
    """The operation that would do better, and the grid files that it lacks."""
    lacking = [
        operation
        for operation in group.unavailable_operations
        if any(not grid.available for grid in operation.grids)
    ]
    lacking.sort(key=lambda operation: operation.accuracy if operation.accuracy >= 0 else np.inf)
    if not lacking:
        return "PROJ knows a better one, which it cannot run here"
    best = lacking[0]
    grids = " and ".join(grid.short_name for grid in best.grids if not grid.available)
    worth = f"of accuracy {best.accuracy:g} m, " if 0 <= best.accuracy < accuracy_m else ""
    return (
        f"a better one, {worth}needs the grid file {grids}, which PROJ does not have here "
        f"({best.name.split(' + ')[0]})"
    )


def grid_at(
    target: CRS | str, longitude_deg: float, latitude_deg: float, height_m: float
) -> GridPlace:
    """Convergence, scale and the direction of true north of a target CRS at a place.

    The derivatives of the projection along the meridian and along the parallel are taken from
    symmetric steps of 100 m on the CRS's own ellipsoid (Snyder, Map Projections - A Working Manual,
    USGS Professional Paper 1395, chapter 4: h and k; PROJ's ``proj_factors`` gives the same
    figures, but knows nothing of the axes). The radius is the Gaussian mean radius and the
    combined factor k R / (R + h) as in Ghilani, Elementary Surveying, section 19 (grid and
    elevation factor).

    Raises SurveyError for a CRS that is unknown, geographic, geocentric, vertical, mirrored or not
    conformal (meridional and parallel scale differ by more than 1e-5: no single scale and
    rotation would fit), and for a place where the projection is not defined; the sentence proposes
    what to choose instead.
    """
    crs, notes = horizontal(target, longitude_deg, latitude_deg)
    projected = bare(crs)
    units = {axis.unit_conversion_factor for axis in projected.axis_info}
    if len(units) != 1:
        raise SurveyError(f"{crs.name}: its axes have different units; expected one unit.")
    unit_m = units.pop()

    geodetic = geodetic_part(projected)
    a, e2 = _ellipsoid(geodetic)
    longitude, latitude = _own_geographic(geodetic, longitude_deg, latitude_deg)
    to_radians = geodetic.axis_info[0].unit_conversion_factor
    meridian_m, prime_vertical_m = _radii(a, e2, latitude * to_radians)
    d_lat = STEP_M / meridian_m / to_radians
    d_lon = STEP_M / (prime_vertical_m * math.cos(latitude * to_radians)) / to_radians
    longitudes = longitude + np.array([0.0, 0.0, 0.0, d_lon, -d_lon])
    latitudes = latitude + np.array([0.0, d_lat, -d_lat, 0.0, 0.0])
    forward = Transformer.from_crs(geodetic, projected, always_xy=True)
    xy = np.stack(forward.transform(longitudes, latitudes), axis=-1) * unit_m
    if not np.isfinite(xy).all():
        raise SurveyError(
            f"{crs.name} is not defined at longitude {longitude_deg:.5f}, latitude "
            f"{latitude_deg:.5f}; {_proposal(longitude_deg, latitude_deg)}."
        )
    north, east = (xy[1] - xy[2]) / (2 * STEP_M), (xy[3] - xy[4]) / (2 * STEP_M)
    meridional, parallel = float(np.hypot(*north)), float(np.hypot(*east))
    _check(crs, north, east, (longitude_deg, latitude_deg))

    point_scale = math.sqrt(meridional * parallel)
    true_north = math.atan2(north[0], north[1])
    radius = math.sqrt(meridian_m * prime_vertical_m)
    return GridPlace(
        crs=crs,
        longitude_deg=longitude_deg,
        latitude_deg=latitude_deg,
        height_m=height_m,
        unit_m=unit_m,
        convergence_rad=float(wrap_half(grid_north_rad(projected) - true_north)),
        true_north_rad=true_north,
        meridional_scale=meridional,
        parallel_scale=parallel,
        point_scale=point_scale,
        radius_m=radius,
        scale=point_scale * radius / (radius + height_m),
        warnings=notes + _outside(crs, longitude_deg, latitude_deg),
    )


def _check(crs: CRS, north: Floats, east: Floats, place: tuple[float, float]) -> None:
    if east[0] * north[1] - east[1] * north[0] < 0:
        counterpart = east_north_counterpart(crs, *place)
        proposal = f"use {counterpart}" if counterpart else _proposal(*place)
        raise SurveyError(
            f"{crs.name} has left-handed axes (a plan would be mirrored in the map); {proposal}."
        )
    meridional, parallel = float(np.hypot(*north)), float(np.hypot(*east))
    skew = abs(float(north @ east)) / (meridional * parallel)
    if abs(meridional - parallel) > CONFORMAL * parallel or skew > CONFORMAL:
        raise SurveyError(
            f"{crs.name} is not conformal here: its scale is {meridional:.6f} along the meridian "
            f"and {parallel:.6f} along the parallel, so that a plan would be distorted; "
            f"{_proposal(*place)}."
        )


def _proposal(longitude_deg: float, latitude_deg: float) -> str:
    utm = utm_for(longitude_deg, latitude_deg)
    return f"use a conformal CRS of the place, for instance {utm.to_string()} ({utm.name})"


def grid_north_rad(projected: CRS) -> float:
    """Azimuth in host x, y of the axis that the projection calls north: 0 for east, north axes.

    The axes' names tell (west, south: half a turn; south, west: mirrored, refused elsewhere). For
    polar grids, whose axes run along meridians, it is 0: grid north is +y there.
    """
    directions = [axis.direction.lower() for axis in projected.axis_info[:2]]
    vectors = {"north": (0, 1), "south": (0, -1), "east": (1, 0), "west": (-1, 0)}
    if sorted(d in ("north", "south") for d in directions) != [False, True]:
        return 0.0
    if not all(d in vectors for d in directions):
        return 0.0
    # The host's x, y: as listed, except that north, east is shown as east, north.
    x, y = directions if directions != ["north", "east"] else ("east", "north")
    north = [1.0 if d == "north" else -1.0 if d == "south" else 0.0 for d in (x, y)]
    return math.atan2(north[0], north[1])


def _ellipsoid(geodetic: CRS) -> tuple[float, float]:
    """Semi-major axis (m) and squared eccentricity; a sphere has no inverse flattening."""
    ellipsoid = geodetic.ellipsoid
    if ellipsoid is None:
        raise SurveyError(f"{geodetic.name}: its ellipsoid is unknown; expected a CRS with one.")
    inverse = ellipsoid.inverse_flattening
    flattening = 1 / inverse if inverse else 0.0
    return float(ellipsoid.semi_major_metre), flattening * (2 - flattening)


def _radii(a: float, e2: float, latitude_rad: float) -> tuple[float, float]:
    """Radii of curvature in the meridian and in the prime vertical (Snyder, eqs. 4-18, 4-20)."""
    w2 = 1 - e2 * math.sin(latitude_rad) ** 2
    return a * (1 - e2) / w2**1.5, a / math.sqrt(w2)


def _own_geographic(
    geodetic: CRS, longitude_deg: float, latitude_deg: float
) -> tuple[float, float]:
    """The place in the target's own geographic CRS, in that CRS's unit and from its meridian."""
    try:
        change = geographic_to(geodetic, longitude_deg, latitude_deg).transformer
        longitude, latitude = change.transform(longitude_deg, latitude_deg)
    except (CRSError, ProjError) as error:
        raise SurveyError(f"{geodetic.name}: no transformation from WGS 84 ({error}).") from error
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise SurveyError(
            f"{geodetic.name} is not defined at longitude {longitude_deg:.5f}, latitude "
            f"{latitude_deg:.5f}."
        )
    return longitude, latitude


def _outside(crs: CRS, longitude_deg: float, latitude_deg: float) -> tuple[str, ...]:
    if in_area(crs, longitude_deg, latitude_deg):
        return ()
    name = crs.area_of_use.name.split(".")[0]
    return (
        f"The place (longitude {longitude_deg:.5f}, latitude {latitude_deg:.5f}) lies outside the "
        f"area that {crs.name} is made for ({name}).",
    )
