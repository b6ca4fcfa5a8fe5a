# SPDX-License-Identifier: GPL-2.0-or-later
"""A fast ray caster, and captures as a rotating laser takes them among walls, furniture and
glass."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from simulated import ring_of

FARTHEST_M = 30.0
DISTANCE_SIGMA_M, ANGLE_SIGMA_DEG = 0.002, 0.03
FULL = 2 * np.pi


class Surface(IntEnum):
    """What a segment is made of."""

    WALL = 0
    FURNITURE = 1
    GLASS = 2
    OUTSIDE = 3
    LEAF = 4


def cast(segments, origin, azimuth_rad):
    """The nearest hit on ``segments (K, 2, 2)`` of each ray ``(n,)``: distances (infinite without a
    hit) and the segment that is hit (-1).

    A segment is asked only by the rays within the angle under which it is seen.
    """
    n = len(azimuth_rad)
    distance, hit = np.full(n, np.inf), np.full(n, -1, dtype=np.int64)
    if not len(segments) or not n:
        return distance, hit
    azimuth = np.asarray(azimuth_rad, dtype=float) % FULL
    order = np.argsort(azimuth, kind="stable")
    azimuth = azimuth[order]
    a = segments[:, 0] - origin
    e = segments[:, 1] - segments[:, 0]
    b = a + e
    first, last = np.arctan2(a[:, 0], a[:, 1]) % FULL, np.arctan2(b[:, 0], b[:, 1]) % FULL
    width = (last - first + np.pi) % FULL - np.pi
    start = np.where(width >= 0, first, last)
    twice = np.concatenate([azimuth, azimuth + FULL])
    low = np.searchsorted(twice, start - 1e-12, side="left")
    high = np.searchsorted(twice, start + np.abs(width) + 1e-12, side="right")
    count = high - low
    of = np.repeat(np.arange(len(segments)), count)
    ray = np.arange(len(of)) - np.repeat(np.cumsum(count) - count - low, count)
    ray = (ray % n).astype(np.int16 if n < 32768 else np.int64)
    x, y = np.sin(azimuth), np.cos(azimuth)
    # origin + r ray = a + s e, by Cramer's rule
    cross = x[ray] * e[of, 1] - y[ray] * e[of, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        r = (a[:, 0] * e[:, 1] - a[:, 1] * e[:, 0])[of] / cross
    good = np.isfinite(r) & (r > 1e-9)
    ray, of, r = ray[good], of[good], r[good]
    by_ray = np.argsort(ray, kind="stable")
    ray, of, r = ray[by_ray], of[by_ray], r[by_ray]
    if not len(ray):
        return distance, hit
    begins = np.flatnonzero(np.append(True, ray[1:] != ray[:-1]))
    least = np.minimum.reduceat(r, begins)
    nearest = np.flatnonzero(r == np.repeat(least, np.diff(np.append(begins, len(ray)))))
    at = order[ray[nearest]]
    distance[at], hit[at] = r[nearest], of[nearest]
    return distance, hit


def measured(segments, surface, origin, azimuth_rad, rng):
    """What a laser gets back along rays ``(n,)``, without its noise: distances and segments. A pane
    of glass returns some rays, lets most through, mirrors some that graze it, and loses the
    rest."""
    distance, hit = cast(segments, origin, azimuth_rad)
    glass = np.flatnonzero((hit >= 0) & (surface[hit] == Surface.GLASS))
    if not len(glass):
        return distance, hit
    edge = segments[hit[glass], 1] - segments[hit[glass], 0]
    normal = np.arctan2(edge[:, 1], -edge[:, 0])
    across = np.abs(np.cos(azimuth_rad[glass] - normal))
    luck = rng.random(len(glass))
    kept = luck < np.where(across > 0.97, 0.5, 0.08)
    mirrored = ~kept & (across < 0.5) & (luck > 0.75)
    through = ~kept & ~mirrored & (luck < 0.75)
    lost = ~kept & ~mirrored & ~through
    solid = np.flatnonzero(surface != Surface.GLASS)
    if through.any():
        at = glass[through]
        behind, what = cast(segments[solid], origin, azimuth_rad[at])
        distance[at], hit[at] = behind, np.where(what >= 0, solid[what], -1)
    for k in np.flatnonzero(mirrored):
        at = glass[k]
        pane = origin + distance[at] * np.array([np.sin(azimuth_rad[at]), np.cos(azimuth_rad[at])])
        back = np.array([2 * normal[k] + np.pi - azimuth_rad[at]])
        more, _ = cast(segments[solid], pane, back)
        distance[at], hit[at] = distance[at] + more[0], -1
    distance[glass[lost]], hit[glass[lost]] = np.inf, -1
    return distance, hit


def capture_among(
    segments,
    surface,
    pose,
    rng,
    *,
    readings=1600,
    outliers=0.01,
    station="A",
    distance_sigma_m=DISTANCE_SIGMA_M,
    angle_sigma_deg=ANGLE_SIGMA_DEG,
    **header,
):
    """A full-turn capture from a pose (x, y, orientation), and the segment that each reading hit
    (-1: none, mirrored, mixed or an outlier). `header` goes into the capture as it is."""
    origin = np.asarray(pose[:2], dtype=float)
    angle = np.arange(readings) * (360.0 / readings)
    wander = np.radians(angle_sigma_deg) * rng.standard_normal(readings)
    azimuth = np.radians(angle) + pose[2] + wander
    distance, hit = measured(segments, surface, origin, azimuth, rng)
    distance = distance + distance_sigma_m * rng.standard_normal(readings)
    # The beam has a width: at an edge part of it goes on.
    with np.errstate(invalid="ignore"):
        jump = np.flatnonzero((np.abs(np.diff(distance)) > 0.1) & (np.diff(hit) != 0))
    jump = jump[np.isfinite(distance[jump] + distance[jump + 1]) & (rng.random(len(jump)) < 0.5)]
    distance[jump] += rng.random(len(jump)) * (distance[jump + 1] - distance[jump])
    hit[jump] = -1
    bad = rng.random(readings) < outliers
    distance[bad] = rng.uniform(0.15, 12.0, bad.sum())
    hit[bad] = -1
    lost = ~np.isfinite(distance) | (distance > FARTHEST_M)
    distance, hit = np.where(lost, np.nan, distance), np.where(lost, -1, hit)
    capture = ring_of(
        angle,
        distance,
        station=station,
        distance_sigma_m=distance_sigma_m,
        angle_sigma_deg=angle_sigma_deg,
        **header,
    )
    return capture, hit
