# SPDX-License-Identifier: GPL-2.0-or-later
"""The building's main axis and plan north.

Plan north is the dominant wall direction nearest to compass north; without a compass the first
station's zero direction, turned to the nearest building axis.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from .axes import axes_of, quarter


def building_axis_rad(faces: Sequence[Faces], orientation_rad: Floats) -> float | None:
    """The direction of the building's axes, 0 to 90 degrees in radians, from the faces of stations
    with these orientations (`axes_of`); None where no face is long enough."""
    normal = [f.normal_rad + turn for f, turn in zip(faces, orientation_rad)]
    axes = axes_of(
        np.concatenate([*normal, np.empty(0)]),
        np.concatenate([*[f.length_m for f in faces], np.empty(0)]),
        np.concatenate([*[f.sigma_normal_rad for f in faces], np.empty(0)]),
    )
    return axes.azimuth_rad if np.isfinite(axes.sigma_rad) else None


def nearest_axis_rad(axis_rad: float, azimuth_rad: float) -> float:
    """That of the four azimuths of a building axis (given modulo 90 degrees) which lies nearest to
    an azimuth."""
    return float(azimuth_rad - quarter(azimuth_rad - axis_rad))


def plan_north_rad(
    axis_rad: float | None, compass_offset_rad: float | None, zero_rad: float
) -> float:
    """Azimuth of plan north in a group's frame.

    `axis_rad` is the building axis in that frame, `compass_offset_rad` the magnetic azimuth of the
    frame's +y (None: no compass), `zero_rad` the orientation of the first station.
    """
    wanted = zero_rad if compass_offset_rad is None else -compass_offset_rad
    if axis_rad is None:
        return float(wrap_half(wanted))
    return float(wrap_half(nearest_axis_rad(axis_rad, wanted)))
