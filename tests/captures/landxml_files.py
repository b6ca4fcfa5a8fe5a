# SPDX-License-Identifier: GPL-2.0-or-later
"""Writes LandXML, independently of the reader: set-ups and observations in any of its units."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from xml.sax.saxutils import quoteattr

METRES = {
    "millimeter": 0.001, "centimeter": 0.01, "meter": 1.0, "kilometer": 1000.0, "foot": 0.3048,
    "USSurveyFoot": 1200 / 3937, "inch": 0.0254, "mile": 1609.344,
}  # fmt: skip
METRIC = ("millimeter", "centimeter", "meter", "kilometer")
ANGULAR = ("radians", "grads", "decimal degrees", "decimal dd.mm.ss")
NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"


@dataclass(frozen=True)
class Shot:
    """One observation: angles in degrees, lengths in metres; None is not written."""

    target: str
    circle: float
    zenith: float | None = 90.0
    slope: float | None = None
    direct: bool | None = True
    height: float | None = 0.0
    more: str = ""
    point: str = ""


@dataclass(frozen=True)
class Stand:
    """One set-up: its observations, what else stands inside it, and its own point."""

    identity: str
    station: str
    shots: tuple[Shot, ...] = ()
    height: float = 1.5
    point: str = ""
    inside: str = ""
    groups: bool = False


def angle(degrees: float, unit: str, digits: int = 10) -> str:
    """An angle as text; in dd.mm.ss the digits are those after the degrees."""
    if unit == "radians":
        return f"{degrees * pi / 180:.{digits + 2}f}"
    if unit == "grads":
        return f"{degrees / 0.9:.{digits}f}"
    if unit == "decimal degrees":
        return f"{degrees:.{digits}f}"
    # In whole parts of a second, so that nothing is rounded up to 60.
    parts = round(abs(degrees) * 3600 * 10 ** (digits - 4))
    seconds, rest = divmod(parts, 10 ** (digits - 4))
    minutes, second = divmod(seconds, 60)
    degree, minute = divmod(minutes, 60)
    sign = "-" if degrees < 0 else ""
    return f"{sign}{degree}.{minute:02d}{second:02d}{rest:0{digits - 4}d}"


def length(metres: float, unit: str) -> str:
    return f"{metres / METRES[unit]:.12g}"


def units(linear="meter", angular="decimal degrees", direction=None) -> str:
    system = "Metric" if linear in METRIC else "Imperial"
    return (
        f'<Units><{system} areaUnit="squareMeter" linearUnit="{linear}" angularUnit="{angular}" '
        f'directionUnit="{direction or angular}"/></Units>'
    )


def observation(shot: Shot, linear: str, angular: str, setup: str = "") -> str:
    values = {"horizAngle": angle(shot.circle, angular)}
    if setup:
        values["setupID"] = setup
    if shot.zenith is not None:
        values["zenithAngle"] = angle(shot.zenith, angular)
    if shot.slope is not None:
        values["slopeDistance"] = length(shot.slope, linear)
    if shot.direct is not None:
        values["directFace"] = "true" if shot.direct else "false"
    if shot.height is not None:
        values["targetHeight"] = length(shot.height, linear)
    attributes = " ".join(f"{key}={quoteattr(value)}" for key, value in values.items())
    point = shot.point or f"<TargetPoint name={quoteattr(shot.target)}/>"
    return f"<RawObservation {attributes} {shot.more}>{point}</RawObservation>"


def setup(stand: Stand, linear="meter", angular="decimal degrees") -> str:
    """A set-up's element; with `groups` its observations stand in a group that names it."""
    shots = "\n".join(
        observation(shot, linear, angular, stand.identity if stand.groups else "")
        for shot in stand.shots
    )
    point = f"<InstrumentPoint pntRef={quoteattr(stand.point)}/>" if stand.point else ""
    own = (
        f"<InstrumentSetup id={quoteattr(stand.identity)} stationName={quoteattr(stand.station)} "
        f'instrumentHeight="{length(stand.height, linear)}">\n{point}\n{stand.inside}\n'
    )
    if stand.groups:
        return f'{own}</InstrumentSetup>\n<ObservationGroup id="g">\n{shots}\n</ObservationGroup>'
    return f"{own}{shots}\n</InstrumentSetup>"


def landxml(
    stands,
    linear="meter",
    angular="decimal degrees",
    direction=None,
    points="",
    head="",
    declaration='<?xml version="1.0" encoding="UTF-8"?>',
) -> str:
    """A whole file; `points` are CgPoint elements, `head` goes before them."""
    body = "\n".join(setup(stand, linear, angular) for stand in stands)
    return (
        f'{declaration}\n<LandXML xmlns="{NAMESPACE}" version="1.2" date="2026-03-18" '
        f'time="09:00:00">\n{units(linear, angular, direction)}\n{head}\n'
        f'<CgPoints>{points}</CgPoints>\n<Survey>\n<SurveyHeader name="s"/>\n{body}\n</Survey>\n'
        "</LandXML>\n"
    )


def cg_point(name, north, east, height=None, linear="meter", more='pntSurv="control"') -> str:
    values = [north, east] + ([height] if height is not None else [])
    text = " ".join(length(value, linear) for value in values)
    return f"<CgPoint name={quoteattr(name)} {more}>{text}</CgPoint>"
