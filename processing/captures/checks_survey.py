# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor would check across the captures of a job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType

import numpy as np

from .checks import with_remarks
from .geotags import check_geotags
from .model import Capture, Flag, Remark, Survey
from .setups import Setup
from .times import check_times

HEIGHTS_M = (0.1, 4.0)
"""Instruments stand on the floor or on a tripod or pole that a person reaches."""


@dataclass(frozen=True)
class SurveyFindings:
    """What the captures show together: sentences about the job, and remarks by station."""

    warnings: tuple[str, ...] = ()
    remarks: Mapping[str, tuple[Remark, ...]] = field(default_factory=lambda: MappingProxyType({}))

    def applied(self, capture: Capture) -> Capture:
        """The capture with the remarks about its station."""
        return with_remarks(capture, self.remarks.get(capture.station, ()))


class SurveyChecks:
    """Takes captures one at a time and keeps a few values of each, so that memory does not grow
    with the readings. `latest` is the time after which a capture cannot have been taken (not
    checked where it is not given)."""

    def __init__(self, latest: datetime | None = None) -> None:
        self.latest = latest
        self._setups: list[Setup] = []
        self._first: dict[bytes, Setup] = {}
        self._copies: list[tuple[Setup, Setup]] = []

    def add(self, capture: Capture) -> Capture:
        """The capture as it is to be kept: all its readings are flagged as duplicate where an
        earlier capture has the same, as the same evidence must not count twice."""
        setup = Setup.of(capture)
        self._setups.append(setup)
        first = self._first.setdefault(setup.content, setup) if setup.content else setup
        if first is setup:
            return capture
        self._copies.append((setup, first))
        return capture.with_flags(np.ones(len(capture), dtype=bool), Flag.DUPLICATE)

    def findings(self) -> SurveyFindings:
        """What is told by all captures added so far."""
        found = [
            ("duplicate", setup.station, _copied(setup, first)) for setup, first in self._copies
        ]
        # What copies say of time and place says nothing more.
        copies = {copy.station for copy, _ in self._copies}
        setups = sorted(
            (setup for setup in self._setups if setup.station not in copies),
            key=lambda setup: setup.station,
        )
        found.extend(("geotag", *pair) for pair in check_geotags(setups))
        found.extend(("time", *pair) for pair in check_times(setups, self.latest))
        found.extend(("height", *pair) for pair in _instrument_heights(setups))
        remarks: dict[str, tuple[Remark, ...]] = {}
        for check, station, sentence in found:
            if station:
                remarks[station] = (*remarks.get(station, ()), Remark(check, sentence))
        return SurveyFindings(
            tuple(sentence for _, _, sentence in found), MappingProxyType(remarks)
        )


def _copied(setup: Setup, first: Setup) -> str:
    return (
        f"{setup.station} ({setup.capture_file}) holds the same readings as {first.station} "
        f"({first.capture_file}): they are flagged as duplicate and not used."
    )


def _instrument_heights(setups: list[Setup]) -> list[tuple[str, str]]:
    found = []
    for setup in setups:
        height = setup.instrument_height_m
        if not np.isfinite(height) or HEIGHTS_M[0] <= height <= HEIGHTS_M[1]:
            continue
        likely = [
            unit
            for unit, metres in (("centimetres", 0.01), ("millimetres", 0.001))
            if 0.5 <= height * metres <= 2.5
        ]
        why = f": likely {likely[0]} given as metres" if likely else ""
        found.append(
            (
                setup.station,
                f"The instrument height of {setup.station} is {height:g} m{why}; check "
                "instrument_height_m.",
            )
        )
    return found


def check_survey(survey: Survey) -> Survey:
    """The survey with what its captures show together in warnings and remarks."""
    checks = SurveyChecks()
    captures = [checks.add(capture) for capture in survey.captures]
    found = checks.findings()
    return replace(
        survey,
        captures=tuple(found.applied(capture) for capture in captures),
        warnings=(*survey.warnings, *found.warnings),
    )
