# SPDX-License-Identifier: GPL-2.0-or-later
"""One raw observation of a LandXML file, read and checked.

`directFace` is false for an observation with the telescope reversed; where it is missing, a zenith
angle above 180 degrees tells as much.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite, nan, radians, sin

from .findings import Findings, shown
from .landxml_points import name_of
from .landxml_tree import Element
from .landxml_units import Numbers

BOOLEAN = {"true": True, "1": True, "false": False, "0": False}
_OFFSETS = ("offsetInOut", "offsetLeftRight", "offsetUpDown")
DISTANCES_AGREE_M = 0.005
"""Slope and horizontal distance of one observation that differ by more contradict each other."""


@dataclass(frozen=True)
class Observation:
    """One raw observation in degrees and metres, NaN for what it does not give. `circle_deg` is the
    horizontal circle's reading as it stands, `zenith_deg` the vertical circle's, `reversed_` the
    telescope's face; `offset_m` (in or out, left or right, up or down) leads from what was sighted
    to the target, as seen from the instrument."""

    target: str
    circle_deg: float
    zenith_deg: float
    slope_m: float
    horizontal_m: float
    vertical_m: float
    reversed_: bool
    target_height_m: float
    offset_m: tuple[float, float, float]
    line: int


@dataclass
class Fields:
    """Reads numbers from attributes: NaN for one that is missing or, where that may be skipped,
    cannot be read."""

    numbers: Numbers
    findings: Findings

    def length(self, element: Element, key: str, least: float = float("-inf")) -> float:
        return self._read(
            element, key, lambda t: self.numbers.length_m(t, key, element.line, least)
        )

    def angle(self, element: Element, key: str) -> float:
        return self._read(element, key, lambda t: self.numbers.angle_deg(t, key, element.line))

    def direction(self, element: Element, key: str) -> float:
        return self._read(
            element, key, lambda t: self.numbers.angle_deg(t, key, element.line, direction=True)
        )

    @staticmethod
    def _read(element: Element, key: str, read: Callable[[str], float | None]) -> float:
        value = read(element.get(key)) if element.get(key) else None
        return nan if value is None else float(value)


@dataclass
class ObservationReader:
    """Reads raw observations; `target_setups` are the TargetSetup elements of the file by id."""

    fields: Fields
    target_setups: Mapping[str, Element]

    @property
    def _findings(self) -> Findings:
        return self.fields.findings

    def read(self, element: Element, point: Element | None) -> Observation | None:
        """The observation of an element and the point it was made of; None, and a finding, where
        it cannot be used."""
        line, bad = element.line, self._findings.bad
        target = name_of(point)
        if not target:
            bad(
                "the RawObservation names no target; expected a TargetPoint with pntRef or name.",
                line,
            )
            return None
        found = len(self._findings.skipped)
        circle = self.fields.angle(element, "horizAngle")
        zenith = self.fields.angle(element, "zenithAngle")
        # A distance of 0 is one that was not measured, as in capture text.
        slope = self.fields.length(element, "slopeDistance", least=0.0) or nan
        horizontal = self.fields.length(element, "horizDistance", least=0.0) or nan
        vertical = self.fields.length(element, "vertDistance")
        height = self.fields.length(element, "targetHeight")
        if not element.get("targetHeight") and element.get("targetSetupID"):
            height = self._setup_height(element)
        offset = self._offset(element.first("OffsetVals"))
        if len(self._findings.skipped) > found:
            return None
        if not isfinite(circle):
            bad(f"the observation of {shown(target)} has no horizAngle; expected one.", line)
            return None
        reversed_ = self._face(element, zenith, target)
        if reversed_ is None:
            return None
        if isfinite(slope) and not (isfinite(zenith) or isfinite(horizontal) or isfinite(vertical)):
            bad(
                f"the observation of {shown(target)} has a slopeDistance, but neither zenithAngle "
                "nor horizDistance nor vertDistance; expected one of them, to reduce it to the "
                "horizontal.",
                line,
            )
            return None
        if isfinite(slope) and isfinite(vertical) and abs(vertical) > slope + DISTANCES_AGREE_M:
            bad(
                f"the observation of {shown(target)} has a vertDistance of {vertical:.3f} m, more "
                f"than its slopeDistance of {slope:.3f} m; expected less.",
                line,
            )
            return None
        reduced = slope * abs(sin(radians(zenith)))
        if abs(reduced - horizontal) > DISTANCES_AGREE_M:
            self._findings.warn(
                f"the horizDistance of {shown(target)}, {horizontal:.3f} m, differs from "
                f"slopeDistance and zenithAngle, {reduced:.3f} m; the latter are used.",
                line,
            )
        return Observation(
            target, circle, zenith, slope, horizontal, vertical, reversed_, height, offset, line
        )

    def _face(self, element: Element, zenith_deg: float, target: str) -> bool | None:
        """Whether the telescope was reversed; None, and a finding, where the values do not fit."""
        line, word = element.line, element.get("directFace")
        if isfinite(zenith_deg) and not 0.0 <= zenith_deg <= 360.0:
            self._findings.bad(
                f"zenithAngle is {shown(element.get('zenithAngle'))} ({zenith_deg:g} deg); "
                "expected 0 to 180 deg, or 180 to 360 deg with the telescope reversed.",
                line,
            )
            return None
        if not word:
            return zenith_deg > 180.0
        if word not in BOOLEAN:
            self._findings.bad(f"directFace is {shown(word)}; expected true or false.", line)
            return None
        direct = BOOLEAN[word]
        if isfinite(zenith_deg) and (zenith_deg > 180.0 if direct else zenith_deg < 180.0):
            expected = "0 to 180" if direct else "180 to 360"
            self._findings.bad(
                f"directFace is {word} in the observation of {shown(target)}, but its zenithAngle "
                f"is {zenith_deg:g} deg; expected {expected} deg in that face.",
                line,
            )
            return None
        return not direct

    def _setup_height(self, element: Element) -> float:
        target = self.target_setups.get(element.get("targetSetupID"))
        if target is None:
            self._findings.warn(
                f"targetSetupID {shown(element.get('targetSetupID'))} is not a TargetSetup of the "
                "file.",
                element.line,
            )
            return nan
        return self.fields.length(target, "targetHeight")

    def _offset(self, element: Element | None) -> tuple[float, float, float]:
        if element is None:
            return (0.0, 0.0, 0.0)
        values = [self.fields.length(element, key) if element.get(key) else 0.0 for key in _OFFSETS]
        return (values[0], values[1], values[2])
