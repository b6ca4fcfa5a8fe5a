# SPDX-License-Identifier: GPL-2.0-or-later
"""Text files of any layout, and the profiles that describe them."""

from __future__ import annotations

import numpy as np

COMMON = {
    "name": "levelled head, gon",
    "columns": ("", "angle", "distance", "intensity"),
    "angle_unit": "gon",
    "distance_unit": "mm",
    "rotation": "counterclockwise",
    "separator": "semicolon",
    "decimal_comma": True,
    "skip_lines": 1,
    "has_names": True,
    "no_return": ("-1", "9999"),
}
NAMES = ("No", "Hz", "Dist", "Signal")


def described(**changes):
    """A profile with some values changed, its look taken of `ring_text()` where it fits."""
    from roomtie.processing.captures.profile import Profile

    return Profile(**{**COMMON, **changes})


def kept(data: bytes, **changes):
    """The same with the look of the file `data`."""
    from dataclasses import replace

    from roomtie.processing.captures.profile_look import look_of

    profile = described(**changes)
    return replace(profile, look=look_of(data, profile))


def room_mm(angle_gon, half=(2000.0, 1500.0)):
    """The distance to the walls of a rectangular room around the instrument."""
    a = np.radians(np.asarray(angle_gon) * 0.9)
    with np.errstate(divide="ignore"):
        return np.minimum(half[0] / np.abs(np.sin(a)), half[1] / np.abs(np.cos(a)))


def ring_text(count=200, turn=400.0, scale=1.0, half=(2000.0, 1500.0), decimals=1) -> bytes:
    """A ring as an instrument may write it: a title, column names, a decimal comma."""
    angle = np.arange(count) * 400.0 / count
    distance = room_mm(angle, half) * scale
    lines = ["Protocol of the day", ";".join(NAMES)]
    for i in range(count):
        row = f"{i + 1};{angle[i] * turn / 400.0:.3f};{distance[i]:.{decimals}f};{50 + i % 7}"
        lines.append(row.replace(".", ","))
    return "\n".join(lines).encode()
