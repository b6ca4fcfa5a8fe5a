# SPDX-License-Identifier: GPL-2.0-or-later
"""How true the stated errors of faces, and of readings on walls, are over many simulated buildings.

    OMP_NUM_THREADS=1 python tests/benchmarks/coverage_of_faces.py FIRST COUNT [rooms a storey]

Networks take these as their observations, so that stations can only be as honest. The truth of a
face is the line that most of its readings lie on, seen from the true pose; that of readings on a
wall is the line of the face on whose surface they are. Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
import buildings  # noqa: F401  (makes the package and the simulator importable)
from cramer_rao import lines_of
from roomtie.processing.angles import unit, wrap_half
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import moved
from roomtie.processing.stations.loose_readings import loose_readings
from roomtie.processing.stations.network_group import AT_LAST, GATES
from roomtie.processing.stations.network_walls import common_surfaces
from roomtie.processing.stations.wall_readings import readings_on_walls
from simulated_buildings import simulated_building
from simulated_rays import Surface, cast

GOOD_M, GOOD_SHARE = 0.03, 0.003
"""What a reading lies on is told when it fits to this, and to this share of its distance."""


def standardised(seed, rooms=None):
    """Offsets and directions of all faces of a building in their stated errors, and how many
    readings each has, ``(n, 3)``; offsets of the points on walls ``(k,)``."""
    survey, truth = simulated_building(seed, rooms=rooms)
    faces = [fit_faces(capture) for capture in survey.captures]
    found = [np.empty((0, 3))]
    lines = {}
    for station, (capture, pose, level) in enumerate(zip(survey.captures, truth.pose, truth.level)):
        plan = truth.storeys[level]
        line, start, azimuth = lines_of(plan.segments)
        own_faces = faces[station]
        on = _segment_of(capture, pose, plan)
        centre = moved(pose, own_faces.centre_m)
        for face in range(len(own_faces)):
            own = on[own_faces.line_of_reading == face]
            votes = np.bincount(line[own[own >= 0]], minlength=len(start))
            # A virtual image behind a mirror has no line.
            if 2 * votes.max() <= len(own):
                continue
            at = int(np.argmax(votes))
            normal = azimuth[at] + np.pi / 2
            if unit(normal) @ (pose[:2] - start[at]) < 0:
                normal += np.pi
            lines[station, face] = start[at], unit(normal)
            off = unit(normal) @ (centre[face] - start[at]) / own_faces.sigma_offset_m[face]
            turned = wrap_half(own_faces.normal_rad[face] + pose[2] - normal)
            row = (
                off,
                float(turned) / own_faces.sigma_normal_rad[face],
                own_faces.readings[face],
            )
            found.append(np.array([row]))
    return np.concatenate(found), _of_readings(survey, truth, faces, lines)


def _of_readings(survey, truth, faces, lines):
    """Offsets ``(k,)`` of the points that stand for readings on walls, in their stated errors."""
    stations = np.arange(len(survey))
    at = stations, truth.pose, truth.level
    sights = common_surfaces(faces, *at, GATES[-1])
    loose = loose_readings(survey.captures, faces)
    sights, readings = readings_on_walls(loose, faces, sights, *at, AT_LAST)
    there = moved(truth.pose[readings.station], readings.point_m)
    off = []
    for point, surface, sigma in zip(there, readings.surface, readings.sigma_m):
        of = np.flatnonzero(sights.surface == surface)
        known = [lines[end] for end in zip(sights.station[of], sights.face[of]) if end in lines]
        if known:
            start, normal = known[0]
            off.append(normal @ (point - start) / sigma)
    return np.array(off)


def _segment_of(capture, pose, plan):
    """The segment ``(n,)`` that each reading lies on, before or behind a pane; -1 where neither
    fits."""
    azimuth = capture.angle_rad + pose[2]
    tolerance = GOOD_M + GOOD_SHARE * capture.distance_m
    solid = np.flatnonzero(plan.surface != Surface.GLASS)
    found = np.full(len(azimuth), -1)
    for number in (solid, np.arange(len(plan.segments))):
        distance, hit = cast(plan.segments[number], pose[:2], azimuth)
        with np.errstate(invalid="ignore"):
            good = (hit >= 0) & (np.abs(capture.distance_m - distance) < tolerance)
        found = np.where(good, number[hit], found)
    return found


def main(first, count, rooms=None):
    every = [standardised(seed, rooms) for seed in range(first, first + count)]
    z, points = (np.concatenate(column) for column in zip(*every))
    print(f"{'readings':12s} {'faces':>6s} {'offset: 95 %, over 4':>22s} {'direction':>16s}")
    for low, high in ((5, 8), (8, 15), (15, 40), (40, np.inf), (5, np.inf)):
        own = np.abs(z[(z[:, 2] >= low) & (z[:, 2] < high), :2])
        within, far = (own < 1.96).mean(axis=0), (own > 4.0).mean(axis=0)
        print(
            f"{low} to {high:<7} {len(own):6d} {within[0]:13.4f} {far[0]:8.4f} "
            f"{within[1]:9.4f} {far[1]:7.4f}"
        )
    off = np.abs(points)
    print(f"on walls     {len(off):6d} {(off < 1.96).mean():13.4f} {(off > 4.0).mean():8.4f}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
