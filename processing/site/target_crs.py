# SPDX-License-Identifier: GPL-2.0-or-later
"""Which CRS a plan can be put into, and what to propose instead of one that does not do."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from pyproj import CRS, Transformer
from pyproj.aoi import AreaOfInterest, AreaOfUse
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from pyproj.exceptions import CRSError, ProjError

from ..angles import wrap_half_deg
from ..captures.model import Capture
from ..errors import SurveyError

GEOGRAPHIC = CRS.from_epsg(4326)
AREA_DEG = 0.01


def utm_for(longitude_deg: float, latitude_deg: float) -> CRS:
    """The UTM zone of a place on WGS 84 (EPSG 32601-32660, 32701-32760).

    Zones are 6 degrees wide from 180 degrees west, with the exceptions of south-western Norway
    (32V) and Svalbard (31X-37X) (NGA.SIG.0012, The Universal Grids, from memory). Beyond 84 degrees
    north and 80 degrees south it is the Universal Polar Stereographic grid (EPSG 5041, 5042).
    """
    if not (math.isfinite(longitude_deg) and abs(latitude_deg) <= 90):
        raise SurveyError(
            f"Longitude {longitude_deg:g}, latitude {latitude_deg:g} is not a place on the earth; "
            "expected degrees."
        )
    if latitude_deg >= 84:
        return CRS.from_epsg(5041)
    if latitude_deg < -80:
        return CRS.from_epsg(5042)
    longitude = (longitude_deg + 180) % 360 - 180
    zone = int((longitude + 180) // 6) + 1
    if 56 <= latitude_deg < 64 and 3 <= longitude < 12:
        zone = 32
    elif latitude_deg >= 72 and 0 <= longitude < 42:
        zone = 31 if longitude < 9 else 33 if longitude < 21 else 35 if longitude < 33 else 37
    return CRS.from_epsg((32600 if latitude_deg >= 0 else 32700) + zone)


def middle_of_geotags(captures: Sequence[Capture]) -> tuple[float, float] | None:
    """Median longitude and latitude (deg) of the geotags, on both sides of the antimeridian; None
    without one. One absurd geotag does not move it."""
    tagged = [capture for capture in captures if capture.has_geotag]
    if not tagged:
        return None
    first = tagged[0].longitude_deg
    east = wrap_half_deg([capture.longitude_deg - first for capture in tagged])
    longitude = float(wrap_half_deg(first + np.median(east)))
    return longitude, float(np.median([capture.latitude_deg for capture in tagged]))


def middle_of_area(crs: CRS) -> tuple[float, float]:
    """Longitude and latitude (deg) of the middle of the area that a CRS is made for, which may lie
    on both sides of the antimeridian; 0, 0 where it names none."""
    area = crs.area_of_use
    if area is None:
        return 0.0, 0.0
    return float(wrap_half_deg(area.west + _width(area) / 2)), (area.south + area.north) / 2


def in_area(crs: CRS, longitude_deg: float, latitude_deg: float, margin_deg: float = 0.0) -> bool:
    """Whether a place lies in the area that a CRS is made for, or no further outside than a margin;
    true where it names none."""
    area = crs.area_of_use
    if area is None:
        return True
    from_west = (longitude_deg - area.west + margin_deg) % 360.0
    return bool(
        from_west <= _width(area) + 2 * margin_deg
        and area.south - margin_deg <= latitude_deg <= area.north + margin_deg
    )


def _width(area: AreaOfUse) -> float:
    """Degrees of longitude from west to east, which may lie on both sides of the antimeridian."""
    return area.east - area.west if area.east > area.west else area.east - area.west + 360.0


def around(longitude_deg: float, latitude_deg: float) -> AreaOfInterest:
    """The area about a place by which PROJ chooses among changes of datum."""
    return AreaOfInterest(
        max(longitude_deg - AREA_DEG, -180.0),
        max(latitude_deg - AREA_DEG, -90.0),
        min(longitude_deg + AREA_DEG, 180.0),
        min(latitude_deg + AREA_DEG, 90.0),
    )


def bare(crs: CRS) -> CRS:
    """The CRS itself, without the change of datum that a bound CRS carries."""
    return crs.source_crs if crs.is_bound and crs.source_crs is not None else crs


def geodetic_part(crs: CRS) -> CRS:
    """The geographic CRS that a projected one is made from; SurveyError when it has none."""
    geodetic = crs.geodetic_crs
    if geodetic is None:
        raise SurveyError(f"{crs.name} is not tied to the earth; expected a projected CRS.")
    return geodetic


def horizontal(
    target: CRS | str, longitude_deg: float, latitude_deg: float
) -> tuple[CRS, tuple[str, ...]]:
    """The projected CRS with two axes behind a target, and what to say about it.

    Raises SurveyError, with a proposal, when there is none.
    """
    try:
        crs = CRS.from_user_input(target)
    except CRSError as error:
        raise SurveyError(
            f"The target CRS {str(target)[:80]!r} is unknown ({_first_line(error)}); "
            f"{_utm_sentence(longitude_deg, latitude_deg)}."
        ) from error
    notes: tuple[str, ...] = ()
    if crs.is_compound:
        whole, crs = crs, crs.sub_crs_list[0]
        notes = (f"{whole.name}: its horizontal part {crs.name} is used, heights are left out.",)
    inner = bare(crs)
    kind = (
        "geographic (its unit is no length)"
        if inner.is_geographic
        else "geocentric"
        if inner.is_geocentric
        else "vertical"
        if inner.is_vertical
        else "not tied to the earth"
        if inner.is_engineering
        else ""
        if inner.is_projected
        else f"of the kind {inner.type_name}"
    )
    if kind:
        raise SurveyError(
            f"The target CRS {crs.name} is {kind}; expected a projected CRS: "
            f"{_utm_sentence(longitude_deg, latitude_deg)}."
        )
    if len(inner.axis_info) == 3 and hasattr(crs, "to_2d"):
        crs = crs.to_2d()
        notes += (f"{crs.name}: heights are left out.",)
    elif len(inner.axis_info) != 2:
        raise SurveyError(
            f"The target CRS {crs.name} has {len(inner.axis_info)} axes; expected its "
            "two-dimensional form."
        )
    try:
        Transformer.from_crs(geodetic_part(bare(crs)), bare(crs), always_xy=True)
    except ProjError as error:
        raise SurveyError(
            f"PROJ cannot compute the target CRS {crs.name} ({_first_line(error)}); "
            f"{_utm_sentence(longitude_deg, latitude_deg)}."
        ) from error
    return crs, notes


def east_north_counterpart(crs: CRS, longitude_deg: float, latitude_deg: float) -> str:
    """The registered CRS (``EPSG:code``) that has the same grid with axes that are not mirrored,
    or nothing.

    Found by its figures: at the place and near it the coordinates are those of `crs` up to order
    and sign, and east lies to the right of north.
    """
    around = np.array([[0.0, 0.0], [0.01, 0.0], [0.0, 0.01]])
    points = np.array([longitude_deg, latitude_deg]) + around
    geodetic = geodetic_part(crs)
    own = np.sort(np.abs(_coordinates(geodetic, crs, points)), axis=1)
    area = AreaOfInterest(longitude_deg, latitude_deg, longitude_deg, latitude_deg)
    for info in query_crs_info("EPSG", PJType.PROJECTED_CRS, area, contains=True):
        candidate = CRS.from_epsg(int(info.code))
        if candidate.geodetic_crs is None or candidate.geodetic_crs.name != geodetic.name:
            continue
        xy = _coordinates(candidate.geodetic_crs, candidate, points)
        if not np.allclose(np.sort(np.abs(xy), axis=1), own, rtol=0, atol=1e-3):
            continue
        east, north = xy[1] - xy[0], xy[2] - xy[0]
        if east[0] * north[1] - east[1] * north[0] > 0:
            return f"EPSG:{info.code} ({candidate.name})"
    return ""


def _coordinates(geodetic: CRS, crs: CRS, points: np.ndarray) -> np.ndarray:
    try:
        change = Transformer.from_crs(geodetic, crs, always_xy=True)
        return np.stack(change.transform(points[:, 0], points[:, 1]), axis=-1)
    except ProjError:
        return np.full(points.shape, np.nan)


def _utm_sentence(longitude_deg: float, latitude_deg: float) -> str:
    utm = utm_for(longitude_deg, latitude_deg)
    return f"use a projected CRS of the place, for instance {utm.to_string()} ({utm.name})"


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0][:120]
