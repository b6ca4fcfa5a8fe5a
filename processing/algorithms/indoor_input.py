# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms and doorways of a plan as an indoor map takes them, and what a person says of the venue."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterEnum,
    QgsProcessingParameterString,
)

from ..errors import SurveyError
from ..layers import schema
from .base import RoomtieAlgorithm, tr
from .plan_input import PlanFile
from .translation import mark

if TYPE_CHECKING:
    from ..building.indoor_model import Doorway, Space, Venue

UNCONNECTED = "unconnected"
LANGUAGE_TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")
COUNTRY = re.compile(r"[A-Z]{2}")
PROVINCE = re.compile(r"[A-Z]{2}-[A-Z0-9]{1,3}")
TEXTS = (
    ("VENUE_NAME", mark("Name of the venue (empty: that of the plan)"), ""),
    ("BUILDING_NAME", mark("Name of the building (empty: that of the venue)"), ""),
    ("ADDRESS", mark("Address: street and number"), ""),
    ("UNIT", mark("Address: suite or unit"), ""),
    ("POSTAL_CODE", mark("Address: postal code"), ""),
    ("LOCALITY", mark("Address: locality"), ""),
    ("PROVINCE", mark("Address: province (ISO 3166-2, such as IT-BZ)"), ""),
    ("COUNTRY", mark("Address: country (ISO 3166-1, such as IT)"), ""),
    ("LANGUAGE", mark("Language of the names (BCP 47)"), "en"),
    ("LEVEL_NAMES", mark("Names of the storeys, such as 0=Ground floor|G; 1=First floor|1"), ""),
    ("CATEGORY_FIELD", mark("Field of the rooms that tells their category"), ""),
    ("CATEGORIES", mark("What its words mean, such as WC=restroom; Office=office"), ""),
    ("OPENING_CATEGORY_FIELD", mark("Field of the openings that tells their category"), ""),
)


def add_venue_parameters(algorithm: RoomtieAlgorithm) -> None:
    """What only a person knows; all of it may be left empty."""
    from ..building import indoor_categories as known

    for name, title, default in TEXTS:
        algorithm.addParameter(
            QgsProcessingParameterString(name, tr(title), default, optional=not default)
        )
        if name == "VENUE_NAME":
            algorithm.addParameter(
                QgsProcessingParameterEnum(
                    "VENUE_CATEGORY",
                    tr("Category of the venue"),
                    options=list(known.VENUE),
                    optional=True,
                    usesStaticStrings=True,
                )
            )
    algorithm.addParameter(
        QgsProcessingParameterEnum(
            "OTHER_CATEGORY",
            tr("Category of rooms of which nothing is known"),
            options=list(known.UNIT),
            defaultValue=known.UNSPECIFIED,
            usesStaticStrings=True,
        )
    )


def read_venue(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    job: str,
) -> Venue:
    """The venue as told; SurveyError names a code that is none."""
    from ..building.indoor_categories import VENUE, check_category
    from ..building.indoor_model import Venue, read_storeys

    told = {
        name: algorithm.parameterAsString(parameters, name, context).strip() for name, _, _ in TEXTS
    }
    category = algorithm.parameterAsEnumString(parameters, "VENUE_CATEGORY", context)
    for name, form, wanted in (
        ("LANGUAGE", LANGUAGE_TAG, "a language tag of BCP 47 such as en or de-AT"),
        ("COUNTRY", COUNTRY, "two capital letters of ISO 3166-1 such as IT"),
        ("PROVINCE", PROVINCE, "a code of ISO 3166-2 such as IT-BZ"),
    ):
        word = told[name]
        if (word or name == "LANGUAGE") and not form.fullmatch(word):
            raise SurveyError(f"{name}: found {word or 'nothing'}; expected {wanted}.")
    return Venue(
        name=told["VENUE_NAME"] or job,
        category=check_category(category, VENUE, "VENUE_CATEGORY") if category else "",
        building=told["BUILDING_NAME"],
        address=told["ADDRESS"],
        unit=told["UNIT"],
        locality=told["LOCALITY"],
        province=told["PROVINCE"],
        country=told["COUNTRY"],
        postal_code=told["POSTAL_CODE"],
        language=told["LANGUAGE"],
        storeys=read_storeys(told["LEVEL_NAMES"], "LEVEL_NAMES"),
    )


def read_spaces(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    plan: PlanFile,
    plot_scale: int,
) -> tuple[list[Space], list[Doorway], list[str]]:
    """Rooms and doorways at a plot scale, in metres on the ground, and the names of rooms that are
    left out since nothing ties them to the others."""
    import shapely

    from ..building import indoor_categories as known
    from ..building.indoor_model import Doorway, Space

    def text(name: str) -> str:
        return str(algorithm.parameterAsString(parameters, name, context)).strip()

    mapping = known.read_mapping(text("CATEGORIES"), "CATEGORIES")
    other = algorithm.parameterAsEnumString(parameters, "OTHER_CATEGORY", context)
    other = known.check_category(other, known.UNIT, "OTHER_CATEGORY")
    uses = _words(plan, schema.ROOMS.name, text("CATEGORY_FIELD"), "CATEGORY_FIELD")
    ways = _words(
        plan, schema.OPENINGS.name, text("OPENING_CATEGORY_FIELD"), "OPENING_CATEGORY_FIELD"
    )
    contents = plan.contents
    sketched = _sketched(plan)

    def ground(shape: Any) -> Any:
        return shapely.transform(shapely.force_2d(shape), lambda xy: xy / contents.units_per_m)

    spaces, left_out = [], []
    rooms = contents.rooms
    for row, shape in enumerate(rooms.geometry):
        if rooms.column("plot_scale")[row] != plot_scale or shape is None:
            continue
        name = str(rooms.column("name")[row] or "")
        if rooms.column("network")[row] in sketched:
            left_out.append(name)
            continue
        category = known.category_of(uses[row], mapping, known.UNIT) or other
        spaces.append(
            Space(
                str(rooms.column("room")[row] or name),
                name,
                int(rooms.column("level")[row] or 0),
                ground(shape),
                category,
                int(rooms.column("network")[row] or 1),
            )
        )
    doorways = []
    openings = contents.openings
    for row, shape in enumerate(openings.geometry):
        column = openings.column
        wanted = column("plot_scale")[row] == plot_scale and column("kind")[row] == "doorway"
        if not wanted or shape is None or column("network")[row] in sketched:
            continue
        doorways.append(
            Doorway(
                str(column("opening")[row] or f"{row}"),
                int(column("level")[row] or 0),
                ground(shape),
                str(column("room_a")[row] or ""),
                str(column("room_b")[row] or ""),
                known.category_of(ways[row], {}, known.OPENING) or known.PEDESTRIAN,
            )
        )
    return spaces, doorways, left_out


def _sketched(plan: PlanFile) -> set[Any]:
    """The connected groups that nothing ties to the others: they lie apart, by compass and geotag
    alone, and would lie across other rooms."""
    stations = plan.contents.stations
    groups = list(zip(stations.column("network"), stations.column("status")))
    apart = {group for group, status in groups if status == UNCONNECTED}
    kept = {group for group, status in groups if status != UNCONNECTED}
    # A plan of one station has nothing to lie across.
    return apart - kept if kept else set()


def _words(plan: PlanFile, layer_name: str, field: str, parameter: str) -> list[Any]:
    """The values of a field that people added, in the order of the plan's features; None for each
    where no field is named."""
    from ..layers.features_read import read_columns

    count = len(getattr(plan.contents, layer_name))
    if not field:
        return [None] * count
    layer = plan.read_layer(layer_name)
    names = [one.name() for one in layer.fields()] if layer is not None else []
    if layer is None or field not in names:
        raise SurveyError(
            f"{parameter}: layer {layer_name} has no field {field}; expected one of "
            f"{', '.join(names)}."
        )
    columns, _ = read_columns(layer, layer_name, (field,))
    return columns[field]
