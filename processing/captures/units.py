# SPDX-License-Identifier: GPL-2.0-or-later
"""Units of angle and length that captures come in.

The foot is the international foot (0.3048 m exactly, 1959 agreement; NIST SP 811, appendix B.8);
400 gon make a full turn (ISO 80000-3).
"""

from __future__ import annotations

from math import pi
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..errors import SurveyError

FULL_TURN = MappingProxyType({"deg": 360.0, "gon": 400.0, "rad": 2.0 * pi})
"""A full turn in each unit of angle."""

METRES = MappingProxyType({"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254})
"""The length of each unit in metres."""

CLOCKWISE = MappingProxyType({"clockwise": 1, "counterclockwise": -1})
"""The sign of a clockwise angle for each sense of rotation."""

# A full turn printed with four digits in radians (6.2832) is a little more than one.
ROUNDING = 1e-5


def to_degrees(angle: Floats, unit: str) -> Floats:
    """Angles in a unit of `FULL_TURN` as degrees; degrees come back to the last bit."""
    return angle if unit == "deg" else angle * (360.0 / FULL_TURN[unit])


def to_metres(length: Floats, unit: str) -> Floats:
    """Lengths in a unit of `METRES` as metres; metres come back to the last bit."""
    return length if unit == "m" else length * METRES[unit]


def within_full_turn(angle: Floats, unit: str) -> NDArray[np.bool_]:
    """Which angles ``(n,)`` lie within one full turn either way."""
    return np.abs(angle) <= FULL_TURN[unit] * (1.0 + ROUNDING)


def unit_that_holds(largest: float, unit: str) -> str:
    """The unit with the next larger full turn that an angle of this size fits in; empty if none."""
    fitting = [
        (turn, name)
        for name, turn in FULL_TURN.items()
        if turn > FULL_TURN[unit] and abs(largest) <= turn * (1.0 + ROUNDING)
    ]
    return min(fitting)[1] if fitting else ""


def check_choice(value: str | None, allowed: MappingProxyType, name: str) -> None:
    """Raise `SurveyError` when a parameter has a value that is none of the allowed ones."""
    if value is not None and value not in allowed:
        raise SurveyError(f"{name} is {value!r}; expected one of {', '.join(allowed)}.")
