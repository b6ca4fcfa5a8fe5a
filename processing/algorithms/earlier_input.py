# SPDX-License-Identifier: GPL-2.0-or-later
"""The earlier plan that new captures join, for Plan from captures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingContext,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsVectorLayer,
)

from ..databases import copied
from ..errors import SurveyError
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .layer_files import layers_of
from .plan_input import check_geopackage, on_the_earth
from .translation import mark

if TYPE_CHECKING:
    from ..captures.joined import Retaken
    from ..growing import Stations
    from ..layers.earlier_plan import EarlierPlan
    from ..layers.table import Table
    from ..stations.systematics import Systematics

STATIONS = ("readjusted", "held")
RETAKEN = ("replace", "use both")
PLACE = ("kept", "fitted again")
NEEDED = (
    schema.STATIONS,
    schema.READINGS,
    schema.ROOMS,
    schema.WALL_FACES,
    schema.OPENINGS,
)
TABLES = (
    *NEEDED,
    schema.TARGETS,
    schema.TIES,
    schema.NETWORK_COVARIANCE,
    schema.SURVEY_NOTES,
    schema.KNOWN_POINTS,
)
OPTIONAL = frozenset(
    {
        *("capture_file", "captured_at", "instrument_height_m", "tilt_deg", "moved"),
        *("compass_calibrated", "magnetic_azimuth_deg", "magnetic_azimuth_sigma_deg"),
        *("longitude_deg", "latitude_deg", "geotag_sigma_m", "ellipsoidal_height_m"),
        *("distance_sigma_mm", "angle_sigma_deg", "comment", "readings", "used"),
        *("zenith_deg", "target", "intensity", "wall", "residual_mm", "sightings", "role"),
    }
)
"""Fields without which the plan still tells enough."""


@dataclass(frozen=True, eq=False)
class EarlierFile:
    """An earlier plan as it lay in its file: `copy` is the file to read and to write on from."""

    path: Path
    copy: Path
    plan: EarlierPlan
    tables: Mapping[str, Table]
    crs: QgsCoordinateReferenceSystem

    def corrected(self, anew: bool) -> Systematics | None:
        """What the readings of the earlier plan were freed of; None where they were not, or where
        it is to be found `anew`."""
        from ..layers.survey_notes import correction_in

        return None if anew else correction_in(self.plan.notes)

    @property
    def placed(self) -> bool:
        """Whether the plan lies on the earth."""
        return self.plan.frame.moved or on_the_earth(self.crs)


def add_earlier_parameters(algorithm: RoomtieAlgorithm) -> None:
    """The earlier plan, and what becomes of its stations, of captures taken again, of its place."""
    algorithm.addParameter(
        QgsProcessingParameterFile(
            "EARLIER",
            tr("Earlier plan that the captures join"),
            fileFilter=tr("GeoPackage files (*.gpkg)"),
            defaultValue=None,
            optional=True,
        )
    )
    for name, title, options in (
        ("EARLIER_STATIONS", mark("Stations of the earlier plan"), STATIONS),
        ("RETAKEN", mark("A capture with the name of an earlier one"), RETAKEN),
        ("EARLIER_PLACE", mark("Place of the earlier plan"), PLACE),
    ):
        choice = QgsProcessingParameterEnum(
            name, tr(title), options=list(options), defaultValue=options[0], usesStaticStrings=True
        )
        choice.setFlags(choice.flags() | choice.Flag.FlagAdvanced)
        algorithm.addParameter(choice)


def earlier_path(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> Path | None:
    """The file of the earlier plan; None where none was given."""
    text = algorithm.parameterAsFile(parameters, "EARLIER", context)
    # A layer's source names its file first.
    return Path(text.split("|layername=")[0]) if text else None


def how_to_grow(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> tuple[Retaken, Stations]:
    """What the parameters say of captures taken again and of earlier stations."""
    from ..captures.joined import Retaken
    from ..growing import Stations

    both = algorithm.parameterAsEnumString(parameters, "RETAKEN", context) == RETAKEN[1]
    held = algorithm.parameterAsEnumString(parameters, "EARLIER_STATIONS", context) == STATIONS[1]
    return (
        Retaken.BOTH if both else Retaken.REPLACED,
        Stations.HELD if held else Stations.READJUSTED,
    )


def unsaved_edits(path: Path | None, context: QgsProcessingContext) -> str:
    """The sentence that refuses a plan of which a layer has edits that its file does not hold;
    empty where there are none. To be asked on the main thread."""
    for layer, _ in layers_of(context.project(), path) if path is not None else ():
        if layer.isEditable() and layer.isModified():
            return (
                f"Layer {layer.name()} of {path.name} has edits that are not saved; expected them "
                "saved or given up before the plan is made again."
            )
    return ""


def read_earlier(path: Path, folder: Path, progress: Progress) -> EarlierFile:
    """The plan of a file, from a copy of it in a folder; the file itself is only read.

    SurveyError names a file that is no plan, and what it lacks.
    """
    from ..layers.earlier_plan import GivenLayer, earlier_plan

    check_geopackage(path)
    copy = folder / "earlier.gpkg"
    copied(path, copy, progress.part(0.0, 0.2))
    tables: dict[str, Table] = {}
    crs = QgsCoordinateReferenceSystem()
    for one in TABLES:
        progress.at(0.2)
        layer = QgsVectorLayer(f"{copy}|layername={one.name}", one.name, "ogr")
        if layer.isValid():
            tables[one.name] = _table(path, layer, one, progress.part(0.2, 0.6))
            crs = layer.crs() if one is schema.STATIONS else crs
        elif one in NEEDED:
            raise SurveyError(
                f"{path}: there is no layer {one.name}; expected the GeoPackage of a plan, as Plan "
                "from captures writes it."
            )
        del layer
    progress.at(0.6)
    plan = earlier_plan(
        {
            one.name: GivenLayer(_columns(tables[one.name], one), tables[one.name].geometry)
            for one in TABLES
            if one.name in tables
        }
    )
    progress.at(1.0)
    return EarlierFile(path, copy, plan, tables, crs)


def _table(path: Path, layer: QgsVectorLayer, one: schema.LayerSchema, progress: Progress) -> Table:
    from ..layers.features_read import LayerCopy, read_table

    there = {field.name() for field in layer.fields()}
    missing = [name for name in one.field_names if name not in {*there, *one.later, *OPTIONAL}]
    if missing:
        raise SurveyError(
            f"{path}, layer {one.name}: there is no field {', '.join(missing)}; expected a layer "
            "made by this plugin."
        )
    return read_table(
        LayerCopy.of(layer), one.name, lambda row: int(row.get("network") or 1), progress
    )


def _columns(table: Table, one: schema.LayerSchema) -> dict[str, Sequence[Any]]:
    """The columns of a table by name; of None where an earlier version had no such field."""
    columns = dict(zip(table.schema.field_names, table.columns))
    empty = [None] * len(table)
    return {**dict.fromkeys(one.field_names, empty), **columns}
