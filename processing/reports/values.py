# SPDX-License-Identifier: GPL-2.0-or-later
"""How figures are written in reports, the same in all sections."""

from __future__ import annotations

import re

import numpy as np

from ..angles import wrap_full_deg

MM = 1000.0
NONE = "–"


def figure(value: float, digits: int) -> str:
    """A number with a fixed count of digits, never minus zero; a dash where there is none."""
    if np.isinf(value):
        return "∞"
    return NONE if np.isnan(value) else f"{round(value, digits) + 0.0:.{digits}f}"


def degrees(value_rad: float, digits: int) -> str:
    """An angle in degrees."""
    return figure(float(np.degrees(value_rad)), digits)


def azimuth(value_rad: float, digits: int) -> str:
    """An azimuth in degrees within a full turn; a dash where there is none."""
    # Rounded before it is wrapped: 359.99999 is 0.0000, not 360.0000.
    return figure(float(wrap_full_deg(round(float(np.degrees(value_rad)), digits))), digits)


def with_sigma(value: str, sigma: str, unit: str = "") -> str:
    """A value with its standard error as they are written; a dash as standard error says that it is
    not known."""
    tail = f" {unit}" if unit else ""
    if sigma == NONE:
        return f"{value}{tail}, standard error not known"
    return f"{value} ± {sigma}{tail}"


def natural(name: str) -> list[tuple[int, str]]:
    """A key that sorts T2 before T10."""
    parts = re.split(r"(\d+)", name.casefold())
    # Python makes no number of very many digits: they are sorted as text.
    return [
        (int(part), "") if part.isdecimal() and len(part) < 100 else (-1, part) for part in parts
    ]


def several(count: int, one: str, many: str = "") -> str:
    """A count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"
