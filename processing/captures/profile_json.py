# SPDX-License-Identifier: GPL-2.0-or-later
"""Profiles as JSON: the form in which they are kept, exchanged and given as a parameter."""

from __future__ import annotations

import json
from dataclasses import MISSING, asdict, fields
from typing import Any

from ..errors import SurveyError
from .findings import shown
from .profile import Look, Profile, Span

SCHEMA = "roomtie-text-profile"
VERSION = 1
LARGEST = 100_000
"""No profile is larger, in bytes."""

_EXPECTED = {
    str: "text",
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    tuple: "a list of texts",
}
_TYPES: dict[str, type] = {
    "name": str,
    "columns": tuple,
    "angle_unit": str,
    "distance_unit": str,
    "rotation": str,
    "separator": str,
    "decimal_comma": bool,
    "skip_lines": int,
    "has_names": bool,
    "comment_sign": str,
    "angle_zero_deg": float,
    "distance_zero_mm": float,
    "no_return": tuple,
    "encoding": str,
}
_LOOK = ("names", "contents", "spans", "distance")


def profile_to_json(profile: Profile) -> str:
    """A profile as JSON text, the same for equal profiles."""
    values = {"schema": SCHEMA, "version": VERSION, **asdict(profile)}
    return json.dumps(values, ensure_ascii=False, indent=2)


def profile_from_json(text: str, where: str = "The profile") -> Profile:
    """The profile of a JSON text.

    Raises `SurveyError`, one sentence beginning with `where`, when it is none: no JSON, another
    schema or a later version, a key too many, one missing, or a value of another type.
    """
    if len(text) > LARGEST or len(text.encode("utf-8", "surrogatepass")) > LARGEST:
        raise SurveyError(f"{where} is larger than {LARGEST} bytes; expected a profile.")
    try:
        values = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        raise SurveyError(
            f"{where}, line {error.lineno}: this is no JSON ({error.msg}); expected a profile."
        ) from error
    except (RecursionError, ValueError) as error:
        raise SurveyError(
            f"{where} holds what JSON does not allow, or is nested too deep; expected a profile."
        ) from error
    if not isinstance(values, dict) or values.get("schema") != SCHEMA:
        raise SurveyError(
            f'{where} is JSON, but no profile; expected an object with "schema": "{SCHEMA}".'
        )
    version = values.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version != VERSION:
        raise SurveyError(
            f"{where} has the schema version {shown(json.dumps(version))}; expected {VERSION}."
        )
    return _profile(values, where)


def _no_constant(name: str) -> float:
    raise ValueError(name)


def _profile(values: dict[str, Any], where: str) -> Profile:
    known = {"schema", "version", "look", *_TYPES}
    for key in values:
        if key not in known:
            raise SurveyError(f"{where} has the unknown key {shown(key)}.")
    needed = {part.name for part in fields(Profile) if part.default is MISSING}
    given: dict[str, Any] = {}
    for key, kind in _TYPES.items():
        if key in values:
            given[key] = _value(values[key], kind, key, where)
        elif key in needed:
            raise SurveyError(f"{where} lacks the key {key}; expected {_EXPECTED[kind]}.")
    look = values.get("look")
    try:
        return Profile(**given, look=None if look is None else _look(look, where))
    except SurveyError as error:
        message = str(error)
        raise SurveyError(message if message.startswith(where) else f"{where}: {message}") from None


def _value(value: Any, kind: type, key: str, where: str) -> Any:
    if kind is tuple and isinstance(value, list) and all(isinstance(v, str) for v in value):
        return tuple(value)
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if kind is float and number and abs(value) < 1e300:
        return float(value)
    if kind in (str, bool) and isinstance(value, kind):
        return value
    if kind is int and number and isinstance(value, int):
        return value
    raise SurveyError(f"{where}: {key} is {shown(json.dumps(value))}; expected {_EXPECTED[kind]}.")


def _look(value: Any, where: str) -> Look:
    if not isinstance(value, dict) or any(key not in _LOOK for key in value):
        raise SurveyError(
            f"{where}: look is {shown(json.dumps(value))}; expected an object with "
            f"{', '.join(_LOOK)}."
        )
    names = _value(value.get("names", []), tuple, "look.names", where)
    contents = _value(value.get("contents", []), tuple, "look.contents", where)
    spans = value.get("spans", [])
    if not isinstance(spans, list):
        raise SurveyError(f"{where}: look.spans is {shown(json.dumps(spans))}; expected a list.")
    distance = value.get("distance")
    return Look(
        names,
        contents,
        tuple(_span(span, where) for span in spans),
        None if distance is None else _value(distance, float, "look.distance", where),
    )


def _span(span: Any, where: str) -> Span | None:
    if span is None:
        return None
    if not isinstance(span, list) or len(span) != 2:
        raise SurveyError(
            f"{where}: a span is {shown(json.dumps(span))}; expected two numbers or null."
        )
    low, high = (_value(end, float, "a span's end", where) for end in span)
    return low, high
