# SPDX-License-Identifier: GPL-2.0-or-later
"""A finished plan's GeoPackage, for the algorithms that make something to hand over of it."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingContext,
    QgsProcessingParameterFile,
    QgsUnitTypes,
    QgsVectorLayer,
)

from ..angles import wrap_half_deg
from ..databases import is_database
from ..errors import SurveyError
from ..layers import schema
from ..layers.apart import opened_apart
from ..progress import SILENT, Progress
from .base import RoomtieAlgorithm, tr
from .crs import to_pyproj
from .survey_input import SurveyLayers

if TYPE_CHECKING:
    from ..drawing.contents import Features, PlanContents, SiteAccuracy
    from ..layers.plan_frame import PlanFrame

NEEDED = (schema.ROOMS, schema.WALL_FACES, schema.OPENINGS, schema.STATIONS)
INSERT_UNITS = {
    QgsUnitTypes.DistanceUnit.DistanceMeters: 6,
    QgsUnitTypes.DistanceUnit.DistanceFeet: 2,
}
SAME_M, SAME_DEG = 0.001, 1e-4
ON_THE_GROUND = 1e-7
DERIVED = "DerivedProjectedCRS"
"""PROJJSON's word for what a site grid is; pyproj calls every projected CRS derived."""


@dataclass(frozen=True)
class PlanFile:
    """A plan as it lies in its GeoPackage: `contents` in the coordinates of the layers, the CRS,
    and the motion from plan coordinates."""

    path: Path
    contents: PlanContents
    crs: QgsCoordinateReferenceSystem
    frame: PlanFrame
    georeferenced: bool

    def open_layer(self, name: str, condition: str) -> QgsVectorLayer | None:
        """The features of a layer of the file that meet a condition, for the window's thread; None
        where it has no layer of that name. Set afterwards, the condition would make the host open
        the file once more, which it then closes to the others (seen in 3.22)."""
        layer = QgsVectorLayer(f"{self.path}|layername={name}|subset={condition}", name, "ogr")
        return layer if layer.isValid() else None

    def read_layer(self, name: str) -> QgsVectorLayer | None:
        """A layer of the file to be read on any thread; None where it has no layer of that name."""
        return _layer(self.path, name)

    def in_plan(self) -> PlanContents:
        """The contents in plan coordinates."""
        contents = self._moved(self.frame.to_plan, units_per_m=1.0, axis_deg=0.0)
        return replace(contents, local=True)

    def in_target(self) -> tuple[PlanContents, int]:
        """The contents in coordinates of the target CRS, and its unit as DXF counts it.

        SurveyError when the plan is not georeferenced, or its CRS is in another unit than metres
        and feet.
        """
        import pyproj

        if not self.georeferenced:
            raise SurveyError(
                f"{self.path}: the plan lies in plan coordinates, not in a coordinate system; "
                "expected a georeferenced plan, or COORDINATES = plan."
            )
        target = to_pyproj(self.crs)
        if target.to_json_dict()["type"] != DERIVED:
            unit = INSERT_UNITS.get(self.crs.mapUnits())
            if unit is None:
                raise SurveyError(
                    f"{self.path}: the unit of {self.contents.crs} is "
                    f"{QgsUnitTypes.toString(self.crs.mapUnits())}; expected metres or feet, or "
                    "COORDINATES = plan."
                )
            return self.contents, unit
        base = target.source_crs
        change = pyproj.Transformer.from_crs(target, base, always_xy=True)

        def moved(network: int, xy: Any) -> Any:
            del network
            return np.column_stack(change.transform(xy[:, 0], xy[:, 1]))

        x, y = self.frame.place(self._first(), np.array([[0.0, 0.0], [0.0, 10.0]])).T
        (east, far_east), (north, far_north) = change.transform(x, y)
        factor = math.hypot(far_east - east, far_north - north) / 10.0
        axis = math.degrees(math.atan2(far_east - east, far_north - north))
        contents = self._moved(moved, units_per_m=factor, axis_deg=axis)
        return replace(contents, crs=base.name), 6

    def _first(self) -> int:
        return next(iter(self.frame.motions))

    def _moved(self, move: Any, units_per_m: float, axis_deg: float) -> PlanContents:
        from ..layers.table import moved_by_group

        group_of = dict(
            zip(self.contents.stations.column("station"), self.contents.stations.column("network"))
        )

        def of(features: Features) -> Features:
            groups = [
                number if number is not None else group_of.get(station) or 1
                for number, station in zip(features.column("network"), features.column("station"))
            ]
            network = np.array(groups, dtype=np.int64)
            return replace(features, geometry=moved_by_group(features.geometry, network, move))

        moved = {
            name: of(getattr(self.contents, name))
            for name in ("rooms", "wall_faces", "openings", "stations", "targets", "readings")
        }
        return replace(self.contents, units_per_m=units_per_m, axis_deg=axis_deg, **moved)


def add_plan_input(algorithm: RoomtieAlgorithm) -> None:
    """The GeoPackage of a plan."""
    algorithm.addParameter(
        QgsProcessingParameterFile(
            "INPUT", tr("Plan"), fileFilter=tr("GeoPackage files (*.gpkg)"), defaultValue=None
        )
    )


def read_plan_file(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    with_readings: bool = False,
    progress: Progress = SILENT,
) -> PlanFile:
    """The plan of INPUT. SurveyError names a file that is not a plan, and what it lacks."""
    from ..drawing.contents import Features, PlanContents

    text = algorithm.parameterAsFile(parameters, "INPUT", context)
    path = Path(text)
    check_geopackage(path)
    layers = {one.name: _layer(path, one.name) for one in schema.PLAN_LAYERS}
    for one in NEEDED:
        if layers[one.name] is None:
            raise SurveyError(
                f"{path}: there is no layer {one.name}; expected the GeoPackage of a plan, as Plan "
                "from captures writes it."
            )
    found = {}
    for one in (*NEEDED, schema.TARGETS, schema.READINGS):
        progress.at(0.0)
        if one is schema.READINGS and not (with_readings or _lonely(found["stations"])):
            continue
        layer = layers[one.name]
        if layer is not None:
            found[one.name] = _features(layer, one, progress)
    stations = found["stations"]
    survey = SurveyLayers(
        dict(stations.columns),
        stations.geometry,
        dict(found["readings"].columns) if "readings" in found else None,
        found["readings"].geometry if "readings" in found else None,
        None,
        None,
    )
    frame = survey.frame
    crs = layers[schema.STATIONS.name].crs()
    shift, factor = next(iter(frame.motions.values()))
    georeferenced = frame.moved or on_the_earth(crs)
    contents = PlanContents(
        job=path.stem,
        **{name: found.get(name, Features()) for name in ("targets", "readings")},
        **{one.name: found[one.name] for one in NEEDED},
        crs=crs.authid() + (" " if crs.authid() else "") + crs.description() or "no named CRS",
        units_per_m=abs(factor),
        axis_deg=math.degrees(math.atan2(-factor.imag, factor.real)),
        site=_site(path, layers["error_band"], shift, factor, crs) if georeferenced else None,
    )
    return PlanFile(path, contents, crs, frame, georeferenced)


def check_geopackage(path: Path) -> None:
    """SurveyError for a file that cannot be read or is no GeoPackage."""
    try:
        sound = is_database(path)
    except OSError as error:
        raise SurveyError(
            f"{path}: could not be read ({error.strerror or error}); expected the GeoPackage of a "
            "plan."
        ) from error
    if not sound:
        raise SurveyError(f"{path}: is not a GeoPackage; expected that of a plan.")


def on_the_earth(crs: QgsCoordinateReferenceSystem) -> bool:
    """Whether a CRS lies on the earth; an engineering CRS has no ellipsoid."""
    return crs.isValid() and bool(crs.ellipsoidAcronym())


def _layer(path: Path, name: str) -> QgsVectorLayer | None:
    layer = opened_apart(f"{path}|layername={name}", name)
    return layer if layer.isValid() else None


def _lonely(stations: Features) -> bool:
    """Whether a connected group is one station: only readings tell how that was turned."""
    groups = list(stations.column("network"))
    return any(groups.count(group) == 1 for group in groups)


def _features(layer: QgsVectorLayer, one: schema.LayerSchema, progress: Progress) -> Features:
    from ..drawing.contents import Features
    from ..layers.features_read import read_columns

    wanted = {
        "rooms": ("name", "plot_scale", "area_m2", "level"),
        "wall_faces": ("wall", "plot_scale", "level"),
        "openings": ("kind", "plot_scale", "level"),
        "stations": ("station", "x_m", "y_m", "orientation_deg", "network", "status", "level"),
        "targets": ("target", "role"),
        "readings": ("station", "seq", "angle_deg", "distance_m", "kind", "flag"),
    }[one.name]
    optional = tuple(name for name in one.field_names if name not in wanted)
    return Features(*read_columns(layer, one.name, wanted, optional, progress))


def _site(
    path: Path,
    band: QgsVectorLayer | None,
    shift: complex,
    factor: complex,
    crs: QgsCoordinateReferenceSystem,
) -> SiteAccuracy:
    """From the report beside the plan where that tells of this fit; else what the error band
    knows."""
    from ..drawing.contents import SiteAccuracy

    report = path.with_suffix(".json")
    if report.is_file():
        try:
            fit = json.loads(report.read_text(encoding="utf-8"))["site"]
            turn = math.degrees(math.atan2(-factor.imag, factor.real)) - fit["rotation_deg"]
            where = abs(complex(fit["east_m"], fit["north_m"]) - shift)
            same = where < SAME_M and abs(wrap_half_deg(turn)) < SAME_DEG
            if same or abs(factor - 1.0) < ON_THE_GROUND:  # a site grid keeps the plan's axes
                return SiteAccuracy(
                    float(fit["sigma_east_m"]),
                    float(fit["sigma_north_m"]),
                    float(fit["sigma_rotation_deg"]),
                    f"Position from {fit['decides_position']}; rotation from "
                    f"{fit['decides_rotation']}.",
                )
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            pass  # another report of that name
    if band is not None and band.fields().lookupField("sigma_rotation_deg") >= 0:
        for feature in band.getFeatures():
            value = feature["sigma_rotation_deg"]
            if isinstance(value, float):
                return SiteAccuracy(sigma_rotation_deg=value)
    return SiteAccuracy()
