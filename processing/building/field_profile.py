# SPDX-License-Identifier: GPL-2.0-or-later
"""What the fields of a maintained layer mean, said once and kept by name."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from ..errors import SurveyError

SCHEMA, VERSION = "roomtie-building-layer", 1
LARGEST = 100_000
FARTHEST_LEVEL = 1e6


@dataclass(frozen=True)
class FieldProfile:
    """Names of fields by what they mean; empty where the layer has none. `levels` gives the storey
    ordinals of texts (``{"EG": 0}``) where the level field holds no numbers."""

    id: str = ""
    room_name: str = ""
    level: str = ""
    area: str = ""
    accuracy: str = ""
    valid_from: str = ""
    valid_to: str = ""
    survey_date: str = ""
    report_hash: str = ""
    levels: Mapping[str, int] = field(default_factory=dict)

    def level_of(self, value: Any, where: str) -> int:
        """The storey ordinal of a value; SurveyError when it means none."""
        text = str(value).strip()
        if text in self.levels:
            return self.levels[text]
        try:
            number = float(text)
        except ValueError:
            number = float("nan")
        if not abs(number) <= FARTHEST_LEVEL or number != round(number):
            known = ", ".join(self.levels) or "none"
            raise SurveyError(
                f"{where}: the storey is {text!r}, expected a whole number or one of the texts "
                f"that the profile explains ({known})."
            )
        return int(number)

    def level_text(self, level: int) -> str:
        """What the layer writes for a storey."""
        return next((text for text, own in self.levels.items() if own == level), str(level))


def profile_to_json(profile: FieldProfile) -> str:
    """A profile as JSON, the same for equal profiles."""
    values = {"schema": SCHEMA, "version": VERSION}
    values.update({f.name: getattr(profile, f.name) for f in fields(profile) if f.name != "levels"})
    return json.dumps({**values, "levels": dict(sorted(profile.levels.items()))}, indent=2)


def profile_from_json(text: str, where: str) -> FieldProfile:
    """The profile of a JSON text; SurveyError in one sentence when it is none."""
    if len(text) > LARGEST:
        raise SurveyError(f"{where} is longer than {LARGEST} signs; expected a profile.")
    try:
        values = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise SurveyError(f"{where} is no JSON; expected a profile of a building layer.") from error
    if not isinstance(values, dict) or values.pop("schema", None) != SCHEMA:
        raise SurveyError(f'{where} is no profile; expected an object with "schema": "{SCHEMA}".')
    if values.pop("version", None) != VERSION:
        raise SurveyError(f"{where} has another version of the schema; expected {VERSION}.")
    levels = values.pop("levels", {})
    known = {one.name for one in fields(FieldProfile)} - {"levels"}
    for key, value in values.items():
        if key not in known or not isinstance(value, str):
            raise SurveyError(
                f"{where}: {key} is {value!r}; expected texts for {', '.join(sorted(known))}."
            )
    if not isinstance(levels, dict) or any(type(v) is not int for v in levels.values()):
        raise SurveyError(f"{where}: levels is {levels!r}; expected whole numbers by text.")
    return FieldProfile(**values, levels=levels)
