# SPDX-License-Identifier: GPL-2.0-or-later
"""The noise that every capture is worth: what it states, unless its readings show more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M
from .findings import listed
from .model import Capture, Survey
from .scatter import FacingScatter, SlantingScatter, rounding_step_m, triples_of

SLACK = 1.25
"""A distance scatter within a quarter of what is stated is taken as stated."""

ANGLE_SLACK = 1.5
"""The same for the angle, which is told from fewer readings, some of them on edges."""


@dataclass(frozen=True)
class Noise:
    """Standard errors of one capture: as stated (or given for all) and as used."""

    stated_distance_m: float
    stated_angle_deg: float
    distance_m: float
    angle_deg: float


class NoiseEstimate:
    """Takes captures one at a time, keeps a few numbers of each, and tells the noise of all.

    A sigma is raised where the readings show significantly more (by four standard errors of the
    estimate, and by a slack). The distance's is told by each capture, as it hangs on what was
    measured; the angle's belongs to the instrument, so that captures which state the same are
    taken together.
    """

    def __init__(
        self,
        sigma_distance_m: float = DISTANCE_SIGMA_M,
        sigma_angle_deg: float = ANGLE_SIGMA_DEG,
    ) -> None:
        self._given = (sigma_distance_m, sigma_angle_deg)
        self._captures: list[tuple[tuple[float, float], float, FacingScatter]] = []
        self._slanting: dict[tuple[float, float], SlantingScatter] = {}

    def add(self, capture: Capture) -> None:
        stated = (
            _first(capture.distance_sigma_m, self._given[0]),
            _first(capture.angle_sigma_deg, self._given[1]),
        )
        triples = triples_of(capture)
        rounded = _with_rounding(capture, stated[0])
        facing = FacingScatter.of(triples)
        self._captures.append((stated, rounded, facing))
        group = self._slanting.setdefault(stated, SlantingScatter())
        group.add(triples, _distance(facing, rounded, stated[1]))

    def result(self) -> list[Noise]:
        """The noise of each capture, in the order in which they were added."""
        angle = {}
        for stated, group in self._slanting.items():
            scatter, count = group.angle_rad()
            angle[stated] = _raised(stated[1], float(np.degrees(scatter)), count, ANGLE_SLACK)
        return [
            Noise(*stated, _distance(facing, rounded, angle[stated]), angle[stated])
            for stated, rounded, facing in self._captures
        ]


def noise_in(
    captures: Iterable[Capture],
    sigma_distance_m: float = DISTANCE_SIGMA_M,
    sigma_angle_deg: float = ANGLE_SIGMA_DEG,
) -> list[Noise]:
    """The noise of each capture, as `NoiseEstimate` tells it."""
    estimate = NoiseEstimate(sigma_distance_m, sigma_angle_deg)
    for capture in captures:
        estimate.add(capture)
    return estimate.result()


def _distance(facing: FacingScatter, sigma_m: float, angle_deg: float) -> float:
    scatter = facing.distance_m(float(np.radians(angle_deg)))
    return _raised(sigma_m, scatter, facing.count, SLACK)


def _raised(stated: float, scatter: float, count: int, slack: float) -> float:
    """The scatter where it is significantly more than what is stated, else the latter.

    Triples overlap and the estimate rests on half of them: its relative error is about
    1.2 / sqrt(count) on normal readings."""
    if not np.isfinite(scatter):
        return stated
    return scatter if scatter > stated * max(slack, 1.0 + 4.8 / np.sqrt(count)) else stated


def _with_rounding(capture: Capture, stated_m: float) -> float:
    """The stated sigma with the rounding of the file, a uniform error of one step; rounding far
    below the stated sigma changes nothing."""
    rounding = rounding_step_m(capture) / np.sqrt(12.0)
    return float(np.hypot(stated_m, rounding)) if rounding > 0.5 * stated_m else stated_m


def with_noise(
    survey: Survey,
    sigma_distance_m: float = DISTANCE_SIGMA_M,
    sigma_angle_deg: float = ANGLE_SIGMA_DEG,
) -> Survey:
    """The survey with distance and angle sigmas in every capture, as `noise_in` tells them.

    Sigmas that a file does not state are the given ones; where one is raised, a warning says so.
    """
    noise = noise_in(survey.captures, sigma_distance_m, sigma_angle_deg)
    captures = tuple(
        replace(capture, distance_sigma_m=own.distance_m, angle_sigma_deg=own.angle_deg)
        for capture, own in zip(survey.captures, noise)
    )
    warnings = noise_warnings(survey.names, noise)
    return replace(survey, captures=captures, warnings=(*survey.warnings, *warnings))


def noise_warnings(stations: Sequence[str], noise: Sequence[Noise]) -> list[str]:
    """What a person should know of the noise of these stations' captures: where it is more than
    what is stated."""
    distances: dict[str, list[tuple[str, float]]] = {}
    angles: dict[str, list[tuple[str, float]]] = {}
    for station, own in zip(stations, noise):
        if own.distance_m > own.stated_distance_m:
            stated = f"{1e3 * own.stated_distance_m:g} mm"
            distances.setdefault(stated, []).append((station, 1e3 * own.distance_m))
        if own.angle_deg > own.stated_angle_deg:
            stated = f"{own.stated_angle_deg:g} deg"
            angles.setdefault(stated, []).append((station, own.angle_deg))
    return [
        *(_sentence("distances", stated, group, "mm", 0) for stated, group in distances.items()),
        *(_sentence("angles", stated, group, "deg", 2) for stated, group in angles.items()),
    ]


def _sentence(
    what: str, stated: str, group: Sequence[tuple[str, float]], unit: str, digits: int
) -> str:
    """One warning for all captures that state the same."""
    low = f"{min(used for _, used in group):.{digits}f}"
    high = f"{max(used for _, used in group):.{digits}f}"
    spread = f"{low} {unit}" if low == high else f"{low} to {high} {unit}"
    use = f"{low} {unit} is used" if low == high else "each is used with its own"
    names = listed([name for name, _ in group])
    return f"The {what} of {names} scatter by {spread}, not {stated}; {use}."


def _first(own: float, given: float) -> float:
    return float(own if np.isfinite(own) else given)
