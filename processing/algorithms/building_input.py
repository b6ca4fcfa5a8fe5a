# SPDX-License-Identifier: GPL-2.0-or-later
"""New and maintained rooms from layers of the host, in one plane of metres."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateTransform,
    QgsCsException,
    QgsFeature,
    QgsFeatureRequest,
    QgsGeometry,
    QgsProcessingFeatureSource,
    QgsUnitTypes,
)

from ..errors import SurveyError
from ..progress import Progress
from .values import identifier, plain

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile
    from ..building.model import RoomSet

MM = 1000.0
UNCHECKED = QgsProcessingFeatureSource.Flag.FlagSkipGeometryValidityChecks
"""An outline that is not valid is a finding, told with a fix; the host would stop at the first."""


@dataclass(frozen=True)
class Maintained:
    """The rows of a maintained layer that hold now: identifiers, storeys (`checks.NO_LEVEL` where
    none is written), outlines in the plane of the new rooms as they are (`raw`) and in the layer's
    own system (`stored`), and the state of each row, by which a change of it is noticed."""

    id: list[str]
    name: list[str]
    level: list[int]
    raw: np.ndarray
    stored: np.ndarray
    state: list[str]
    sigma_edge_m: np.ndarray

    def take(self, keep: list[int]) -> Maintained:
        return Maintained(
            [self.id[i] for i in keep],
            [self.name[i] for i in keep],
            [self.level[i] for i in keep],
            self.raw[keep],
            self.stored[keep],
            [self.state[i] for i in keep],
            self.sigma_edge_m[keep],
        )


def row_state(feature: QgsFeature) -> str:
    """A digest of a whole row: every attribute, and the outline bit by bit."""
    values = [plain(value) for value in feature.attributes()]
    wkb = bytes(feature.geometry().asWkb()).hex() if feature.hasGeometry() else ""
    text = json.dumps([values, wkb], ensure_ascii=False, allow_nan=True)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def moved(geometry: QgsGeometry, change: QgsCoordinateTransform | None, where: str) -> QgsGeometry:
    """A copy in another system; SurveyError where it has no place there."""
    if change is None:
        return geometry
    copy = QgsGeometry(geometry)
    try:
        copy.transform(change)
    except QgsCsException as error:
        raise SurveyError(
            f"{where}: it cannot be transformed from {change.sourceCrs().authid()} to "
            f"{change.destinationCrs().authid()}; expected rooms within its area."
        ) from error
    return copy


def check_plane(source: QgsProcessingFeatureSource) -> None:
    """SurveyError unless the new rooms lie in a plane of metres."""
    crs = source.sourceCrs()
    metres = QgsUnitTypes.DistanceUnit.DistanceMeters
    if crs.isValid() and (crs.isGeographic() or crs.mapUnits() != metres):
        raise SurveyError(
            f"ROOMS, layer {source.sourceName()}: its coordinates are in "
            f"{QgsUnitTypes.toString(crs.mapUnits())} ({crs.authid()}); expected metres."
        )


def read_maintained(
    source: QgsProcessingFeatureSource,
    where: str,
    profile: FieldProfile,
    sigma_m: float,
    change: QgsCoordinateTransform | None,
    progress: Progress,
) -> Maintained:
    """The rows that hold now: those whose last day of validity is written are history."""
    import shapely

    from ..building.checks import NO_LEVEL
    from ..layers.shapes import shape_of

    index = source.fields().lookupField
    ids, names, levels, states, sigmas = [], [], [], [], []
    raw, stored = [], []
    total = max(source.featureCount(), 1)
    for number, feature in enumerate(source.getFeatures(QgsFeatureRequest(), UNCHECKED)):
        if number % 200 == 0:
            progress.at(number / total)
        if profile.valid_to and plain(feature[index(profile.valid_to)]) is not None:
            continue
        own = identifier(feature[index(profile.id)])
        told = f"{where}, feature {feature.id()} (room {own or 'without identifier'})"
        geometry = feature.geometry()
        if not feature.hasGeometry() or geometry.isEmpty():
            raise SurveyError(f"{told}: it has no outline; expected a polygon.")
        shape = shape_of(moved(geometry, change, told), told)
        if shape.geom_type not in ("Polygon", "MultiPolygon"):
            raise SurveyError(f"{told}: found a {shape.geom_type}, expected a polygon.")
        if not np.isfinite(shapely.get_coordinates(shape)).all():
            raise SurveyError(f"{told}: it has coordinates that are no numbers.")
        if not shape.is_valid and shapely.make_valid(shape).area == 0.0:
            raise SurveyError(f"{told}: its outline encloses no area; expected that of a room.")
        level = plain(feature[index(profile.level)]) if profile.level else 0
        written = plain(feature[index(profile.accuracy)]) if profile.accuracy else None
        try:
            sigma = sigma_m if written is None else float(written) / MM
        except ValueError:
            sigma = 0.0
        if not sigma > 0.0:
            raise SurveyError(
                f"{told}: {profile.accuracy} is {written!r}, expected a standard error above 0 mm."
            )
        ids.append(own)
        names.append(
            str(plain(feature[index(profile.room_name)]) or "") if profile.room_name else ""
        )
        levels.append(NO_LEVEL if level in (None, "") else profile.level_of(level, told))
        raw.append(shape)
        stored.append(geometry.asWkb())
        states.append(row_state(feature))
        sigmas.append(sigma)
    if not ids:
        raise SurveyError(f"{where}: it has no rooms that hold now; expected at least one.")
    shapes, kept = np.empty(len(ids), dtype=object), np.empty(len(ids), dtype=object)
    shapes[:], kept[:] = raw, [bytes(wkb) for wkb in stored]
    return Maintained(ids, names, levels, shapes, kept, states, np.array(sigmas))


def old_rooms(rows: Maintained, ground: float) -> RoomSet:
    """The maintained rooms; `ground` is the true area of a unit of the plane."""
    import shapely

    from ..building.model import room_set

    sound = shapely.is_valid(rows.raw)
    shapes = np.where(sound, rows.raw, shapely.make_valid(rows.raw))
    polygons = [
        shape if good else shapely.union_all([p for p in shapely.get_parts(shape) if p.area > 0.0])
        for shape, good in zip(shapes, sound)
    ]
    doubt = ["" if good else "the old outline is no valid polygon" for good in sound]
    area = shapely.area(np.array(polygons, dtype=object)) * ground
    return room_set(rows.id, polygons, rows.level, rows.sigma_edge_m, rows.name, area, None, doubt)


def new_rooms(
    columns: dict[str, list[Any]], shapes: np.ndarray, where: str, usual_sigma_m: float
) -> tuple[RoomSet, float]:
    """The surveyed rooms of the finest plot scale, and the true area of a unit of the plane: areas
    are those on the ground, which the plane's scale may change."""
    import shapely

    from ..building.model import edges_by_areas, room_set

    scales = [scale for scale in columns["plot_scale"] if scale is not None]
    finest = min(scales) if scales else None
    rows = [i for i, scale in enumerate(columns["plot_scale"]) if scale == finest]
    for i in rows:
        told = f"{where}, room {columns['room'][i]}"
        if shapes[i] is None or shapes[i].geom_type not in ("Polygon", "MultiPolygon"):
            raise SurveyError(f"{told}: it has no outline; expected a polygon.")
        if not shapes[i].is_valid:
            raise SurveyError(
                f"{told}: {shapely.is_valid_reason(shapes[i])}; expected a valid polygon."
            )
        if columns["level"][i] is None:
            raise SurveyError(f"{told}: level is empty; expected a storey.")
    if not rows:
        raise SurveyError(f"{where}: it has no rooms; expected those of a plan.")
    polygons = shapely.force_2d(shapes[rows])

    def numbers(name: str) -> np.ndarray:
        values = [columns[name][i] for i in rows]
        return np.array([np.nan if value is None else float(value) for value in values])

    area, own = numbers("area_m2"), shapely.area(polygons)
    ratio = float(np.nanmedian(area / own)) if np.isfinite(area).any() else 1.0
    if not 0.98 < ratio < 1.02:
        raise SurveyError(
            f"{where}: area_m2 is {ratio:.3f} times the area of the outlines; expected outlines in "
            "metres and their areas."
        )
    seen = numbers("seen_share")
    doubt = [
        f"only {share:.0%} of the new outline was seen" if share < 0.5 else "" for share in seen
    ]
    sigma, of_seen = numbers("sigma_area_m2"), numbers("sigma_seen_m2")
    # What nobody saw makes an area doubtful, not every wall of the room.
    edge = edges_by_areas(polygons, np.where(np.isnan(of_seen), sigma, of_seen))
    edge = np.where(np.isnan(edge), usual_sigma_m, edge)
    rooms = room_set(
        [str(columns["room"][i]) for i in rows],
        [*polygons],
        [int(columns["level"][i]) for i in rows],
        edge,
        [str(columns["name"][i] or "") for i in rows],
        np.where(np.isnan(area), own * ratio, area),
        sigma,
        doubt,
    )
    return rooms, ratio
