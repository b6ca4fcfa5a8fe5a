# SPDX-License-Identifier: GPL-2.0-or-later
"""From the readings of a file, in its units, to a capture in degrees and metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .header import Header
from .instrument_errors import InstrumentErrors, freed
from .model import Capture, Flag, Ints
from .units import CLOCKWISE, to_degrees, to_metres


@dataclass(frozen=True, eq=False)
class RawReadings:
    """``n`` readings as a file gives them: angles and zeniths in its units of angle, distances in
    its length unit (NaN where nothing came back); `zenith` is None where all are horizontal."""

    angle: Floats
    distance: Floats
    zenith: Floats | None
    kind: Ints
    target: NDArray[np.str_]
    intensity: Floats
    line: Ints


def joined(parts: Sequence[RawReadings]) -> RawReadings:
    """The readings of several parts of a capture, which all have zeniths or none has."""
    if len(parts) == 1:
        return parts[0]
    zeniths = [part.zenith for part in parts if part.zenith is not None]
    return RawReadings(
        angle=np.concatenate([part.angle for part in parts]),
        distance=np.concatenate([part.distance for part in parts]),
        zenith=np.concatenate(zeniths) if zeniths else None,
        kind=np.concatenate([part.kind for part in parts]),
        target=np.concatenate([part.target for part in parts]),
        intensity=np.concatenate([part.intensity for part in parts]),
        line=np.concatenate([part.line for part in parts]),
    )


def to_capture(
    raw: RawReadings,
    header: Header,
    *,
    capture_file: str,
    default_station: str,
    angle_unit: str,
    distance_unit: str,
    rotation: str,
    zenith_unit: str | None = None,
) -> Capture:
    """The capture of a header and its readings; zeniths are in the angles' unit unless they have
    one of their own.

    The horizontal distance is the slope distance times the sine of the zenith angle; both, and the
    angles, are freed of the instrument's errors that the header states.
    """
    fields: dict[str, Any] = {"station": default_station, **header.fields()}
    slope = to_metres(raw.distance, distance_unit) - fields.get("distance_zero_m", 0.0)
    if raw.zenith is None:
        zenith = np.full(len(slope), 90.0)
        distance = slope.copy()
    else:
        zenith = np.where(
            np.isnan(raw.zenith), 90.0, to_degrees(raw.zenith, zenith_unit or angle_unit)
        )
        distance = np.where(zenith == 90.0, slope, slope * np.sin(np.radians(zenith)))
    angle = CLOCKWISE[rotation] * to_degrees(raw.angle, angle_unit)
    errors = InstrumentErrors(
        0.0, fields.get("axis_eccentricity_m", 0.0), fields.get("angle_scale", 0.0)
    )
    if errors:
        angle, slope, distance = freed(errors, angle, slope, distance, zenith)
    return Capture(
        capture_file=capture_file,
        seq=np.arange(1, len(slope) + 1, dtype=np.int64),
        angle_deg=angle,
        zenith_deg=zenith,
        slope_distance_m=slope,
        distance_m=distance,
        kind=raw.kind,
        target=raw.target,
        intensity=raw.intensity,
        flag=np.where(np.isnan(slope), int(Flag.NO_RETURN), int(Flag.USABLE)).astype(np.int64),
        line=raw.line,
        other=MappingProxyType(dict(header.other)),
        **fields,
    )
