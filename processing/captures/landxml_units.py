# SPDX-License-Identifier: GPL-2.0-or-later
"""Numbers of a LandXML file in its units.

Names, meanings and defaults are those of the published schema LandXML-1.2 (landxml.org): elements
``Metric`` and ``Imperial`` with `linearUnit` (``metLinear``, ``impLinear``), `angularUnit` and
`directionUnit` (``angularType``; both default to radians). Of "decimal dd.mm.ss" the schema says:
45.3025 is 45 degrees, 30 minutes and 25 seconds.

The foot is the international one of `captures.units`; the US survey foot is 1200/3937 m (NIST SP
811, appendix B.6), the mile 5280 international feet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from math import pi
from types import MappingProxyType

from .findings import Findings, shown
from .landxml_tree import Element
from .units import METRES, ROUNDING

DMS = "decimal dd.mm.ss"
LINEAR = MappingProxyType(
    {
        "Metric": MappingProxyType(
            {"millimeter": 0.001, "centimeter": 0.01, "meter": 1.0, "kilometer": 1000.0}
        ),
        "Imperial": MappingProxyType(
            {
                "foot": METRES["ft"],
                "USSurveyFoot": 1200.0 / 3937.0,
                "inch": METRES["in"],
                "mile": 5280.0 * METRES["ft"],
            }
        ),
    }
)
"""Metres in a `linearUnit` of each system."""

ANGULAR = MappingProxyType({"radians": 180.0 / pi, "grads": 0.9, "decimal degrees": 1.0, DMS: 1.0})
"""Degrees in an `angularUnit` or `directionUnit`, once minutes and seconds are taken apart."""

# Decimal digits as xsd:double has them; "NaN", "INF" and "1_000" are numbers to Python or XML only.
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
# A millionth of a second: what a double at 400 still holds, so that 45.29999999999999 written for
# 45.3 is 45 deg 30 min and not 29 min and 99.99 seconds.
_LAST_DIGIT = Decimal("1e-10")


@dataclass(frozen=True)
class Numbers:
    """Reads numbers in a file's units: `metre` metres in its linear unit, units of angles and of
    directions by the schema's names."""

    metre: float
    angular: str
    direction: str
    findings: Findings

    def plain(self, text: str, what: str, line: int) -> float | None:
        """A number; None, and a finding, where the text is none."""
        if not _NUMBER.fullmatch(text) or len(text) > 60:
            self.findings.bad(f"{what} is {shown(text)}; expected a number.", line)
            return None
        number = float(text)
        if abs(number) > 1e12:
            self.findings.bad(f"{what} is {shown(text)}; expected a number of this earth.", line)
            return None
        return number

    def length_m(
        self, text: str, what: str, line: int, least: float = float("-inf")
    ) -> float | None:
        """A length in metres, not below `least`."""
        number = self.plain(text, what, line)
        if number is not None and number < least:
            self.findings.bad(f"{what} is {shown(text)}; expected {least:g} or more.", line)
            return None
        return None if number is None else number * self.metre

    def angle_deg(self, text: str, what: str, line: int, direction: bool = False) -> float | None:
        """An angle (or a direction) in degrees, within one full turn either way."""
        unit = self.direction if direction else self.angular
        number = self.plain(text, what, line)
        if number is None:
            return None
        degrees = self._dms(text, what, line) if unit == DMS else number * ANGULAR[unit]
        if degrees is not None and abs(degrees) > 360.0 * (1.0 + ROUNDING):
            name = "directionUnit" if direction else "angularUnit"
            self.findings.bad(
                f"{what} is {shown(text)}, more than a full turn in {unit}; expected an angle in "
                f"the file's {name}.",
                line,
            )
            return None
        return degrees

    def _dms(self, text: str, what: str, line: int) -> float | None:
        """Degrees of dd.mmss, taken apart as the decimal text that it is: in binary 45.30 lies
        below itself, and its minutes would be 29."""
        value = Decimal(text).quantize(_LAST_DIGIT, rounding=ROUND_HALF_EVEN)
        whole, _, parts = f"{abs(value):f}".partition(".")
        minutes, seconds = int(parts[:2]), Decimal(parts[2:]).scaleb(-6)
        if minutes >= 60 or seconds >= 60:
            high = f"{minutes} minutes" if minutes >= 60 else f"{float(seconds):g} seconds"
            self.findings.bad(
                f"{what} is {shown(text)}, which is {high} in {DMS}; expected less than 60.", line
            )
            return None
        degrees = float(int(whole) + (Decimal(minutes) + seconds / 60) / 60)
        return -degrees if value < 0 else degrees


def numbers_of(root: Element, findings: Findings) -> Numbers | None:
    """The units that a file declares; None, and a finding, where it does not, or not in full."""
    units = root.first("Units")
    if units is None:
        findings.bad(
            "the file has no Units; expected Units with Metric or Imperial inside, else nothing "
            "says what its numbers are in.",
            root.line,
        )
        return None
    system = next((child for child in units.children if child.name in LINEAR), None)
    if system is None:
        findings.bad("Units holds neither Metric nor Imperial; expected one of them.", units.line)
        return None
    linear = LINEAR[system.name]
    name = system.get("linearUnit")
    if name not in linear:
        found = shown(name) if name else "missing"
        findings.bad(
            f"linearUnit of {system.name} is {found}; expected one of {', '.join(linear)}.",
            system.line,
        )
        return None
    chosen = []
    for attribute in ("angularUnit", "directionUnit"):
        unit = system.get(attribute) or "radians"
        if unit not in ANGULAR:
            findings.bad(
                f"{attribute} is {shown(unit)}; expected one of {', '.join(ANGULAR)}.", system.line
            )
            return None
        chosen.append(unit)
    if not system.get("directionUnit") and chosen[0] != "radians":
        findings.warn(
            "directionUnit is missing; azimuths are taken in radians, the schema's default.",
            system.line,
        )
    return Numbers(linear[name], chosen[0], chosen[1], findings)
