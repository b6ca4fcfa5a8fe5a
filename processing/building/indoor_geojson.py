# SPDX-License-Identifier: GPL-2.0-or-later
"""Geometries of an indoor map as GeoJSON (RFC 7946): longitude and latitude in WGS 84, outer rings
counterclockwise, and features as OGC 20-094 wants them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from ..angles import Floats
from ..errors import SurveyError
from .indoor_model import Feature

DECIMALS = 9
"""0.1 mm on the ground: a survey is not spoiled by its export. RFC 7946 (section 11.2) finds six
enough for maps."""

ToLonLat = Callable[[Floats], Floats]


def on_earth(shape: Any, to_lonlat: ToLonLat, where: str) -> Any:
    """The geometry in degrees, rounded and oriented.

    `to_lonlat` takes metres on the ground ``(n, 2)`` to longitude and latitude ``(n, 2)``.
    SurveyError names what cannot be placed: coordinates that are not on the earth, an outline that
    is not valid, or one across the 180th meridian, which RFC 7946 wants cut.
    """
    moved = shapely.transform(shape, lambda xy: np.round(to_lonlat(xy), DECIMALS) + 0.0)
    xy = shapely.get_coordinates(moved)
    if not np.isfinite(xy).all() or np.abs(xy[:, 1]).max(initial=0.0) > 90.0:
        raise SurveyError(
            f"{where}: it has no longitude and latitude; expected a plan that lies on the earth."
        )
    if np.ptp(xy[:, 0]) > 180.0:
        raise SurveyError(
            f"{where}: it lies across the 180th meridian, where indoor maps must be cut; expected "
            "a plan on one side of it."
        )
    moved = shapely.remove_repeated_points(moved)
    if not moved.is_valid:
        raise SurveyError(
            f"{where}: its outline is not valid ({shapely.is_valid_reason(moved)}); expected one "
            "that does not cross itself."
        )
    if isinstance(moved, Polygon):
        return orient(moved)
    if isinstance(moved, MultiPolygon):
        return MultiPolygon([orient(part) for part in moved.geoms])
    return moved


def feature(kind: str, id_: str, geometry: Any, properties: dict[str, Any]) -> Feature:
    """A feature of the standard; `geometry` is None for one without a place."""
    return {
        "id": id_,
        "type": "Feature",
        "feature_type": kind,
        "geometry": None if geometry is None else shapely.geometry.mapping(geometry),
        "properties": properties,
    }


def point(shape: Any) -> dict[str, Any]:
    """A point on the geometry, to stand for it."""
    if shape.geom_type == "LineString":
        at = shape.interpolate(0.5, normalized=True)
    else:
        at = max(shapely.get_parts(shape), key=lambda part: part.area).representative_point()
    return shapely.geometry.mapping(shapely.Point(np.round(at.coords[0], DECIMALS)))
