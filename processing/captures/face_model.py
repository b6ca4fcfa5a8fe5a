# SPDX-License-Identifier: GPL-2.0-or-later
"""Straight faces seen by one capture, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit
from .model import Ints


class End(IntEnum):
    """How a face ends, seen from the instrument."""

    CORNER = 0
    """The next face joins here: the end is the intersection."""
    OCCLUDED = 1
    """Something nearer stands before it: the face may go on behind."""
    EDGE = 2
    """The next reading lies behind it: a true end (a jamb, an outer corner)."""
    GAP = 3
    """No usable reading follows: nothing is known."""


class Facing:
    """Lines with a side: what faces of one capture and wall faces of a plan have in common.

    The unit normals of azimuth `normal_rad (F,)` point to the free side; `span_m (F, 2)` is the
    extent that readings support, along the line from its point `centre_m (F, 2)`.
    """

    centre_m: Floats
    normal_rad: Floats
    span_m: Floats

    @property
    def normal(self) -> Floats:
        """Unit normals ``(F, 2)`` towards the free side."""
        return unit(self.normal_rad)

    @property
    def direction(self) -> Floats:
        """Unit directions ``(F, 2)``; the free side lies to the right."""
        return along(self.normal_rad)

    @property
    def ends_m(self) -> Floats:
        """Start and end points ``(F, 2, 2)`` of the extents."""
        return self.centre_m[:, None, :] + self.span_m[:, :, None] * self.direction[:, None, :]


@dataclass(frozen=True, eq=False)
class Faces(Facing):
    """``F`` straight faces of one capture in its instrument's frame, in scan order (clockwise).

    A face is the line through `centre_m` whose unit normal ``unit(normal_rad)`` points to the free
    side, that is, to the instrument; `along(normal_rad)` is its direction. `centre_m` is the
    weighted centroid of its readings, where direction and position are uncorrelated:
    `sigma_normal_rad` and `sigma_offset_m` are the 1-sigma errors of the normal's azimuth and of
    the position across the face at `centre_m`. `span_m (F, 2)` is the extent that readings
    support, along the direction from the centre (start < end, start first in scan order);
    `end (F, 2)` says how it ends there (`End`). `rms_m` is the normal
    residual of the weighted fit, `face_of_reading (n,)` the face of each reading, or -1, and
    `line_of_reading (n,)` the same of the readings that its line was fitted to.
    """

    centre_m: Floats
    normal_rad: Floats
    sigma_normal_rad: Floats
    sigma_offset_m: Floats
    span_m: Floats
    end: Ints
    readings: Ints
    rms_m: Floats
    face_of_reading: Ints
    line_of_reading: Ints

    def __len__(self) -> int:
        return len(self.normal_rad)

    def only(self, chosen: NDArray[np.bool_]) -> Faces:
        """The chosen ``(F,)`` of the faces; readings of the others are on none."""
        number = np.append(np.where(chosen, np.cumsum(chosen) - 1, -1), -1)
        return replace(
            self.without_readings(chosen),
            face_of_reading=number[self.face_of_reading],
            line_of_reading=number[self.line_of_reading],
        )

    def without_readings(self, chosen: NDArray[np.bool_]) -> Faces:
        """The chosen ``(F,)`` of the faces by themselves, as if no reading were known."""
        none = np.empty(0, dtype=np.int64)
        rows = {name: getattr(self, name)[chosen] for name in OF_FACE}
        return Faces(**rows, face_of_reading=none, line_of_reading=none)

    @property
    def length_m(self) -> Floats:
        """Lengths ``(F,)`` of the extents that readings support."""
        return self.span_m[:, 1] - self.span_m[:, 0]


OF_FACE = tuple(field.name for field in fields(Faces) if not field.name.endswith("_of_reading"))
"""The fields of `Faces` that have one value a face."""


def no_faces(readings: int) -> Faces:
    """The faces of a capture in which none was found."""
    none = np.empty(0)
    return Faces(
        centre_m=np.empty((0, 2)),
        normal_rad=none,
        sigma_normal_rad=none,
        sigma_offset_m=none,
        span_m=np.empty((0, 2)),
        end=np.empty((0, 2), dtype=np.int64),
        readings=np.empty(0, dtype=np.int64),
        rms_m=none,
        face_of_reading=np.full(readings, -1, dtype=np.int64),
        line_of_reading=np.full(readings, -1, dtype=np.int64),
    )
