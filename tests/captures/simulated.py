# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures of known walls: a ray caster with the noise of a rotating laser."""

from __future__ import annotations

import numpy as np
from roomtie.processing.captures.model import Capture, Flag, Kind


def cast(segments, origin, azimuth_rad):
    """The nearest hit on ``segments (K, 2, 2)`` of each ray ``(n,)``: distances (infinite without a
    hit) and the segment that is hit (-1)."""
    segments = np.asarray(segments, dtype=float)
    a = segments[:, 0] - origin
    e = segments[:, 1] - segments[:, 0]
    ray = np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)
    # origin + r ray = a + s e, by Cramer's rule
    cross = ray[:, None, 0] * e[None, :, 1] - ray[:, None, 1] * e[None, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        r = (a[:, 0] * e[:, 1] - a[:, 1] * e[:, 0]) / cross
        s = (a[None, :, 0] * ray[:, None, 1] - a[None, :, 1] * ray[:, None, 0]) / cross
    r = np.where((s >= 0) & (s <= 1) & (r > 1e-9), r, np.inf)
    hit = np.argmin(r, axis=1)
    distance = r[np.arange(len(r)), hit]
    return distance, np.where(np.isfinite(distance), hit, -1)


def capture_of(
    segments,
    origin,
    orientation_rad=0.0,
    *,
    rng=None,
    readings=1600,
    distance_sigma_m=0.002,
    angle_sigma_deg=0.03,
    outliers=0.0,
    mixed=False,
    part_deg=360.0,
    station="A",
):
    """A capture and the segment that each reading hit (-1: none, outlier or mixed)."""
    step = part_deg / readings
    angle = np.arange(readings) * step
    noise = 0.0 if rng is None else np.radians(angle_sigma_deg) * rng.standard_normal(readings)
    azimuth = np.radians(angle) + orientation_rad + noise
    distance, hit = cast(segments, np.asarray(origin, dtype=float), azimuth)
    if rng is not None:
        distance = distance + distance_sigma_m * rng.standard_normal(readings)
        if mixed:
            jump = np.flatnonzero((np.abs(np.diff(distance)) > 0.1) & (np.diff(hit) != 0))
            jump = jump[rng.random(len(jump)) < 0.5]
            jump = jump[np.isfinite(distance[jump] + distance[jump + 1])]
            share = rng.random(len(jump))
            distance[jump] += share * (distance[jump + 1] - distance[jump])
            hit[jump] = -1
        bad = rng.random(readings) < outliers
        distance[bad] = rng.uniform(0.15, 12.0, bad.sum())
        hit[bad] = -1
    capture = ring_of(
        angle,
        distance,
        station=station,
        distance_sigma_m=distance_sigma_m,
        angle_sigma_deg=angle_sigma_deg,
    )
    return capture, hit


def ring_of(angle_deg, distance_m, *, capture_file="simulated", **header):
    """A capture of horizontal ring readings ``(n,)``; nothing came back where a distance is not
    finite. `header` goes into the capture as it is."""
    count = len(angle_deg)
    lost = ~np.isfinite(distance_m)
    distance = np.where(lost, np.nan, distance_m)
    return Capture(
        capture_file=capture_file,
        seq=np.arange(1, count + 1),
        angle_deg=angle_deg,
        zenith_deg=np.full(count, 90.0),
        slope_distance_m=distance,
        distance_m=distance,
        kind=np.full(count, int(Kind.RING)),
        target=np.full(count, "", dtype="<U16"),
        intensity=np.full(count, np.nan),
        flag=np.where(lost, int(Flag.NO_RETURN), int(Flag.USABLE)),
        line=np.arange(1, count + 1),
        **header,
    )


def loop(corners):
    """The segments ``(K, 2, 2)`` of a closed polygon of corners ``(K, 2)``."""
    corners = np.asarray(corners, dtype=float)
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
