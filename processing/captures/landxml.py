# SPDX-License-Identifier: GPL-2.0-or-later
"""LandXML 1.2 from a total station: sightings of targets, and coordinates of points.

Names of elements and attributes, units and their defaults are those of the published schema
LandXML-1.2 (www.landxml.org/schema/LandXML-1.2; checked against its documentation and against
classes generated from it), read regardless of prefix and namespace, so that 1.0 and 1.1 are read as
far as they agree. The schema leaves open which way a horizontal circle counts: clockwise, as every
total station does (common practice).

Where the schema and this project differ: LandXML has no storey, so a set-up is on level 0 unless a
``Feature`` in it has a ``Property`` with the label "level"; distances are taken as they stand, that
is, with prism constants and atmosphere already applied; reduced observations, GNSS and levelling
are not read.
"""

from __future__ import annotations

import re
from dataclasses import replace
from hashlib import sha256
from math import nan
from pathlib import Path
from types import MappingProxyType

from ..progress import SILENT, Progress
from .findings import Findings, listed, shown
from .landxml_capture import capture_of
from .landxml_points import Place, crs_of, known_points, read_points
from .landxml_setup import Setup, read_setups
from .landxml_tree import Element, parse_tree, root_name
from .landxml_units import Numbers, numbers_of
from .model import Capture, Survey

ROOT = "LandXML"
KEPT = ("Units", "CoordinateSystem", "CgPoints", "Survey")
_TAG = re.compile(rb"<(?:[\w.-]+:)?LandXML[\s/>]")
PLAUSIBLE_PRECISION_DEG = (0.1 / 3600.0, 60.0 / 3600.0)
"""A circle reading's standard error between a tenth of a second and a minute."""


def is_landxml(data: bytes) -> bool:
    """Whether the first part of a file is XML whose root element is LandXML.

    A file that is broken, or not to be read, before its root begins is one where the root's tag
    stands: then the reader says what is wrong."""
    root = root_name(data)
    if root:
        return root == ROOT
    # Without its noughts and marks the beginning reads the same in UTF-8 and UTF-16.
    plain = data.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    return plain.startswith(b"<") and bool(_TAG.search(plain))


def read_landxml(
    source: Path | bytes,
    *,
    name: str | None = None,
    skip_unreadable: bool = False,
    progress: Progress = SILENT,
) -> Survey:
    """The set-ups of a file as captures with target readings, and its coordinates as known points.

    Observations of a target in both faces are averaged and their differences told in
    `Capture.remarks`; angles are turned to the backsight, and `Capture.other` says how. A file that
    holds coordinates only has no captures.

    Raises `SurveyError` naming file and line; with `skip_unreadable` what cannot be read is left
    out and told in `Survey.skipped`.
    """
    data = source.read_bytes() if isinstance(source, Path) else source
    if name is None:
        name = source.name if isinstance(source, Path) else "LandXML"
    findings = Findings(name, skip_unreadable)
    root = parse_tree(data, ROOT, KEPT, findings, progress.part(0.0, 0.6))
    survey = Survey(())
    if root is not None:
        numbers = numbers_of(root, findings)
        if numbers is not None:
            survey = _survey(root, numbers, findings, progress.part(0.6, 1.0))
    return replace(
        survey,
        skipped=tuple(findings.skipped),
        warnings=tuple(findings.warnings),
        digests=MappingProxyType({name: sha256(data).hexdigest()}),
    )


def _survey(root: Element, numbers: Numbers, findings: Findings, progress: Progress) -> Survey:
    points = read_points(root, numbers, findings)
    setups = read_setups(root, numbers, points, findings, progress.part(0.0, 0.7))
    precision = _precision(root, numbers, findings)
    captures: list[Capture] = []
    stations: dict[str, Place] = {}
    names: set[str] = set()
    for part, setup in progress.part(0.7, 1.0).each(setups):
        if not any(round_.observations for round_ in setup.rounds):
            continue
        station = _station_name(setup, names, findings)
        if setup.place is not None:
            stations[station] = setup.place
        own = precision.get(setup.details, nan)
        captures.append(capture_of(setup, station, findings.file, own, part))
    known, sentence = known_points(
        points, stations, crs_of(root, findings) if points.places else ""
    )
    if sentence:
        findings.warn(sentence)
    _say_what_is_not_read(root, setups, captures, findings, bool(known))
    return Survey(tuple(captures), known_points=known)


def _station_name(setup: Setup, names: set[str], findings: Findings) -> str:
    """A name of its own for each set-up: a point may be occupied twice."""
    name = setup.station
    if name in names:
        name = f"{setup.station} ({setup.identity})"
        findings.warn(
            f"the stationName {shown(setup.station)} is used before; this set-up is called "
            f"{shown(name)}.",
            setup.element.line,
        )
    names.add(name)
    return name


def _precision(root: Element, numbers: Numbers, findings: Findings) -> dict[str, float]:
    """The standard error of a circle reading (deg) by the id of its InstrumentDetails. The schema
    names no unit of its own for it; in the file's angular unit it must come to something that an
    instrument can have."""
    found: dict[str, float] = {}
    low, high = PLAUSIBLE_PRECISION_DEG
    for survey in root.all("Survey"):
        for equipment in survey.all("Equipment"):
            for details in equipment.all("InstrumentDetails"):
                text = details.get("horizAnglePrecision")
                if not text:
                    continue
                value = numbers.angle_deg(text, "horizAnglePrecision", details.line)
                if value is not None and low <= value <= high:
                    found[details.get("id")] = value
                elif value:
                    findings.warn(
                        f"horizAnglePrecision is {shown(text)}, {value:g} deg in the file's "
                        "angularUnit, which no instrument has; it is not used.",
                        details.line,
                    )
    return found


def _say_what_is_not_read(
    root: Element, setups: list[Setup], captures: list[Capture], findings: Findings, known: bool
) -> None:
    """One sentence about each kind of thing that a person may miss."""
    without = [s.station for s in setups if not any(r.observations for r in s.rounds)]
    if not captures and not known:
        found = f"the set-ups {listed(without)} without one" if without else "none"
        findings.bad(
            f"expected InstrumentSetup elements with RawObservation in a Survey; found {found}.",
            root.line,
        )
        return
    if not captures and not without:
        findings.warn("it holds coordinates, and no observations.")
    if without:
        findings.warn(f"the set-ups {listed(without)} have no RawObservation and are left out.")
    if captures and all(setup.level is None for setup in setups):
        findings.warn(
            "LandXML has no storeys: its set-ups are taken as on level 0 (a Feature in a set-up "
            "with a Property labelled level says otherwise)."
        )
    sighted = {str(name) for capture in captures for name in capture.target}
    stood_on = sorted({s.point or s.station for s in setups} & sighted)
    if stood_on and len(captures) > 1:
        findings.warn(
            f"the instrument stood over {listed(stood_on)} and sighted "
            f"{'it' if len(stood_on) == 1 else 'them'} too: set-ups are tied by targets that both "
            "sighted, not by sightings of one another."
        )
    elements = list(root.walk())
    reduced = sum(element.name == "ReducedObservation" for element in elements)
    if reduced:
        findings.warn(f"{reduced} ReducedObservation elements are not read, raw ones only.")
    prisms = {e.get("prismConstant") for e in elements if e.name == "TargetSetup"} - {"", "0"}
    if prisms:
        findings.warn(
            f"the prism constant ({listed(sorted(prisms))}) is taken as already in the distances."
        )
