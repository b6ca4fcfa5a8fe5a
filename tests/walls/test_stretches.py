# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces that beams of other stations went through."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls.stretches import Beams, contradicted

START, END = np.array([0.0, 0.0]), np.array([8.0, 0.0])


def beams(rays):
    """Beams of one level and network from ``(station, reading, capture)``."""
    rays = sorted(rays, key=lambda ray: ray[2])
    count = len(rays)
    return Beams(
        station_m=np.array([ray[0] for ray in rays]),
        reading_m=np.array([ray[1] for ray in rays]),
        level=np.zeros(count, dtype=np.int64),
        network=np.ones(count, dtype=np.int64),
        capture=np.array([ray[2] for ray in rays], dtype=np.int64),
        sigma_m=np.full(count, 0.001),
    )


@pytest.mark.parametrize(("low", "high", "passed"), [(3.5, 4.5, False), (1.0, 2.5, True)])
def test_only_beams_where_a_face_shows_speak_against_it(low, high, passed):
    """A wall seen by station 0 but for a doorway from 3 to 5 m; station 1 looks through at some
    place: through the doorway, or where the wall shows."""
    place = np.arange(0.0, 8.0, 0.02)
    place = place[(place < 3.0) | (place > 5.0)]
    shown = [((4.0, -2.0), (x, 0.0), 0) for x in place]
    through = [((x, 3.0), (x, -1.0), 1) for x in np.linspace(low, high, len(place))]
    seen = beams([*shown, *through])
    verdict = contradicted(seen, (0, 1), START, END, np.array([0]), len(place))
    assert verdict is passed
