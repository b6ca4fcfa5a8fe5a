# SPDX-License-Identifier: GPL-2.0-or-later
"""The header values of a capture: which keys there are and what each may hold."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from difflib import get_close_matches
from math import inf, isfinite

from .findings import Findings, Rules, shown
from .instrument_errors import LARGEST_ECCENTRICITY_MM, LARGEST_SCALE_PPM
from .units import CLOCKWISE, FULL_TURN, METRES

_TIME = re.compile(
    r"(\d{4})-?(\d\d)-?(\d\d)"
    r"(?:[T ](\d\d):?(\d\d)(?::?(\d\d)(?:[.,](\d{1,9}))?)?\s*(Z|[+-]\d\d(?::?\d\d)?)?)?",
    re.IGNORECASE | re.ASCII,
)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE | re.ASCII)
_INTEGER = re.compile(r"[+-]?\d{1,6}", re.ASCII)


def _text(value: str) -> str:
    return value


def _integer(value: str) -> int:
    if not _INTEGER.fullmatch(value):
        raise ValueError(value)
    return int(value)


def _time(value: str) -> datetime:
    """ISO 8601 calendar dates, extended or basic, with or without time and offset."""
    match = _TIME.fullmatch(value)
    if not match:
        raise ValueError(value)
    year, month, day, hour, minute, second, fraction, offset = match.groups()
    zone = None
    if offset:
        digits = offset[1:].replace(":", "").ljust(4, "0")
        minutes = 0 if offset in "Zz" else int(digits[:2]) * 60 + int(digits[2:])
        zone = timezone(timedelta(minutes=-minutes if offset[0] == "-" else minutes))
    return datetime(
        int(year),
        int(month),
        int(day),
        int(hour or 0),
        int(minute or 0),
        int(second or 0),
        int((fraction or "").ljust(6, "0")[:6]),
        tzinfo=zone,
    )


def _number(low: float = -inf, high: float = inf, above: float = -inf) -> Callable[[str], float]:
    def read(value: str) -> float:
        if not _NUMBER.fullmatch(value):
            raise ValueError(value)
        number = float(value)
        if not isfinite(number) or not low <= number <= high or number <= above:
            raise ValueError(value)
        return number

    return read


def _one_of(words: Iterable[str]) -> Callable[[str], str]:
    allowed = tuple(words)

    def read(value: str) -> str:
        if value.lower() not in allowed:
            raise ValueError(value)
        return value.lower()

    return read


def _yes_no(value: str) -> bool:
    return {"yes": True, "no": False}[value.lower()]


@dataclass(frozen=True)
class Key:
    """How a key's value is read, what a good one is, and the capture's field that it fills (none
    for units and rotation, which are used up in reading), with the factor to the field's unit."""

    read: Callable[[str], object]
    expected: str
    field: str | None = None
    factor: float = 1.0


_TURN = "a number of degrees from -360 to 360"
_ABOVE_ZERO = "a number above 0"
KEYS: dict[str, Key] = {
    "station": Key(_text, "a name", "station"),
    "level": Key(_integer, "a whole number (0 is the ground storey)", "level"),
    "captured_at": Key(_time, "a time such as 2026-03-18T09:00:00+01:00", "captured_at"),
    "angle_unit": Key(_one_of(FULL_TURN), "deg, gon or rad"),
    "distance_unit": Key(_one_of(METRES), "m, cm, mm, ft or in"),
    "rotation": Key(_one_of(CLOCKWISE), "clockwise or counterclockwise"),
    "instrument_height_m": Key(_number(low=0.0), "a number of metres", "instrument_height_m"),
    "magnetic_azimuth_deg": Key(_number(-360.0, 360.0), _TURN, "magnetic_azimuth_deg"),
    "magnetic_azimuth_sigma_deg": Key(
        _number(above=0.0), _ABOVE_ZERO, "magnetic_azimuth_sigma_deg"
    ),
    "longitude_deg": Key(_number(-180.0, 180.0), "a number from -180 to 180", "longitude_deg"),
    "latitude_deg": Key(_number(-90.0, 90.0), "a number from -90 to 90", "latitude_deg"),
    "geotag_sigma_m": Key(_number(above=0.0), _ABOVE_ZERO, "geotag_sigma_m"),
    "ellipsoidal_height_m": Key(_number(), "a number of metres", "ellipsoidal_height_m"),
    "tilt_deg": Key(_number(-90.0, 90.0), "a number from -90 to 90", "tilt_deg"),
    "moved": Key(_yes_no, "yes or no", "moved"),
    "compass_calibrated": Key(_yes_no, "yes or no", "compass_calibrated"),
    "distance_sigma_mm": Key(_number(above=0.0), _ABOVE_ZERO, "distance_sigma_m", 1e-3),
    "angle_sigma_deg": Key(_number(above=0.0), _ABOVE_ZERO, "angle_sigma_deg"),
    "distance_zero_mm": Key(_number(), "a number of millimetres", "distance_zero_m", 1e-3),
    "axis_eccentricity_mm": Key(
        _number(-LARGEST_ECCENTRICITY_MM, LARGEST_ECCENTRICITY_MM),
        f"a number of millimetres from -{LARGEST_ECCENTRICITY_MM:g} to "
        f"{LARGEST_ECCENTRICITY_MM:g}, to the right of the axis along the beam",
        "axis_eccentricity_m",
        1e-3,
    ),
    "angle_scale_ppm": Key(
        _number(-LARGEST_SCALE_PPM, LARGEST_SCALE_PPM),
        f"a number of parts per million from -{LARGEST_SCALE_PPM:g} to {LARGEST_SCALE_PPM:g}",
        "angle_scale",
        1e-6,
    ),
    "comment": Key(_text, "text", "comment"),
}
"""Every key of the contract; any other one is kept as text."""

_LONGEST_KEY = 60
"""A longer one is no slip of the pen for any of them."""


@dataclass
class Header:
    """The values of one capture's header by key, and the keys that are not the contract's."""

    values: dict[str, object] = field(default_factory=dict)
    written: dict[str, str] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    texts: dict[str, list[str]] = field(default_factory=dict)

    @property
    def other(self) -> dict[str, str]:
        """What is kept as text, by key."""
        return {key: "; ".join(values) for key, values in self.texts.items()}

    def add(self, key: str, value: str, findings: Findings, line: int | None = None) -> None:
        """Read one ``key: value``; a bad value goes to the findings, a blank one is none."""
        name = key.lower()
        if not value:
            return
        if name not in KEYS:
            self._keep(key, value, findings, line)
            return
        if name == "comment":
            self.comments.append(value)
            return
        rule = KEYS[name]
        if self.written.get(name, value) != value:
            findings.bad(
                f"{name} is {shown(value)}, but {shown(self.written[name])} before in the same "
                "header; expected one value.",
                line,
            )
            return
        try:
            self.values[name] = rule.read(value)
        except (ValueError, KeyError, OverflowError):
            findings.bad(f"{name} is {shown(value)}; expected {rule.expected}.", line)
            return
        self.written[name] = value

    def _keep(self, key: str, value: str, findings: Findings, line: int | None) -> None:
        new = key not in self.texts
        self.texts.setdefault(key, []).append(value)
        if new and len(key) <= _LONGEST_KEY:
            like = get_close_matches(key.lower(), KEYS, n=1, cutoff=0.85)
            if like:
                findings.warn(f"the key {shown(key)} is kept as text; is {like[0]} meant?", line)

    def fields(self) -> dict[str, object]:
        """The values as fields of a `Capture`."""
        fields: dict[str, object] = {
            rule.field: value * rule.factor if isinstance(value, float) else value
            for name, rule in KEYS.items()
            if rule.field and (value := self.values.get(name)) is not None
        }
        if self.comments:
            fields["comment"] = " ".join(self.comments)
        return fields

    def choice(self, name: str, rules: Rules, findings: Findings, line: int) -> str | None:
        """A unit or the rotation: the user's word first, then the file's.

        None, and a finding that names the key, when neither says it.
        """
        given: str | None = getattr(rules, name)
        own = self.values.get(name)
        if given is not None:
            if own is not None and own != given:
                findings.warn(f"{name} is {own} in the file; {given} was asked for and used.", line)
            return given
        if own is not None:
            return str(own)
        like = get_close_matches(name, [k for k in self.texts if len(k) <= _LONGEST_KEY], n=1)
        found = f"there is only {shown(like[0])}" if like else "there is none"
        findings.bad(
            f"the key {name} is missing from the header ({found}); expected a line "
            f"'# {name}: ...' with {KEYS[name].expected}, or the value as a parameter.",
            line,
        )
        return None

    def check_geotag(self, findings: Findings, line: int | None = None) -> None:
        """Say when one of longitude and latitude stands alone."""
        pair = [name for name in ("longitude_deg", "latitude_deg") if name in self.values]
        if len(pair) == 1:
            findings.warn(f"the header has only {pair[0]}: half a geotag is not used.", line)
