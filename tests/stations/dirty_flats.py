# SPDX-License-Identifier: GPL-2.0-or-later
"""Invented flats measured by a cheap instrument: walls of two captures disagree by centimetres."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from roomtie.processing.captures.model import Survey
from simulated import capture_of, cast


def dirty_survey(segments, stations_m, seed, bias_m=0.04, scale=0.008):
    """A survey with 1.8 degree steps, two sweeps, cm, outliers and lost readings; each wall of each
    capture is off by `bias_m` (1 sigma) and each capture's scale by `scale`. Returns the true poses
    ``(S, 3)`` too."""
    rng = np.random.default_rng(seed)
    captures, poses = [], []
    for k, at in enumerate(stations_m):
        turn = rng.uniform(-np.pi, np.pi)
        blank, _ = capture_of(segments, at, turn, readings=400, part_deg=720.0, station=f"D{k + 1}")
        angle = np.radians(blank.angle_deg) + turn + np.radians(0.2) * rng.standard_normal(400)
        distance, hit = cast(segments, np.asarray(at, dtype=float), angle)
        off = bias_m * rng.standard_normal(len(segments))
        distance = distance * (1 + scale * rng.standard_normal()) + off[hit]
        distance += rng.choice([0.004, 0.012, 0.02]) * rng.standard_normal(400)
        wild = rng.random(400) < 0.03
        distance[wild] = rng.uniform(0.2, 9.0, wild.sum())
        lost = (rng.random(400) < 0.05) | ~np.isfinite(distance) | (distance < 0.15)
        distance = np.where(lost, np.nan, np.round(distance, 2))
        captures.append(
            replace(
                blank,
                angle_deg=blank.angle_deg % 360.0,
                slope_distance_m=distance,
                distance_m=distance,
                flag=np.where(lost, 1, 0),
                distance_sigma_m=np.nan,
                angle_sigma_deg=np.nan,
            )
        )
        poses.append((*at, turn))
    return Survey(tuple(captures)), np.array(poses)


def alike_rooms(side=3.4, hall=2.6, door=0.9, thickness=0.2):
    """Four equal rooms around a hall, each with a door to it, and a station in each room: turned by
    a quarter everything is the same."""
    edge, back = hall / 2 + thickness, hall / 2 + thickness + side
    a, half = -0.3, side / 2
    one = np.array(
        [
            [(a, hall / 2), (a, edge)],
            [(a + door, hall / 2), (a + door, edge)],
            [(-hall / 2, hall / 2), (a, hall / 2)],
            [(a + door, hall / 2), (hall / 2, hall / 2)],
            [(-half, edge), (a, edge)],
            [(a + door, edge), (half, edge)],
            [(-half, edge), (-half, back)],
            [(half, edge), (half, back)],
            [(-half, back), (half, back)],
        ]
    )
    quarters = [np.array([[c, -s], [s, c]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    segments = np.concatenate([one @ turn.T for turn in quarters])
    return segments, [turn @ (0.2, edge + half - 0.1) for turn in quarters]
