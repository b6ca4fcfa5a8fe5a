# SPDX-License-Identifier: GPL-2.0-or-later
"""Ring readings of all captures that lie on no face that counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.faces_fit import noise_of
from ..captures.faces_ring import ring_of
from ..captures.model import Bools, Capture, Ints
from .network_walls import trusted


@dataclass(frozen=True, eq=False)
class LooseReadings:
    """``n`` ring readings on no face that says something about a surface.

    `point_m (n, 2)` are in the frame of the instrument at `station (n,)`, with the 1-sigma errors
    `ahead_m (n,)` along the beam and `aside_m (n,)` across it; `place (n,)` counts the readings of
    the ring in scan order, those on faces as well.
    """

    station: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    point_m: Floats = field(default_factory=lambda: np.empty((0, 2)))
    ahead_m: Floats = field(default_factory=lambda: np.empty(0))
    aside_m: Floats = field(default_factory=lambda: np.empty(0))
    place: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))

    def __len__(self) -> int:
        return len(self.station)

    def of_stations(self, stations: Ints) -> LooseReadings:
        """Those of some stations ``(m,)``."""
        own: Bools = np.isin(self.station, stations)
        return LooseReadings(
            self.station[own],
            self.point_m[own],
            self.ahead_m[own],
            self.aside_m[own],
            self.place[own],
        )


def loose_readings(captures: Sequence[Capture], faces: Sequence[Faces]) -> LooseReadings:
    """The loose readings of captures that carry definite noise, with the faces of each.

    The end readings of a face are not among them: what they may be of, `faces.without_ends` says.
    """
    found: list[tuple[Ints, Floats, Floats, Floats, Ints]] = []
    for station, (capture, own) in enumerate(zip(captures, faces)):
        noise = noise_of(capture)
        ring = ring_of(capture, noise)
        counts = np.append(trusted(own), False)
        place = np.flatnonzero(~counts[own.face_of_reading[ring.at]])
        at = np.full(len(place), station)
        ahead = np.full(len(place), noise.distance_m)
        aside = ring.distance_m[place] * noise.angle_rad
        found.append((at, ring.xy_m[place], ahead, aside, place))
    if not found:
        return LooseReadings()
    return LooseReadings(*(np.concatenate(column) for column in zip(*found)))
