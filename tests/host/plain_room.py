# SPDX-License-Identifier: GPL-2.0-or-later
"""The text of a capture of one rectangular room."""

import numpy as np

PLAIN = """# station: A
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
{more}angle,distance
"""


def ring(half_width: float = 2.0, half_depth: float = 1.5) -> str:
    """A rectangular room from its middle, one reading a degree."""
    angle = np.radians(np.arange(360.0))
    with np.errstate(divide="ignore"):
        distance = np.minimum(
            half_width / np.abs(np.sin(angle)), half_depth / np.abs(np.cos(angle))
        )
    return "".join(f"{a},{d:.4f}\n" for a, d in enumerate(distance))
