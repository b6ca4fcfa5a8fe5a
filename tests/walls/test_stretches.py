# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces that beams of other stations went through."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.walls import stretches
from roomtie.processing.walls.stretches import Beams, contradicted
from shapely import LineString

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
        trees=(),
    ).indexed()


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


def test_beams_are_found_in_whichever_index_they_are(monkeypatch):
    rng = np.random.default_rng(3)
    rays = [(rng.uniform(0, 8, 2), rng.uniform(0, 8, 2), int(k // 10)) for k in range(200)]
    start, end = np.array([1.0, 2.0]), np.array([6.0, 5.0])
    at_once = beams(rays).meeting(start, end)
    monkeypatch.setattr(stretches, "A_TREE", 7)
    found = beams(rays)
    assert len(found.trees) == 29
    np.testing.assert_array_equal(found.meeting(start, end), at_once)
    line = LineString([start, end])
    crossed = [k for k, ray in enumerate(rays) if line.intersects(LineString(ray[:2]))]
    assert at_once.tolist() == crossed
