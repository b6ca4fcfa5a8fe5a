# SPDX-License-Identifier: GPL-2.0-or-later
"""Where readings lie that an instrument with errors took, written from the geometry."""

from __future__ import annotations

import numpy as np


def points_of(angle_deg, distance_m, header):
    """Points ``(n, 2)`` of readings (clockwise degrees, zero error subtracted) with the errors that
    a header states: the beam passes the axis, and the point lies that far to its right."""
    aside = header.get("axis_eccentricity_mm", 0.0) / 1000.0
    angle = np.radians(scaled_deg(angle_deg, header))
    return np.stack(
        [
            distance_m * np.sin(angle) + aside * np.cos(angle),
            distance_m * np.cos(angle) - aside * np.sin(angle),
        ],
        axis=1,
    )


def scaled_deg(angle_deg, header):
    """Angles without the scale that a header states."""
    return np.asarray(angle_deg) * (1.0 - header.get("angle_scale_ppm", 0.0) * 1e-6)
