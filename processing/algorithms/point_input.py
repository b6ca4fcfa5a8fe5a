# SPDX-License-Identifier: GPL-2.0-or-later
"""Points of layers of the host, and what their coordinate system says about lengths and north."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCsException,
    QgsFeatureRequest,
    QgsProcessingContext,
    QgsProcessingFeatureSource,
)

from ..errors import SurveyError
from ..progress import Progress
from .crs import to_pyproj
from .values import plain

if TYPE_CHECKING:
    from ..angles import Floats
    from ..captures.from_points_layers import LayerPoints
    from ..captures.model import Survey
    from ..site.grid import GridPlace

SCALE_OFF = 5e-5
"""Lengths on the grid that differ from those on the ground by more than this (1 mm in 20 m) are
worth a sentence."""


def read_points_of(
    source: QgsProcessingFeatureSource,
    parameter: str,
    fields: dict[str, str],
    crs: QgsCoordinateReferenceSystem,
    context: QgsProcessingContext,
    progress: Progress,
) -> LayerPoints:
    """The points of a source in `crs`, and its fields by what they mean (`fields`: meaning to field
    name, empty where none was chosen).

    SurveyError names a field that is not there and features that cannot be transformed.
    """
    from ..captures.from_points_layers import LayerPoints

    layer = source.sourceName() or parameter
    places = {
        meaning: _place(source, name, f"{parameter}, layer {layer}")
        for meaning, name in fields.items()
        if name
    }
    lost: list[int] = []
    request = QgsFeatureRequest()
    if source.sourceCrs().isValid() and crs.isValid() and source.sourceCrs() != crs:
        request.setDestinationCrs(crs, context.transformContext())
        request.setTransformErrorCallback(lambda feature: lost.append(feature.id()))
    ids: list[int] = []
    wkb: list[bytes | None] = []
    columns: dict[str, list[Any]] = {meaning: [] for meaning in places}
    total = max(source.featureCount(), 1)
    for feature in source.getFeatures(
        request, QgsProcessingFeatureSource.Flag.FlagSkipGeometryValidityChecks
    ):
        if len(ids) % 1000 == 0:
            progress.at(len(ids) / total)
        ids.append(feature.id())
        wkb.append(bytes(feature.geometry().asWkb()) if feature.hasGeometry() else None)
        attributes = feature.attributes()
        for meaning, place in places.items():
            columns[meaning].append(plain(attributes[place]))
    if lost:
        raise SurveyError(
            f"Layer {layer}: feature {lost[0]} cannot be transformed from "
            f"{_called(source.sourceCrs())} to {_called(crs)}; expected points within its area."
        )
    return _exploded(layer, np.array(ids, dtype=np.int64), wkb, columns, LayerPoints)


def _place(source: QgsProcessingFeatureSource, name: str, where: str) -> int:
    place = source.fields().lookupField(name)
    if place < 0:
        there = ", ".join(field.name() for field in source.fields()) or "none"
        raise SurveyError(f"{where}: there is no field {name!r}; found {there}.")
    return place


def _exploded(
    layer: str,
    ids: np.ndarray,
    wkb: list[bytes | None],
    columns: dict[str, list[Any]],
    make: type[LayerPoints],
) -> LayerPoints:
    """One row a point: the parts of a multipoint share their feature's id and fields."""
    import shapely

    geometry = np.asarray(shapely.from_wkb(np.array(wkb, dtype=object)), dtype=object)
    kinds = shapely.get_type_id(geometry)
    other = np.flatnonzero(~np.isin(kinds, (-1, 0, 4)))
    if len(other):
        raise SurveyError(
            f"Layer {layer}: feature {ids[other[0]]} is a {geometry[other[0]].geom_type}; expected "
            "a point or multipoint."
        )
    xyz, row = shapely.get_coordinates(geometry, include_z=True, return_index=True)
    # A feature without a point keeps one row, so that it can be told.
    bare = np.setdiff1d(np.arange(len(ids)), row)
    xyz = np.concatenate([xyz, np.full((len(bare), 3), np.nan)])
    row = np.concatenate([row, bare])
    order = np.argsort(row, kind="stable")
    row, xyz = row[order], xyz[order]
    picked = {meaning: [values[i] for i in row.tolist()] for meaning, values in columns.items()}
    return make(layer, ids[row], xyz, picked)


def _called(crs: QgsCoordinateReferenceSystem) -> str:
    return f"{crs.authid()} ({crs.description()})" if crs.authid() else crs.description()


def common_crs(
    stations: QgsProcessingFeatureSource, points: QgsProcessingFeatureSource
) -> tuple[QgsCoordinateReferenceSystem, list[str]]:
    """The coordinate system in which both layers are taken, the stations', and what to say."""
    own, other = stations.sourceCrs(), points.sourceCrs()
    if own.isValid() == other.isValid():
        if own.isValid() and own != other:
            return own, [
                f"Layer {points.sourceName()} was transformed from {_called(other)} to "
                f"{_called(own)}, that of layer {stations.sourceName()}."
            ]
        return own, []
    bare, tied = (points, stations) if own.isValid() else (stations, points)
    return tied.sourceCrs(), [
        f"Layer {bare.sourceName()} has no coordinate system; its coordinates are taken as those "
        f"of layer {tied.sourceName()}, {_called(tied.sourceCrs())}."
    ]


@dataclass(frozen=True)
class Axes:
    """What a layer's axes are: the unit in metres, the projection at the place (None where the
    layer is not tied to the earth), whether the place lies in the area that it is made for, and
    sentences about all that."""

    unit_m: float
    grid: GridPlace | None
    in_its_area: bool
    told: tuple[str, ...]


def check_not_geographic(source: QgsProcessingFeatureSource) -> None:
    """SurveyError for a layer in degrees."""
    crs = source.sourceCrs()
    if not crs.isValid() or not crs.isGeographic():
        return
    middle = source.sourceExtent().center()
    proposal = "a projected coordinate system of the place"
    try:
        wgs84 = QgsCoordinateReferenceSystem("EPSG:4326")
        lon_lat = QgsCoordinateTransform(crs, wgs84, QgsProcessingContext().transformContext())
        middle = lon_lat.transform(middle)
        from ..site.target_crs import utm_for

        zone = utm_for(middle.x(), middle.y())
        proposal += f", for instance {zone.to_string()} ({zone.name})"
    except (QgsCsException, SurveyError):
        pass  # the refusal stands without it
    raise SurveyError(
        f"Layer {source.sourceName()}: its coordinates are degrees ({_called(crs)}), which give "
        f"neither distance nor angle; reproject the layer to {proposal}."
    )


def axes_of(crs: QgsCoordinateReferenceSystem, xy: Floats, stated_unit: str | None) -> Axes:
    """The axes of `crs` about points `xy (n, 2)`; `stated_unit` wins over the unit of the CRS.

    SurveyError for axes that are mirrored, not conformal, of different units, or of no length, and
    where neither the CRS nor the user names a unit.
    """
    from ..captures.units import METRES

    if not crs.isValid():
        if stated_unit is None:
            raise SurveyError(
                "STATION_POINTS: the layer has no coordinate system, and so no unit of length; "
                f"expected one, or DISTANCE_UNIT ({', '.join(METRES)})."
            )
        return Axes(METRES[stated_unit], None, False, ())
    known = to_pyproj(crs)
    factors = {axis.unit_conversion_factor for axis in known.axis_info[:2]}
    units = {axis.unit_name for axis in known.axis_info[:2]}
    if len(factors) != 1 or known.is_geocentric:
        raise SurveyError(
            f"STATION_POINTS: {_called(crs)} has no plane axes of one unit; expected a projected "
            "coordinate system."
        )
    unit_m, unit = factors.pop(), units.pop()
    told = []
    if stated_unit is not None and METRES[stated_unit] != unit_m:
        told.append(
            f"Coordinates are taken as {stated_unit}, as stated, though {_called(crs)} says {unit}."
        )
        return Axes(METRES[stated_unit], None, False, tuple(told))
    if unit_m != 1.0:
        told.append(
            f"{_called(crs)} is in {unit} (1 = {unit_m:.9g} m): lengths were converted to metres."
        )
    grid = _grid_about(crs, xy) if known.is_projected or known.is_compound else None
    # What is said of heights that are left out does not hold here.
    outside = (
        [sentence for sentence in grid.warnings if "outside the area" in sentence] if grid else []
    )
    return Axes(unit_m, grid, grid is not None and not outside, (*told, *outside))


def _grid_about(crs: QgsCoordinateReferenceSystem, xy: Floats) -> GridPlace | None:
    """The projection at the middle of the points; None where it is not defined there."""
    from ..site.grid import grid_at

    finite = xy[np.isfinite(xy).all(axis=1)]
    if not len(finite):
        return None
    place = _longitude_latitude(crs, np.median(finite, axis=0)[None])
    if not np.isfinite(place).all():
        return None
    return grid_at(to_pyproj(crs), float(place[0, 0]), float(place[0, 1]), 0.0)


def _longitude_latitude(crs: QgsCoordinateReferenceSystem, xy: Floats) -> Floats:
    """WGS 84 longitudes and latitudes ``(n, 2)`` of points ``(n, 2)``; not finite where none."""
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    from ..site.target_crs import GEOGRAPHIC

    try:
        change = Transformer.from_crs(to_pyproj(crs), GEOGRAPHIC, always_xy=True)
    except ProjError:
        return np.full(xy.shape, np.nan)
    return np.stack(change.transform(xy[:, 0], xy[:, 1]), axis=-1)


def with_geotags(
    survey: Survey, xy: Floats, sigma_m: float, axes: Axes, crs: QgsCoordinateReferenceSystem
) -> Survey:
    """The survey whose stations have the points ``xy (S, 2)`` of the layer as geotags; SurveyError
    where the layer is not tied to the earth."""
    if axes.grid is None or not axes.in_its_area:
        raise SurveyError(
            "STATION_SIGMA: the station points do not lie in a coordinate system that is tied to "
            "the earth there, and so give no geotags; expected projected coordinates, or no "
            "standard error."
        )
    places = _longitude_latitude(crs, xy)
    captures = tuple(
        replace(
            capture,
            longitude_deg=float(longitude),
            latitude_deg=float(latitude),
            geotag_sigma_m=sigma_m,
        )
        for capture, (longitude, latitude) in zip(survey.captures, places)
    )
    return replace(survey, captures=captures)


def about_the_grid(axes: Axes, scale: float | None, longest_m: float) -> list[str]:
    """Sentences about lengths on the grid and on the ground, and about north."""
    grid = axes.grid
    if grid is None or not axes.in_its_area:
        # A drawing about its own origin, with a CRS that somebody chose for it.
        return [
            "The zero direction is +y of the layer. The captures have no compass bearing, and the "
            "coordinates say nothing of north or of the scale of the grid."
        ]
    north = float(np.degrees(grid.true_north_rad))
    told = [
        f"The zero direction is +y of {grid.crs.name}, from which true north is at {north:.3f} "
        "deg. The captures have no compass bearing."
    ]
    if scale is None and abs(grid.point_scale - 1.0) > SCALE_OFF:
        off = 1e3 * longest_m * abs(1.0 / grid.point_scale - 1.0)
        told.append(
            f"1 m on the ellipsoid is {grid.point_scale:.5f} m in {grid.crs.name} here: "
            f"{off:.1f} mm over the longest distance of {longest_m:.1f} m. Distances are taken as "
            f"the layer has them; where it holds true grid coordinates, give SCALE_FACTOR "
            f"{grid.point_scale:.6f}."
        )
    return told
