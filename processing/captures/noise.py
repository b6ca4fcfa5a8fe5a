# SPDX-License-Identifier: GPL-2.0-or-later
"""The noise that every capture is worth: what it states, unless its readings show more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .findings import listed
from .model import Capture, Survey
from .scatter import distance_scatter_m, rounding_step_m

DEFAULT_SIGMA_DISTANCE_M = 0.002
DEFAULT_SIGMA_ANGLE_DEG = 0.03

SLACK = 1.25
"""A scatter within a quarter of what is stated is taken as stated."""


def observed_sigma_m(capture: Capture, stated_m: float, sigma_angle_deg: float) -> float:
    """The distance sigma (m) to use: what is stated, or what the readings show when that is
    significantly more (four standard errors of the estimate), with the rounding of the file."""
    rounding = rounding_step_m(capture) / np.sqrt(12.0)
    # Rounding far below the stated sigma changes nothing.
    sigma = float(np.hypot(stated_m, rounding)) if rounding > 0.5 * stated_m else stated_m
    scatter, count = distance_scatter_m(capture, np.radians(sigma_angle_deg))
    if not np.isfinite(scatter):
        return sigma
    # Second differences overlap, so that three readings are worth about one and a half.
    bound = sigma * max(SLACK, 1.0 + 4.0 / np.sqrt(count))
    return scatter if scatter > bound else sigma


def with_noise(
    survey: Survey,
    sigma_distance_m: float = DEFAULT_SIGMA_DISTANCE_M,
    sigma_angle_deg: float = DEFAULT_SIGMA_ANGLE_DEG,
) -> Survey:
    """The survey with distance and angle sigmas in every capture.

    Sigmas that a file does not state are the given ones. Where a capture's readings scatter
    significantly more than stated, its distance sigma is raised to what they show, and a warning
    says so.
    """
    captures = []
    raised: dict[float, list[Capture]] = {}
    for capture in survey.captures:
        angle = _first(capture.angle_sigma_deg, sigma_angle_deg)
        stated = _first(capture.distance_sigma_m, sigma_distance_m)
        sigma = observed_sigma_m(capture, stated, angle)
        captures.append(replace(capture, distance_sigma_m=sigma, angle_sigma_deg=angle))
        if sigma > stated:
            raised.setdefault(stated, []).append(captures[-1])
    warnings = [_raised(stated, group) for stated, group in sorted(raised.items())]
    return replace(survey, captures=tuple(captures), warnings=(*survey.warnings, *warnings))


def _raised(stated_m: float, captures: list[Capture]) -> str:
    """One sentence for all captures with one stated sigma."""
    named = listed([capture.station for capture in captures])
    used = sorted(1e3 * capture.distance_sigma_m for capture in captures)
    low, high = f"{used[0]:.0f}", f"{used[-1]:.0f}"
    spread = f"{low} mm" if low == high else f"{low} to {high} mm"
    use = f"{low} mm is used" if low == high else "each is used with its own"
    return f"The readings of {named} scatter by {spread}, not {1e3 * stated_m:g} mm; {use}."


def _first(own: float, given: float) -> float:
    return float(own if np.isfinite(own) else given)
