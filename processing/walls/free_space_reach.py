# SPDX-License-Identifier: GPL-2.0-or-later
"""Which stations may say anything of a place, by how far each looked in every direction.

A station in a long corridor looks thirty metres along it and three across. Asked for by its
farthest reading it would be asked of everything around it, so that the work would grow with the
square of a survey; by direction it is asked of what lies along its corridor.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats, azimuth_of
from ..captures.model import Ints

SECTORS = 64
WIDENED = (1, 2, 4, 8, 16)
"""A sector's reach is that of so many sectors to both sides, for places that are seen so wide."""


class Reach:
    """How far ``s`` stations at `centre_m (s, 2)` reach, at least `least_m`, in each sector."""

    def __init__(self, centre_m: Floats, least_m: float) -> None:
        self.centre_m = centre_m.reshape(-1, 2)
        self._sector_m = np.full((len(self.centre_m), SECTORS), least_m)
        self._widened: Floats | None = None

    def add(self, station: int, first_rad: Floats, step_rad: Floats, reach_m: Floats) -> None:
        """That a station reaches so far ``(n,)`` in all directions from some azimuths ``(n,)`` on,
        up to `step_rad (n,)` further."""
        width = 2 * np.pi / SECTORS
        first = np.floor(first_rad / width).astype(np.int64)
        last = np.floor((first_rad + step_rad) / width).astype(np.int64)
        for k in range(int((last - first).max(initial=-1)) + 1):
            met = first + k <= last
            np.maximum.at(self._sector_m[station], (first + k)[met] % SECTORS, reach_m[met])
        self._widened = None

    def seeing(self, middle_m: Floats, radius_m: float) -> Ints:
        """The stations that may say something of what lies within a radius of a point."""
        offset = middle_m - self.centre_m
        distance = np.hypot(offset[:, 0], offset[:, 1])
        sector = np.floor(azimuth_of(offset) / (2 * np.pi / SECTORS)).astype(np.int64) % SECTORS
        half = np.full(len(distance), np.pi)
        away = distance > radius_m
        half[away] = np.arcsin(radius_m / distance[away])
        level = np.searchsorted(np.array(WIDENED) - 1, half / (2 * np.pi / SECTORS))
        reach = self._levels()[level, np.arange(len(distance)), sector]
        return np.flatnonzero(distance - radius_m <= reach)

    def _levels(self) -> Floats:
        """The reach ``(6, s, 64)`` of each sector with those to both sides; last, that of all."""
        if self._widened is None:
            levels = []
            for sides in WIDENED:
                shifted = [np.roll(self._sector_m, k, axis=1) for k in range(-sides, sides + 1)]
                levels.append(np.max(shifted, axis=0))
            most = self._sector_m.max(axis=1, initial=0.0, keepdims=True)
            levels.append(np.broadcast_to(most, self._sector_m.shape))
            self._widened = np.stack(levels)
        return self._widened
