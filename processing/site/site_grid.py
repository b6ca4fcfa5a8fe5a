# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan's own axes as a coordinate reference system."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from ..angles import Floats
from ..errors import SurveyError
from .model import SiteFit
from .target_crs import bare, geodetic_part

EXACT_M = 1e-6
NEAR_M = 1000.0

METRE_AXES = {
    "subtype": "Cartesian",
    "axis": [
        {"name": "Easting", "abbreviation": "E", "direction": "east", "unit": "metre"},
        {"name": "Northing", "abbreviation": "N", "direction": "north", "unit": "metre"},
    ],
}

PLAN_AXES = {
    "subtype": "Cartesian",
    "axis": [
        {"name": "Plan x", "abbreviation": "x", "direction": "east", "unit": "metre"},
        {"name": "Plan y", "abbreviation": "y", "direction": "north", "unit": "metre"},
    ],
}


def site_grid_wkt(fit: SiteFit, name: str) -> str:
    """The site grid of a fit as WKT 2:2019: a derived projected CRS in the plan's true distances.

    Its deriving conversion is the affine parametric transformation (EPSG method 9624, IOGP Guidance
    Note 7-2, section "Affine parametric transformation"): from the coordinates of a base CRS to the
    plan frame, the inverse of the fit. The base is a copy of the target CRS with east, north axes
    in metres and without its identifier, since over northing-first axes or feet the same parameters
    mean different things to different releases of PROJ. A target CRS that carries its own change of
    datum (a bound CRS) keeps it.

    Raises SurveyError if the definition does not reproduce the fit within a micrometre.
    """
    target = CRS.from_user_input(fit.target_crs)
    projected = bare(target)
    whole = projected.to_json_dict()
    base = _east_north_copy(whole)
    linear, offset = _from_copy(base, projected, fit)
    matrix, shift = _affine_inverse(fit)
    # Plan = matrix (host - shift) with host = linear copy + offset, all in metres.
    a = _as_taken(matrix @ linear)
    b = a @ np.linalg.solve(linear, offset - shift)
    derived: dict[str, Any] = {
        "$schema": "https://proj.org/schemas/v0.5/projjson.schema.json",
        "type": "DerivedProjectedCRS",
        "name": name,
        "base_crs": base,
        "conversion": {
            "name": f"{name}: affine",
            "method": {
                "name": "Affine parametric transformation",
                "id": {"authority": "EPSG", "code": 9624},
            },
            "parameters": [
                _parameter("A0", 8623, b[0], "metre"),
                _parameter("A1", 8624, a[0, 0], "unity"),
                _parameter("A2", 8625, a[0, 1], "unity"),
                _parameter("B0", 8639, b[1], "metre"),
                _parameter("B1", 8640, a[1, 0], "unity"),
                _parameter("B2", 8641, a[1, 1], "unity"),
            ],
        },
        "coordinate_system": PLAN_AXES,
    }
    # With the area a host chooses the same change of datum as for the target CRS.
    for key in ("scope", "area", "bbox"):
        if key in whole:
            derived[key] = whole[key]
    try:
        crs = CRS.from_json_dict(_bound_like(target, derived))
        wkt = str(crs.to_wkt("WKT2_2019"))
    except CRSError as error:
        raise SurveyError(
            f"No site grid can be made over {projected.name}: PROJ refuses it ({error})."
        ) from error
    _check(wkt, target, fit)
    return wkt


def plan_crs_wkt(name: str) -> str:
    """A local engineering CRS in metres, x right and y up, as WKT 2:2019: for a plan of which
    nobody knows where it lies on the earth."""
    quoted = name.replace('"', '""')
    return str(
        CRS.from_wkt(
            f'ENGCRS["{quoted}",EDATUM["{quoted}"],CS[Cartesian,2],'
            'AXIS["plan x (x)",east,ORDER[1],LENGTHUNIT["metre",1]],'
            'AXIS["plan y (y)",north,ORDER[2],LENGTHUNIT["metre",1]]]'
        ).to_wkt("WKT2_2019")
    )


def _as_taken(factors: Floats) -> Floats:
    """Factors as PROJ takes them: it rounds what lies within 1e-9 of a tenth. At coordinates of
    millions of metres that is millimetres, unless the shift is worked out from rounded ones."""
    tenths = np.round(10.0 * factors)
    return np.where(np.abs(10.0 * factors - tenths) < 1e-8, tenths / 10.0, factors)


def _parameter(name: str, code: int, value: float, unit: str) -> dict[str, Any]:
    return {
        "name": name,
        "value": float(value),
        "unit": unit,
        "id": {"authority": "EPSG", "code": code},
    }


def _bound_like(target: CRS, derived: dict[str, Any]) -> dict[str, Any]:
    """The derived CRS, bound to the same change of datum as the target if that is bound."""
    if not target.is_bound:
        return derived
    bound = dict(target.to_json_dict())
    bound["source_crs"] = derived
    return bound


def _east_north_copy(projected: dict[str, Any]) -> dict[str, Any]:
    copy = dict(projected)
    for key in ("id", "ids", "$schema", "scope", "area", "bbox", "usages", "remarks"):
        copy.pop(key, None)
    copy["name"] = f"{projected['name']} (east, north in metres)"
    copy["coordinate_system"] = METRE_AXES
    # WKT does not write the axes of a base CRS: on reading it, newer releases of PROJ take its unit
    # from the false easting.
    conversion = dict(projected["conversion"])
    conversion["parameters"] = [_in_metres(one) for one in conversion.get("parameters", ())]
    copy["conversion"] = conversion
    return copy


def _in_metres(parameter: dict[str, Any]) -> dict[str, Any]:
    unit = parameter.get("unit")
    if not isinstance(unit, dict) or unit.get("type") != "LinearUnit":
        return parameter
    metres = parameter["value"] * unit["conversion_factor"]
    return {**parameter, "value": metres, "unit": "metre"}


def _from_copy(base: dict[str, Any], projected: CRS, fit: SiteFit) -> tuple[Floats, Floats]:
    """Matrix ``(2, 2)`` and offset ``(2,)`` from the copy's east, north to the target's host x, y,
    all in metres: unchanged, or turned by quarter turns where the target's axes run otherwise."""
    copy = CRS.from_json_dict(base)
    around = np.array([[0.0, 0.0], [NEAR_M, 0.0], [0.0, NEAR_M], [NEAR_M, NEAR_M]])
    host = (around + (fit.east_m, fit.north_m)) / fit.unit_m
    # Over longitude and latitude: between two projected CRSs PROJ may shorten the path by names.
    geodetic = geodetic_part(projected)
    lonlat = Transformer.from_crs(projected, geodetic, always_xy=True).transform(*host.T)
    own = np.stack(Transformer.from_crs(geodetic, copy, always_xy=True).transform(*lonlat), axis=-1)
    if not np.isfinite(own).all():
        raise SurveyError(
            f"No site grid can be made over {projected.name}: the plan's origin lies where the "
            "projection is not defined."
        )
    host = host * fit.unit_m
    steps = np.linalg.solve(own[1:3] - own[0], host[1:3] - host[0]).T
    linear = np.asarray(np.round(steps), dtype=np.float64)
    offset = host[0] - linear @ own[0]
    left = own @ linear.T + offset - host
    if not (np.abs(left) < 1e-4).all():
        raise SurveyError(
            f"No site grid can be made over {projected.name}: with east, north axes in metres "
            "its coordinates do not follow by quarter turns (they differ by "
            f"{np.abs(left).max():.3g} m)."
        )
    # The projection's own rounding is not to get into the offset, which is zero where axes agree.
    if np.abs(offset).max() < 1e-4:
        offset = np.zeros(2)
    return linear, offset


def _affine_inverse(fit: SiteFit) -> tuple[Floats, Floats]:
    """Matrix and shift with plan = matrix (host in metres - shift)."""
    s, c = math.sin(fit.rotation_rad), math.cos(fit.rotation_rad)
    return np.array([[c, -s], [s, c]]) / fit.scale, np.array([fit.east_m, fit.north_m])


def _check(wkt: str, target: CRS, fit: SiteFit) -> None:
    plan = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0], [-50.0, 80.0]])
    try:
        change = Transformer.from_crs(CRS.from_wkt(wkt), target, always_xy=True)
        host = np.stack(change.transform(*plan.T), axis=-1)
    except (CRSError, ProjError) as error:
        raise SurveyError(
            f"No site grid can be made over {target.name}: PROJ refuses it ({error})."
        ) from error
    off = np.abs(host - fit.to_target(plan)).max() * fit.unit_m
    if not off < EXACT_M:
        raise SurveyError(
            f"No site grid can be made over {target.name}: PROJ puts its points {off:.3g} m "
            "from where the fit puts them; expected less than a micrometre: move the coordinates "
            "instead."
        )
