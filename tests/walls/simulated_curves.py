# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms with curved walls and columns, and captures of them."""

from __future__ import annotations

import numpy as np
from roomtie.processing.captures.model import Survey
from shapely.geometry import Polygon
from simulated import capture_of
from simulated_rooms import network_of


def ring(points):
    """The closed outline through points as segments."""
    points = np.asarray(points, dtype=float)
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def arc(centre, radius, start, stop, count=600):
    """Points on an arc between two azimuths (rad): its chords leave it by less than 0.1 mm."""
    t = np.linspace(start, stop, count)
    return np.asarray(centre) + radius * np.stack([np.sin(t), np.cos(t)], axis=-1)


RECTANGLE = [(0, 0), (0, 5), (7, 5), (7, 0)]
ROUND = arc((0, 0), 3.0, 0, 2 * np.pi, 2000)[:-1]
BAY = [(0, 0), (0, 5), *arc((5.5, 3.5), 1.5, 0, np.pi / 2), (7, 0)]
APSE = [(0, 0), (0, 3), *arc((2.5, 3), 2.5, -np.pi / 2, np.pi / 2), (5, 0)]
COLUMN = arc((4.5, 3), 0.3, 0, 2 * np.pi)[:-1]


def capture(segments, station, rng, **how):
    """A capture from a station with a random orientation."""
    return capture_of(segments, station, rng.uniform(0, 2 * np.pi), rng=rng, **how)[0]


def survey(segments, stations, rng):
    """Captures of stations and the network in which they stand where they are."""
    turned = rng.uniform(0, 2 * np.pi, len(stations))
    captures = tuple(
        capture_of(segments, xy, turn, rng=rng, station=f"S{k + 1:02d}")[0]
        for k, (xy, turn) in enumerate(zip(stations, turned))
    )
    found = Survey(captures)
    return found, network_of(found, np.array(stations, dtype=float), turned)


def area(outline):
    return Polygon(outline).area
