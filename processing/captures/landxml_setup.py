# SPDX-License-Identifier: GPL-2.0-or-later
"""Set-ups of a LandXML file and the raw observations made from them.

By the schema observations stand in an ``InstrumentSetup``, or in an ``ObservationGroup`` inside it,
or in a group beside it that names the set-up by `setupID`. Observations of a group share one
orientation of the circle; a group with a ``Backsight`` of its own has its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from math import isfinite

from ..progress import SILENT, Progress
from .findings import Findings, shown
from .header import KEYS
from .landxml_observation import BOOLEAN, Fields, Observation, ObservationReader
from .landxml_points import Place, Points, name_of
from .landxml_tree import Element
from .landxml_units import Numbers


@dataclass(frozen=True)
class Backsight:
    """A sighting of a known direction: the circle's reading there and, where given, its azimuth
    (NaN) and its point."""

    name: str
    place: Place | None
    azimuth_deg: float
    circle_deg: float


@dataclass
class Round:
    """Observations that share one orientation of the circle."""

    backsights: list[Backsight] = field(default_factory=list)
    observations: list[Observation] = field(default_factory=list)


@dataclass
class Setup:
    """An instrument set up over a point. The first round has the observations without a backsight
    of their own group; `azimuth_deg` and `circle_deg` are what the set-up itself says of its
    orientation (NaN: nothing)."""

    element: Element
    identity: str
    station: str
    height_m: float
    point: str
    place: Place | None
    level: int | None
    at: datetime | None
    azimuth_deg: float
    circle_deg: float
    details: str
    rounds: list[Round]
    left_out: int = 0


def read_setups(
    root: Element, numbers: Numbers, points: Points, findings: Findings, progress: Progress = SILENT
) -> list[Setup]:
    """The set-ups of a file in its order, with their observations."""
    fields = Fields(numbers, findings)
    observe = ObservationReader(fields, _target_setups(root))
    total = sum(element.name == "RawObservation" for element in root.walk())
    reader = _Reader(fields, observe, points, findings, progress, total)
    setups: dict[str, Setup] = {}
    begun: dict[str, datetime | None] = {}
    surveys = root.all("Survey")
    for survey in surveys:
        when = _survey_time(survey)
        for element in survey.all("InstrumentSetup"):
            reader.setup(element, setups)
            begun.setdefault(element.get("id"), when)
    for survey in surveys:
        for element in survey.children:
            if element.name == "InstrumentSetup" and element.get("id") in setups:
                own = setups[element.get("id")]
                if own.element is element:
                    reader.observations(element, own, setups)
            elif element.name == "ObservationGroup":
                reader.group(element, None, setups)
    for setup in setups.values():
        setup.at = setup.at or begun[setup.identity]
    return list(setups.values())


def _target_setups(root: Element) -> dict[str, Element]:
    found: dict[str, Element] = {}
    for survey in root.all("Survey"):
        for parent in (survey, *survey.all("InstrumentSetup")):
            for element in parent.all("TargetSetup"):
                found.setdefault(element.get("id"), element)
    return found


def _survey_time(survey: Element) -> datetime | None:
    """When a survey was begun; a date that cannot be read is none."""
    for element in (survey, *survey.all("SurveyHeader")):
        for key in ("startTime", "date"):
            try:
                when = KEYS["captured_at"].read(element.get(key))
            except ValueError:
                continue
            if isinstance(when, datetime):
                return when
    return None


@dataclass
class _Reader:
    fields: Fields
    observe: ObservationReader
    points: Points
    findings: Findings
    progress: Progress
    total: int
    done: int = 0

    def setup(self, element: Element, setups: dict[str, Setup]) -> None:
        """Read a set-up's own values and add it under its id."""
        identity = element.get("id")
        station = " ".join(element.get("stationName").split())
        point = element.first("InstrumentPoint")
        name = name_of(point)
        if not identity:
            self.findings.bad("the InstrumentSetup has no id; expected one.", element.line)
            return
        if identity in setups:
            self.findings.bad(
                f"the InstrumentSetup id {shown(identity)} is used before, in line "
                f"{setups[identity].element.line}; expected an id of its own for each.",
                element.line,
            )
            return
        height = self.fields.length(element, "instrumentHeight", least=0.0)
        azimuth = self.fields.direction(element, "orientationAzimuth")
        circle = self.fields.direction(element, "circleAzimuth")
        place = None
        if point is not None:
            place = self._place(point)
        setups[identity] = Setup(
            element=element,
            identity=identity,
            station=station or name or identity,
            height_m=height,
            point=name,
            place=place,
            level=self._level(element),
            at=None,
            azimuth_deg=azimuth,
            circle_deg=circle,
            details=element.get("instrumentDetailsID"),
            rounds=[Round()],
        )

    def observations(self, parent: Element, setup: Setup, setups: dict[str, Setup]) -> None:
        """Everything observed inside a set-up's element."""
        for child in parent.children:
            if child.name == "Backsight":
                self._backsight(child, setup.rounds[0])
            elif child.name == "RawObservation":
                self._raw(child, setup, setup.rounds[0], setups, None)
            elif child.name == "ObservationGroup":
                self.group(child, setup, setups)

    def group(self, element: Element, within: Setup | None, setups: dict[str, Setup]) -> None:
        """The observations of a group: of the set-up around it, or of the one it names."""
        own = within
        if element.get("setupID"):
            own = self._named(element, setups)
            if own is None:
                return
        rounds: dict[str, Round] = {}
        backsights = element.all("Backsight")
        target = element.first("TargetPoint")

        def round_of(setup: Setup) -> Round:
            # One round of its own for the group where it has a backsight.
            if not backsights:
                return setup.rounds[0]
            if setup.identity not in rounds:
                rounds[setup.identity] = Round()
                setup.rounds.append(rounds[setup.identity])
                for child in backsights:
                    self._backsight(child, rounds[setup.identity])
            return rounds[setup.identity]

        for child in element.all("RawObservation"):
            setup = self._named(child, setups) if child.get("setupID") else own
            if setup is None:
                if not child.get("setupID"):
                    self.findings.bad(
                        "the RawObservation names no set-up, nor does its group; expected setupID.",
                        child.line,
                    )
                continue
            self._raw(child, setup, round_of(setup), setups, target)

    def _named(self, element: Element, setups: dict[str, Setup]) -> Setup | None:
        identity = element.get("setupID")
        if identity not in setups:
            self.findings.bad(
                f"{element.name} names the set-up {shown(identity)}; expected the id of an "
                "InstrumentSetup of the file.",
                element.line,
            )
        return setups.get(identity)

    def _backsight(self, element: Element, round_: Round) -> None:
        circle = self.fields.angle(element, "circle")
        if not isfinite(circle):
            if not element.get("circle"):
                self.findings.bad(
                    "the Backsight has no circle; expected the circle's reading towards it.",
                    element.line,
                )
            return
        point = element.first("BacksightPoint")
        place = None
        if point is not None:
            place = self._place(point)
        azimuth = self.fields.direction(element, "azimuth")
        round_.backsights.append(Backsight(name_of(point), place, azimuth, circle))

    def _place(self, point: Element) -> Place | None:
        place, reference = self.points.of(point), point.get("pntRef")
        if place is None and reference and not self.points.named(name_of(point)):
            self.findings.warn(
                f"pntRef {shown(reference)} of the {point.name} is not a point of the file.",
                point.line,
            )
        return place

    def _raw(
        self,
        element: Element,
        setup: Setup,
        round_: Round,
        setups: dict[str, Setup],
        group_target: Element | None,
    ) -> None:
        self.done += 1
        if self.done % 500 == 1:
            self.progress.at(self.done / self.total)
        named = element.get("setupID")
        if named and named != setup.identity:
            other = self._named(element, setups)
            if other is None:
                return
            setup, round_ = other, other.rounds[0]
        if element.get("status") == "deleted" or BOOLEAN.get(element.get("unused"), False):
            setup.left_out += 1
            return
        observation = self.observe.read(element, element.first("TargetPoint") or group_target)
        if observation is None:
            return
        round_.observations.append(observation)
        if setup.at is None and element.get("timeStamp"):
            try:
                when = KEYS["captured_at"].read(element.get("timeStamp"))
            except ValueError:
                expected = KEYS["captured_at"].expected
                self.findings.bad(
                    f"timeStamp is {shown(element.get('timeStamp'))}; expected {expected}.",
                    element.line,
                )
            else:
                setup.at = when if isinstance(when, datetime) else None

    def _level(self, element: Element) -> int | None:
        """The storey from a Feature's Property of that name: LandXML has none of its own."""
        for feature in element.all("Feature"):
            for item in feature.all("Property"):
                if item.get("label").lower() == "level":
                    try:
                        return int(str(KEYS["level"].read(item.get("value"))))
                    except ValueError:
                        self.findings.bad(
                            f"the level is {shown(item.get('value'))}; expected "
                            f"{KEYS['level'].expected}.",
                            item.line,
                        )
        return None
