# SPDX-License-Identifier: GPL-2.0-or-later
"""Points of a LandXML file: coordinates, references between them, and which count as known.

By the schema every point (``PointType``: CgPoint, InstrumentPoint, TargetPoint, BacksightPoint)
holds "north east" or "north east elev", or the name of another point in `pntRef`, or both, and then
its own coordinates count. Standard errors are `northingStdError` and `eastingStdError`; `pntSurv`
(``survPntType``) and `role` (``surveyRoleType``) say what a point is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot, isfinite, nan, sqrt

from .findings import Findings, listed, shown
from .landxml_tree import Element
from .landxml_units import Numbers
from .model import KnownPoint

POINTS = ("CgPoint", "InstrumentPoint", "TargetPoint", "BacksightPoint")
CONTROL_KINDS = ("control", "monument", "reference")
NOT_THERE = ("proposed", "abandoned", "destroyed")
SAME_M, SAME_POINT_M = 0.001, 0.10
"""Two places of one CgPoint further apart than the first, or a CgPoint and what an observation
makes of it further apart than the second, are a contradiction."""

_LONGEST_CHAIN = 20
_EPSG = re.compile(r"(?:EPSG:*)?(\d{4,6})", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True)
class Place:
    """Where a point lies, in metres; NaN for a height or standard error that is not given.
    `control` says that the file marks the point as known, `real` that it stands in the field (a
    proposed point does not)."""

    north_m: float
    east_m: float
    height_m: float = nan
    sigma_m: float = nan
    control: bool = False
    real: bool = True
    line: int = 0


@dataclass(frozen=True)
class Points:
    """The points of a file by name, what their names refer to, and the coordinates that elements
    hold themselves (by the element's identity)."""

    places: Mapping[str, Place]
    refers: Mapping[str, str]
    own: Mapping[int, Place]

    def at(self, name: str) -> Place | None:
        """The place of a named point, over references; None where nothing gives it."""
        for _ in range(_LONGEST_CHAIN):
            if name in self.places:
                return self.places[name]
            if name not in self.refers:
                return None
            name = self.refers[name]
        return None

    def of(self, element: Element) -> Place | None:
        """Where the point of an element lies: its own coordinates, else those it refers to."""
        return self.own.get(id(element)) or self.at(name_of(element))

    def named(self, name: str) -> bool:
        """Whether the file has a point of that name, with or without coordinates."""
        return name in self.places or name in self.refers


def name_of(point: Element | None) -> str:
    """The name that an observation or set-up means by a point: that of the point it refers to, else
    its own."""
    if point is None:
        return ""
    return " ".join((point.get("pntRef") or point.get("name")).split())


def read_points(root: Element, numbers: Numbers, findings: Findings) -> Points:
    """All named points of a file. The first place of a point counts, CgPoints before the others; a
    warning tells of a second one elsewhere."""
    places: dict[str, Place] = {}
    refers: dict[str, str] = {}
    held: dict[int, Place] = {}
    found = [element for element in root.walk() if element.name in POINTS and element.whole]
    for element in sorted(found, key=lambda point: point.name != "CgPoint"):
        own = " ".join(element.get("name").split())
        place = _place(element, numbers, findings)
        if place is None:
            target = " ".join(element.get("pntRef").split())
            if own and target and own != target:
                refers.setdefault(own, target)
            continue
        held[id(element)] = place
        name = own or name_of(element)
        if not name:
            continue
        first = places.setdefault(name, place)
        apart = hypot(place.north_m - first.north_m, place.east_m - first.east_m)
        if apart > (SAME_M if element.name == "CgPoint" else SAME_POINT_M):
            findings.warn(
                f"the point {shown(name)} lies {apart:.3f} m from where line {first.line} puts "
                "it; the coordinates there are used.",
                element.line,
            )
    return Points(places, refers, held)


def _place(point: Element, numbers: Numbers, findings: Findings) -> Place | None:
    """The coordinates that a point itself holds; None where it has none or they cannot be read."""
    words = point.text.split()
    if not words:
        return None
    if len(words) not in (2, 3):
        findings.bad(
            f"the {point.name} {shown(name_of(point))} holds {shown(point.text)}; expected two or "
            "three numbers: northing, easting and, where known, elevation.",
            point.line,
        )
        return None
    what = ("northing", "easting", "elevation")
    values = [numbers.length_m(word, part, point.line) for word, part in zip(words, what)]
    north, east = values[:2]
    if north is None or east is None:
        return None
    height = values[2] if len(values) == 3 else None
    return Place(
        north_m=north,
        east_m=east,
        height_m=nan if height is None else height,
        sigma_m=_sigma_m(point, numbers),
        control=point.get("pntSurv") in CONTROL_KINDS or point.get("role") == "control point",
        real=point.get("state") not in NOT_THERE and point.get("role") != "to stake out",
        line=point.line,
    )


def known_points(
    points: Points, stations: Mapping[str, Place], crs: str
) -> tuple[tuple[KnownPoint, ...], str]:
    """Where a file says that points lie, and a sentence about it (empty where it says nothing).

    `stations` are the places of set-ups by station name. Where the file marks two or more points as
    control, only those are known: what the instrument computed from its own observations would
    otherwise count a second time, as if it were independent. Else every point is.
    """
    referring = {name: points.at(name) for name in points.refers}
    named = {**{name: p for name, p in referring.items() if p is not None}, **points.places}
    real = [
        (name, place, station)
        for places, station in ((named, False), (stations, True))
        for name, place in places.items()
        if place.real
    ]
    control = [entry for entry in real if entry[1].control]
    marked = len({(place.north_m, place.east_m) for _, place, _ in control}) >= 2
    known = tuple(
        KnownPoint(name, p.east_m, p.north_m, p.height_m, p.sigma_m, crs, station)
        for name, p, station in (control if marked else real)
    )
    if not known:
        return (), ""
    kind = "that the file marks as control" if marked else "in the file"
    names = listed(list(dict.fromkeys(point.name for point in known)))
    return known, (
        f"The coordinates {kind} ({names}), {crs_words(crs)}, are control for Plan from captures "
        "where it is given no CONTROL. Layers do not carry them: Georeference plan needs them as "
        "its CONTROL layer."
    )


def crs_words(crs: str) -> str:
    """How a coordinate system of known points is told."""
    if not crs:
        return "in a coordinate system that the file does not name"
    return f"in {crs if len(crs) < 20 else 'the coordinate system of its WKT'}"


def crs_of(root: Element, findings: Findings) -> str:
    """The reference system of the file's coordinates, ``EPSG:code`` or WKT; empty, with a warning,
    where it only names a datum."""
    for system in _systems(root):
        match = _EPSG.fullmatch(system.get("epsgCode"))
        if match:
            return f"EPSG:{match[1]}"
        wkt = system.get("ogcWktCode")
        if "[" in wkt or _EPSG.fullmatch(wkt):
            return wkt if "[" in wkt else f"EPSG:{wkt.rpartition(':')[2]}"
        names = [
            system.get(key)
            for key in ("name", "projectedCoordinateSystemName", "horizontalDatum")
            if system.get(key)
        ]
        if names:
            findings.warn(
                f"the coordinate system {shown(names[0])} has neither epsgCode nor ogcWktCode: "
                "nothing says where on the earth its coordinates lie.",
                system.line,
            )
            return ""
    return ""


def _systems(root: Element) -> Iterator[Element]:
    yield from root.all("CoordinateSystem")
    for survey in root.all("Survey"):
        for header in survey.all("SurveyHeader"):
            yield from header.all("CoordinateSystem")


def _sigma_m(point: Element, numbers: Numbers) -> float:
    """The standard error of a coordinate: the root mean square of north's and east's."""
    errors = []
    for key in ("northingStdError", "eastingStdError"):
        if not point.get(key):
            return nan
        error = numbers.length_m(point.get(key), key, point.line, least=0.0)
        errors.append(nan if error is None else error)
    sigma = sqrt((errors[0] ** 2 + errors[1] ** 2) / 2.0)
    # A coordinate without any error is one that was entered, not one that is perfect.
    return sigma if isfinite(sigma) and sigma > 0 else nan
