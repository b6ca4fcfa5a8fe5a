# SPDX-License-Identifier: GPL-2.0-or-later
"""Sightings of named targets from several storeys, truth known: without rings, so that a thousand
networks are cheap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from roomtie.processing.angles import along, unit
from roomtie.processing.captures.model import Kind, Survey
from simulated import ring_of
from surveyed import with_readings

DISTANCE_SIGMA_M, ANGLE_SIGMA_DEG = 0.002, 0.03
STOREY_M, INSTRUMENT_M = 3.2, 1.3
AROUND_M = (-0.30, -0.15, 0.15, 0.30)
"""Where beside a target its surface is read."""


@dataclass(frozen=True)
class Mark:
    """A target: where it is, how high above the ground floor, and the azimuth of the normal of its
    surface (None: its surface is not read)."""

    x: float
    y: float
    height_m: float = INSTRUMENT_M
    normal_rad: float | None = None


@dataclass(frozen=True, eq=False)
class Sighted:
    """Truth of a survey of sightings: `pose (S, 3)`, `level (S,)`, the marks by name, and the names
    that each station sights."""

    pose: np.ndarray
    level: np.ndarray
    marks: Mapping[str, Mark]
    by: Sequence[Sequence[str]]
    written: Mapping[tuple[int, str], str] = field(default_factory=dict)

    def survey(self, rng) -> Survey:
        """What the instrument records; `written` says which sightings carry another name."""
        return Survey(tuple(self._capture(s, rng) for s in range(len(self.pose))))

    def _capture(self, s, rng):
        none = np.empty(0)
        capture = ring_of(
            none,
            none,
            station=f"S{s + 1}",
            level=int(self.level[s]),
            distance_sigma_m=DISTANCE_SIGMA_M,
            angle_sigma_deg=ANGLE_SIGMA_DEG,
        )
        for name in self.by[s]:
            mark, label = self.marks[name], self.written.get((s, name), name)
            at = np.array([[mark.x, mark.y]])
            capture = self._read(capture, s, Kind.TARGET, label, at, mark.height_m, rng)
            if mark.normal_rad is not None:
                around = at + np.outer(AROUND_M, along(mark.normal_rad))
                capture = self._read(capture, s, Kind.SURFACE, label, around, mark.height_m, rng)
        return capture

    def _read(self, capture, s, kind, name, at, height_m, rng):
        reading = slanting(at, height_m, self.pose[s], self.level[s], rng)
        return with_readings(capture, kind, [name] * len(at), *reading)


def slanting(at, height_m, pose, level, rng):
    """Angles, zenith angles (deg) and slope distances of points ``(n, 2)`` at a height above the
    ground floor's, with noise; what is level with the instrument has no error of the zenith."""
    away = np.atleast_2d(at) - pose[:2]
    flat = np.hypot(*away.T)
    rise = height_m - INSTRUMENT_M - STOREY_M * level
    noise = rng.standard_normal((len(away), 3))
    angle = np.degrees(np.arctan2(*away.T) - pose[2]) + ANGLE_SIGMA_DEG * noise[:, 0]
    zenith = np.degrees(np.arctan2(flat, rise))
    if rise:
        zenith = zenith + ANGLE_SIGMA_DEG * noise[:, 1]
    return angle % 360.0, zenith, np.hypot(flat, rise) + DISTANCE_SIGMA_M * noise[:, 2]


def storeys_with_a_stair(seed, *, storeys=3, stations=3, stair=2, surfaces=False) -> Sighted:
    """An invented building: on each storey stations that share targets of their own, and between
    each two storeys `stair` targets halfway up the walls of the stair well, 2.6 by 5 m and the same
    on all storeys. The last station of each storey stands in the well and sights those that lead up
    and down; `surfaces` are read around them or not. Without a well (`stair` 0) the storeys have
    nothing in common."""
    rng = np.random.default_rng([17, seed])
    pose, level, by, marks = [], [], [], {}
    well = rng.uniform(-6.0, 6.0, 2)
    for k in range(storeys):
        first = len(pose)
        for n in range(stations):
            last = n == stations - 1
            spread = (0.5, 0.9) if last else (4.5, 4.5)
            pose.append((*(well + rng.uniform(-1, 1, 2) * spread), rng.uniform(-np.pi, np.pi)))
            level.append(k)
            by.append([])
        for n in range(first, first + stations - 1):
            middle = (np.array(pose[n][:2]) + pose[n + 1][:2]) / 2
            count, start = int(rng.integers(2, 4)), rng.uniform(-np.pi, np.pi)
            for m in range(count):
                # All around, so that they do not lie in line with the stations.
                away = unit(start + 2 * np.pi * (m + rng.uniform(-0.2, 0.2)) / count)
                at = middle + rng.uniform(1.5, 3.0) * away
                name = f"{k}{len(marks):02d}"
                marks[name] = Mark(*at, INSTRUMENT_M + STOREY_M * k)
                by[n].append(name)
                by[n + 1].append(name)
    for k in range(1, storeys):
        for n, side in enumerate(rng.permutation(4)[:stair]):
            normal = (0.0, np.pi / 2, np.pi, -np.pi / 2)[side]
            half = (2.5, 1.3)[side % 2]
            at = well - half * unit(normal) + rng.uniform(-0.8, 0.8) * along(normal)
            name = f"stair {k}{n}"
            height = INSTRUMENT_M + STOREY_M * (k - 0.5) + rng.uniform(-0.3, 0.3)
            marks[name] = Mark(*at, height, normal if surfaces else None)
            by[stations * k - 1].append(name)
            by[stations * (k + 1) - 1].append(name)
    return Sighted(np.array(pose), np.array(level), marks, by)


def room_with_targets(seed, *, stations=4, targets=5) -> Sighted:
    """One room: stations that sight three or more of its targets each."""
    rng = np.random.default_rng([31, seed])
    marks: dict[str, Mark] = {}
    while len(marks) < targets:
        at = rng.uniform(-3.5, 3.5, 2)
        if all(np.hypot(at[0] - m.x, at[1] - m.y) > 0.8 for m in marks.values()):
            marks[f"T{len(marks) + 1}"] = Mark(*at)
    pose = np.column_stack(
        [rng.uniform(-2.0, 2.0, (stations, 2)), rng.uniform(-np.pi, np.pi, stations)]
    )
    names = np.array(list(marks))
    by = [
        sorted(names[rng.permutation(targets)[: rng.integers(3, targets + 1)]].tolist())
        for _ in range(stations)
    ]
    return Sighted(pose, np.zeros(stations, dtype=int), marks, by)
