# SPDX-License-Identifier: GPL-2.0-or-later
"""The azimuth of a circle's zero, from backsights.

The circle reads A - o towards azimuth A, so each backsight with a known azimuth gives the
orientation o = A - circle. The azimuth is the file's, else that between the coordinates of set-up
and backsight, atan2(dE, dN).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot, isfinite, nan

import numpy as np

from ..angles import wrap_half_deg
from .landxml_points import Place
from .landxml_setup import Backsight, Round, Setup
from .model import Remark

AGREE_DEG = 0.05
"""Backsights of one set-up that orient it more differently than this contradict each other."""


@dataclass(frozen=True)
class Oriented:
    """What to add to the circle's readings of each round (deg), what was done in words, and what is
    to be remarked."""

    turn_deg: tuple[float, ...]
    told: str
    remarks: tuple[Remark, ...]


def orient(setup: Setup) -> Oriented:
    """The orientation of every round of a set-up. A round that nothing orients shares that of the
    set-up; where no azimuth is known at all, zero is the direction of the common backsight, and
    without one the circle's own zero."""
    known = [_turns(round_, setup.place) for round_ in setup.rounds]
    own = _own(setup)
    remarks: list[Remark] = []
    values = [value for turns in known for value, _ in turns]
    if values or isfinite(own):
        fallback = _mean([value for value, _ in known[0]]) if known[0] else own
        if not isfinite(fallback):
            fallback = _mean(values)
        turns = tuple(_mean([v for v, _ in part]) if part else fallback for part in known)
        for part in known:
            remarks += _contradictions(part)
        how = next((words for part in known for _, words in part), "")
        how = how or f"the set-up's orientation azimuth, {setup.azimuth_deg % 360.0:.4f} deg"
        told = f"zero of the angles is grid north of the file, from {how}"
        return Oriented(turns, told, tuple(remarks))
    names = {sight.name for round_ in setup.rounds for sight in round_.backsights}
    first = [round_.backsights[0] for round_ in setup.rounds if round_.backsights]
    if first and len(names) == 1 and len(first) in (1, len(setup.rounds), len(_used(setup))):
        base = -first[0].circle_deg
        turns = tuple(
            -round_.backsights[0].circle_deg if round_.backsights else base
            for round_ in setup.rounds
        )
        name = next(iter(names))
        told = f"zero of the angles is the direction to the backsight{f' {name}' if name else ''}"
        return Oriented(turns, told, ())
    told = "zero of the angles is that of the horizontal circle; no backsight orients it"
    if len(_used(setup)) > 1:
        remarks.append(
            Remark(
                "orientation",
                "Its groups have backsights without azimuths to different points; they are taken "
                "as one orientation of the circle.",
            )
        )
    return Oriented(tuple(0.0 for _ in setup.rounds), told, tuple(remarks))


def _used(setup: Setup) -> list[Round]:
    return [round_ for round_ in setup.rounds if round_.observations]


def _own(setup: Setup) -> float:
    """The set-up's own orientation: the azimuth of its orientation, read on the circle as
    `circleAzimuth` (0 where that is missing)."""
    if not isfinite(setup.azimuth_deg):
        return nan
    return setup.azimuth_deg - (setup.circle_deg if isfinite(setup.circle_deg) else 0.0)


def _turns(round_: Round, station: Place | None) -> list[tuple[float, str]]:
    found = []
    for sight in round_.backsights:
        azimuth, how = _azimuth(sight, station)
        if isfinite(azimuth):
            found.append((azimuth - sight.circle_deg, how))
    return found


def _azimuth(sight: Backsight, station: Place | None) -> tuple[float, str]:
    name = f"the backsight {sight.name}" if sight.name else "the backsight"
    if isfinite(sight.azimuth_deg):
        return sight.azimuth_deg, f"{name} at azimuth {sight.azimuth_deg % 360.0:.4f} deg"
    if station is None or sight.place is None:
        return nan, ""
    north = sight.place.north_m - station.north_m
    east = sight.place.east_m - station.east_m
    if hypot(north, east) < 0.01:
        return nan, ""
    azimuth = degrees(atan2(east, north)) % 360.0
    return azimuth, f"{name}, azimuth {azimuth:.4f} deg from coordinates"


def _mean(values: Sequence[float]) -> float:
    if not values:
        return nan
    apart = np.array([float(wrap_half_deg(value - values[0])) for value in values])
    return values[0] + float(apart.mean())


def _contradictions(turns: Sequence[tuple[float, str]]) -> list[Remark]:
    if len(turns) < 2:
        return []
    apart = [abs(float(wrap_half_deg(value - turns[0][0]))) for value, _ in turns]
    worst = int(np.argmax(apart))
    if apart[worst] <= AGREE_DEG:
        return []
    return [
        Remark(
            "orientation",
            f"{_capital(turns[0][1])} and {turns[worst][1]} orient the circle {apart[worst]:.4f} "
            f"deg apart; expected {AGREE_DEG:g} deg or less. Their mean is used.",
            again=True,
        )
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
