# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings freed of the instrument's systematic errors, and back.

The distances are `zero` too long, the beam leaves at `eccentricity` to the right of the axis about
which it turns, seen along the beam, and angles grow by the share `angle_scale` too much: a reading
(a, d) belongs to the point (d - zero) u(b) + eccentricity u'(b) at b = a (1 - angle_scale), with
u(b) = (sin b, cos b). Angles count from the file's zero. Additive constant and scale are the
classical ones of surveying instruments (Rueger, *Electronic Distance Measurement*, 4th ed., 1996,
ch. 8; from memory); the eccentric beam is the geometry of a rotating head.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats
from .model import Capture

LARGEST_ECCENTRICITY_MM, LARGEST_SCALE_PPM = 200.0, 10_000.0
"""More than a hand's breadth beside the axis, or a degree in a hundred, is a slip of the pen."""


REACH_M = 5.0
"""The distance for which effects are told."""

PARAMETERS = ("distance zero error", "axis eccentricity", "angle scale")


@dataclass(frozen=True)
class InstrumentErrors:
    """Zero error and eccentricity (m) and angle scale (a share: 1e-6 is 1 ppm)."""

    zero_m: float = 0.0
    eccentricity_m: float = 0.0
    angle_scale: float = 0.0

    def __bool__(self) -> bool:
        return bool(self.zero_m or self.eccentricity_m or self.angle_scale)


def effects(values: Floats) -> list[tuple[str, str, str]]:
    """Name, value and effect on a reading 5 m away of each of the parameters ``(3,)``."""
    zero, eccentricity, scale = (float(value) for value in values)
    return [
        (PARAMETERS[0], f"{1e3 * zero:.2f} mm", f"{1e3 * abs(zero):.2f} mm along the beam"),
        (
            PARAMETERS[1],
            f"{1e3 * eccentricity:.2f} mm",
            f"{1e3 * abs(eccentricity):.2f} mm across the beam",
        ),
        (
            PARAMETERS[2],
            f"{1e6 * scale:.0f} ppm",
            f"{1e3 * REACH_M * 2.0 * np.pi * abs(scale):.2f} mm across the beam after a full turn",
        ),
    ]


def stated_errors(capture: Capture) -> InstrumentErrors:
    """What the readings of a capture were freed of."""
    return InstrumentErrors(
        capture.distance_zero_m, capture.axis_eccentricity_m, capture.angle_scale
    )


def told(errors: InstrumentErrors) -> list[str]:
    """A phrase on each of the errors that is not zero: its value, and what it does 5 m away."""
    values = (errors.zero_m, errors.eccentricity_m, errors.angle_scale)
    return [
        f"{name} {value} ({effect} at {REACH_M:g} m)"
        for (name, value, effect), size in zip(effects(np.array(values)), values)
        if size
    ]


def freed(
    errors: InstrumentErrors,
    angle_deg: Floats,
    slope_m: Floats,
    distance_m: Floats,
    zenith_deg: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Angles, slope distances and horizontal distances ``(n,)`` as an instrument without these
    errors had read them; the zero error is one of the slope distance, the eccentricity lies in the
    horizontal. Angles without a return are scaled only."""
    e = errors
    slope = slope_m - e.zero_m
    distance = distance_m - e.zero_m * np.sin(np.radians(zenith_deg))
    angle = angle_deg * (1.0 - e.angle_scale)
    if e.eccentricity_m:
        # Where nothing came back there is no distance, and nothing to turn.
        angle = angle + np.nan_to_num(np.degrees(np.arctan2(e.eccentricity_m, distance)))
        distance = np.hypot(distance, e.eccentricity_m)
        slope = np.hypot(slope, e.eccentricity_m)
    return angle, slope, distance


def free(capture: Capture, errors: InstrumentErrors) -> Capture:
    """The capture freed of these errors beside those that it was freed of before."""
    angle, slope, distance = freed(
        errors,
        capture.angle_deg,
        capture.slope_distance_m,
        capture.distance_m,
        capture.zenith_deg,
    )
    return _taken(capture, errors, 1.0, angle, slope, distance)


def unfree(capture: Capture, errors: InstrumentErrors) -> Capture:
    """The capture as it was before `free`, to rounding."""
    e = errors
    distance, slope, angle = capture.distance_m, capture.slope_distance_m, capture.angle_deg
    if e.eccentricity_m:
        distance = np.sqrt(np.maximum(distance**2 - e.eccentricity_m**2, 0.0))
        slope = np.sqrt(np.maximum(slope**2 - e.eccentricity_m**2, 0.0))
        angle = angle - np.nan_to_num(np.degrees(np.arctan2(e.eccentricity_m, distance)))
    distance = distance + e.zero_m * np.sin(np.radians(capture.zenith_deg))
    return _taken(capture, errors, -1.0, angle / (1.0 - e.angle_scale), slope + e.zero_m, distance)


def _taken(
    capture: Capture,
    errors: InstrumentErrors,
    sign: float,
    angle: Floats,
    slope: Floats,
    distance: Floats,
) -> Capture:
    return replace(
        capture,
        angle_deg=angle,
        slope_distance_m=slope,
        distance_m=distance,
        distance_zero_m=capture.distance_zero_m + sign * errors.zero_m,
        axis_eccentricity_m=capture.axis_eccentricity_m + sign * errors.eccentricity_m,
        angle_scale=capture.angle_scale + sign * errors.angle_scale,
    )
