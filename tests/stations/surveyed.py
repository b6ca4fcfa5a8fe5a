# SPDX-License-Identifier: GPL-2.0-or-later
"""An invented storey of three rooms and surveys of it, truth known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Flag, Kind, Survey
from roomtie.processing.stations.connect_groups import Groups, compass_of
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.target_surfaces import surfaces_of
from roomtie.processing.stations.targets import sightings_of
from simulated import capture_of, loop

STOREY = loop(
    [
        (0, 0), (4, 0), (4, 1), (4.2, 1), (4.2, 0), (9, 0), (9, 3), (8.3, 3), (8.3, 4), (6.9, 4),
        (6.9, 4.2), (9, 4.2), (9, 7), (4.2, 7), (4.2, 4.2), (6, 4.2), (6, 4), (4.2, 4),
        (4.2, 1.9), (4, 1.9), (4, 5), (2.5, 5), (2.5, 5.6), (0, 5.6),
    ]
)  # fmt: skip

POSES = np.array(
    [
        (1.5, 1.45, 0.5),
        (2.8, 3.2, -2.0),
        (5.5, 1.5, 1.2),
        (6.4, 3.2, 2.9),
        (6.5, 5.5, -0.7),
    ]
)

TARGETS = {
    "T1": (0.0, 4.0), "T2": (2.0, 0.0), "T3": (4.0, 3.5), "T4": (9.0, 1.0), "T5": (5.0, 4.0),
    "T6": (7.0, 0.0), "T7": (6.2, 7.0), "T8": (4.2, 5.5),
}  # fmt: skip

SIGHTED = {
    0: ("T1", "T2", "T3"), 1: ("T1", "T2", "T3"), 2: ("T4", "T5", "T6"), 3: ("T4", "T5", "T6"),
}  # fmt: skip
"""Station 4 has no target; the first two and the next two share three each."""


def local(pose, point):
    """Instrument angle (deg, 0 to 360) and distance of a plan point."""
    dx, dy = np.asarray(point, dtype=float) - pose[:2]
    return np.degrees(np.arctan2(dx, dy) - pose[2]) % 360.0, float(np.hypot(dx, dy))


def with_sightings(capture, pose, points, rng=None):
    """A capture with horizontal readings of kind target added; `points` maps names to plan
    points."""
    angle, distance = zip(*(local(pose, point) for point in points.values()))
    angle, distance = np.array(angle), np.array(distance)
    if rng is not None:
        angle = (angle + capture.angle_sigma_deg * rng.standard_normal(len(angle))) % 360.0
        distance = distance + capture.distance_sigma_m * rng.standard_normal(len(distance))
    level = np.full(len(angle), 90.0)
    return with_readings(capture, Kind.TARGET, list(points), angle, level, distance)


def with_readings(capture, kind, target, angle_deg, zenith_deg, slope_m):
    """A capture with readings ``(n,)`` of a kind added, `target` their names."""
    n = len(angle_deg)
    rows = np.arange(len(capture) + 1, len(capture) + n + 1)
    flat = slope_m * np.sin(np.radians(zenith_deg))
    return replace(
        capture,
        seq=np.append(capture.seq, rows),
        line=np.append(capture.line, rows),
        angle_deg=np.append(capture.angle_deg, angle_deg),
        zenith_deg=np.append(capture.zenith_deg, zenith_deg),
        slope_distance_m=np.append(capture.slope_distance_m, slope_m),
        distance_m=np.append(capture.distance_m, flat),
        kind=np.append(capture.kind, np.full(n, int(kind))),
        target=np.append(capture.target, np.array(target)),
        intensity=np.append(capture.intensity, np.full(n, np.nan)),
        flag=np.append(capture.flag, np.full(n, int(Flag.USABLE))),
    )


def survey(seed=1, poses=POSES, sighted=SIGHTED, compass=None, walls=STOREY, readings=1000):
    """A survey of a storey; `compass` maps stations to bearings (deg) with 3 degrees each."""
    rng = np.random.default_rng(seed)
    captures = []
    for k, pose in enumerate(poses):
        capture, _ = capture_of(
            walls, pose[:2], pose[2], rng=rng, readings=readings, station=f"S{k + 1}", outliers=0.01
        )
        if sighted.get(k):
            points = {name: TARGETS[name] for name in sighted[k]}
            capture = with_sightings(capture, pose, points, rng)
        if compass and k in compass:
            capture = replace(
                capture, magnetic_azimuth_deg=compass[k] % 360.0, magnetic_azimuth_sigma_deg=3.0
            )
        captures.append(capture)
    return Survey(tuple(captures))


def faces_of(taken):
    """The faces of all captures of a survey."""
    return [fit_faces(capture) for capture in taken.captures]


def prepared(taken):
    """A survey ready to be connected: every station by itself, the views, the storeys."""
    sightings = sightings_of(taken)
    groups = Groups.apart(
        taken.names,
        sightings,
        surfaces_of(taken, sightings.name),
        compass_of(taken.captures, True),
    )
    views = [view_of(c, f) for c, f in zip(taken.captures, faces_of(taken))]
    return groups, views, np.array([c.level for c in taken.captures])
