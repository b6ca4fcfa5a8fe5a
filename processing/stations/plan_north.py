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

QUARTER = np.pi / 2
_STEP_RAD = np.radians(0.25)
_WIDTH_RAD = np.radians(1.0)
LONGEST_M = 10.0
"""A face counts with its length, but no more than this: one corridor is not the building."""


def building_axis_rad(faces: Sequence[Faces], orientation_rad: Floats) -> float | None:
    """The dominant direction of faces, 0 to 90 degrees in radians, of stations with these
    orientations; None without faces.

    Directions modulo 90 degrees are weighted by length; the mode of a kernel density (Silverman
    1986, wrapped) is refined by the weighted mean around it, since a plain mean would mix an
    oblique wing into the main axis.
    """
    normal = [f.normal_rad + turn for f, turn in zip(faces, orientation_rad)]
    direction = np.concatenate([*normal, np.empty(0)]) % QUARTER
    length = np.concatenate([*[f.length_m for f in faces], np.empty(0)])
    sigma = np.concatenate([*[f.sigma_normal_rad for f in faces], np.empty(0)])
    sound = (sigma < np.radians(5.0)) & (length > 0)
    direction = direction[sound]
    weight = np.minimum(length[sound], LONGEST_M) / (1.0 + (sigma[sound] / _WIDTH_RAD) ** 2)
    if not len(direction):
        return None
    grid = np.arange(0.0, QUARTER, _STEP_RAD)
    off = _wrap_quarter(grid[:, None] - direction)
    density = np.exp(-0.5 * (off / _WIDTH_RAD) ** 2) @ weight
    axis = float(grid[int(np.argmax(density))])
    for _ in range(5):
        off = _wrap_quarter(direction - axis)
        share = weight * np.exp(-0.5 * (off / _WIDTH_RAD) ** 2)
        axis = (axis + float(share @ off) / float(share.sum())) % QUARTER
    return axis


def nearest_axis_rad(axis_rad: float, azimuth_rad: float) -> float:
    """That of the four azimuths of a building axis (given modulo 90 degrees) which lies nearest to
    an azimuth."""
    return float(azimuth_rad - _wrap_quarter(azimuth_rad - axis_rad))


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


def _wrap_quarter(angle_rad: Floats | float) -> Floats:
    return (np.asarray(angle_rad, dtype=float) + QUARTER / 2) % QUARTER - QUARTER / 2
