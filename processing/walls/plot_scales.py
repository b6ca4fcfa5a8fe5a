# SPDX-License-Identifier: GPL-2.0-or-later
"""Plot scales and the tolerance that each allows on the building."""

from __future__ import annotations

from ..errors import SurveyError

PLOT_SCALES = (20, 50, 100, 200)
"""Denominators of the plot scales that a plan is drawn at."""

PAPER_TOLERANCE_M = 0.00025
"""0.25 mm on paper: half the width of a common line (common practice)."""


def tolerance_of(plot_scale: int) -> float:
    """The tolerance (m on the building) of a plot scale's denominator.

    >>> tolerance_of(100)
    0.025
    """
    if plot_scale < 0:
        raise SurveyError(f"Plot scale 1:{plot_scale}: expected a positive denominator.")
    return PAPER_TOLERANCE_M * plot_scale


def plot_scale_of(tolerance_m: float) -> int:
    """The denominator of the plot scale whose tolerance is given, to the nearest whole number (0
    for no tolerance)."""
    if not 0.0 <= tolerance_m <= 1.0:
        raise SurveyError(f"Tolerance {tolerance_m} m: expected a value from 0 to 1 m.")
    return round(tolerance_m / PAPER_TOLERANCE_M)
