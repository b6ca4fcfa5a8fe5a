# SPDX-License-Identifier: GPL-2.0-or-later
"""The fields of a maintained layer as parameters, and the profiles of them in the settings."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterField,
    QgsProcessingParameterString,
    QgsSettings,
)

from ..errors import SurveyError
from .base import RoomtieAlgorithm, tr
from .translation import mark

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile

KEY = "roomtie/building_layers"
PARAMETERS = {
    "room_name": ("NAME_FIELD", mark("Field of the room's name")),
    "level": ("LEVEL_FIELD", mark("Field of the storey")),
    "area": ("AREA_FIELD", mark("Field of the area (m²)")),
    "accuracy": ("ACCURACY_FIELD", mark("Field of the outline's standard error (mm)")),
    "valid_from": ("VALID_FROM_FIELD", mark("Field of the first day of validity")),
    "valid_to": ("VALID_TO_FIELD", mark("Field of the last day of validity")),
    "survey_date": ("SURVEY_DATE_FIELD", mark("Field of the date of survey")),
    "report_hash": ("REPORT_HASH_FIELD", mark("Field of the report's SHA-256")),
}


def add_field_parameters(algorithm: RoomtieAlgorithm) -> None:
    """The identifier's field, the others, and the profile that may name them."""
    algorithm.addParameter(
        QgsProcessingParameterField(
            "ID_FIELD", tr("Field of the identifier"), parentLayerParameterName="BUILDING"
        )
    )
    for name, title in PARAMETERS.values():
        algorithm.addParameter(
            QgsProcessingParameterField(
                name, tr(title), parentLayerParameterName="BUILDING", optional=True
            )
        )
    for name, title in (
        (
            "PROFILE",
            mark("Profile of fields: a kept name, or JSON (fields chosen above come first)"),
        ),
        ("KEEP_PROFILE", mark("Keep these fields under this name")),
    ):
        algorithm.addParameter(QgsProcessingParameterString(name, tr(title), "", optional=True))


def read_fields(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> FieldProfile:
    """The fields asked for; a kept profile fills what was not chosen. Keeps them where asked."""
    from ..building.field_profile import FieldProfile

    text = algorithm.parameterAsString(parameters, "PROFILE", context).strip()
    profile = _named(text) if text else FieldProfile()
    chosen = {"id": algorithm.parameterAsString(parameters, "ID_FIELD", context)}
    for meaning, (name, _) in PARAMETERS.items():
        chosen[meaning] = algorithm.parameterAsString(parameters, name, context)
    profile = replace(profile, **{key: value for key, value in chosen.items() if value})
    keep = algorithm.parameterAsString(parameters, "KEEP_PROFILE", context).strip()
    if keep:
        _keep(keep, profile)
    return profile


def check_fields(profile: FieldProfile, there: list[str], where: str) -> None:
    """SurveyError when a field that the profile names is not in the layer."""
    for one in fields(profile):
        name = getattr(profile, one.name)
        if isinstance(name, str) and name and name not in there:
            raise SurveyError(f"{where}: there is no field {name!r}; found {', '.join(there)}.")


def _kept() -> dict[str, Any]:
    value = QgsSettings().value(KEY, "")
    try:
        kept = json.loads(value) if isinstance(value, str) and value else {}
    except (ValueError, RecursionError):
        kept = {}
    return kept if isinstance(kept, dict) else {}


def _keep(name: str, profile: FieldProfile) -> None:
    from ..building.field_profile import profile_to_json

    QgsSettings().setValue(
        KEY, json.dumps({**_kept(), name: json.loads(profile_to_json(profile))}, sort_keys=True)
    )


def _named(text: str) -> FieldProfile:
    from ..building.field_profile import profile_from_json

    if text.startswith("{"):
        return profile_from_json(text, "PROFILE")
    kept = _kept()
    if text not in kept:
        there = ", ".join(sorted(kept)) or "none"
        raise SurveyError(f"PROFILE: there is no profile {text!r}; kept are: {there}.")
    return profile_from_json(json.dumps(kept[text]), f"PROFILE {text!r}")
