# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures that have gone through flags, lag and checks, as an import takes them."""

from dataclasses import replace

from roomtie.processing.captures.checks import check_capture
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.lag import LagEstimate
from roomtie.processing.captures.model import Survey
from roomtie.processing.captures.noise import noise_in


def without_lag(survey):
    """The survey with the readings of each sense turned by half the lag, and the warning."""
    estimate = LagEstimate()
    for capture in survey.captures:
        estimate.add(capture)
    captures = tuple(estimate.freed(i, capture) for i, capture in enumerate(survey.captures))
    return replace(survey, captures=captures, warnings=(*survey.warnings, *estimate.warnings()))


def checked(capture):
    (capture,) = without_lag(Survey((flag_readings(capture),))).captures
    (noise,) = noise_in([capture])
    return check_capture(capture, noise)
