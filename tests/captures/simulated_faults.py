# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures with a known fault: moved, tilted, passed by, before glass or a mirror."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from roomtie.processing.captures.model import Flag
from roomtie.processing.captures.noise import noise_in
from simulated import capture_of, cast, loop

SIGMA_M = 0.002
SIGMA_RAD = np.radians(0.03)


def room(rng, size=(3.0, 9.0)):
    """A room ``(K, 2, 2)`` of random size with a niche or a pier, furniture along its walls and a
    place to stand in it."""
    w, h = rng.uniform(*size, 2)
    x0, depth = rng.uniform(0.2, 0.5) * w, rng.uniform(-0.4, 0.6)
    width = rng.uniform(0.3, 1.2)
    outline = [(0, 0), (w, 0), (w, h), (x0 + width, h), (x0 + width, h - depth), (x0, h - depth)]
    walls = [loop([*outline, (x0, h), (0, h)])]
    for _ in range(rng.integers(0, 4)):
        a, b = rng.uniform(0.3, 0.8, 2)
        x, y = rng.uniform(0.05, w - a), rng.choice([0.02, h - b - 0.7])
        walls.append(loop([(x, y), (x + a, y), (x + a, y + b), (x, y + b)]))
    for _ in range(100):
        origin = rng.uniform([0.6, 0.6], [w - 0.6, h - 1.3])
        r, _ = cast(np.concatenate(walls), origin, np.linspace(0, 2 * np.pi, 90))
        if r.min() > 0.3 and not _inside(walls[1:], origin):
            return np.concatenate(walls), origin
    raise ValueError("no place to stand")


def _inside(boxes, origin):
    return any((b[:, 0].min(0) < origin).all() and (origin < b[:, 0].max(0)).all() for b in boxes)


def with_distance(capture, distance, angle_deg=None):
    """The capture with other distances (NaN: no return) and angles."""
    lost = ~np.isfinite(distance)
    distance = np.where(lost, np.nan, distance)
    n = len(distance)
    more = {} if angle_deg is None else {"angle_deg": np.asarray(angle_deg, dtype=float)}
    if n != len(capture):
        for name in ("zenith_deg", "kind", "target", "intensity"):
            more[name] = np.resize(getattr(capture, name), n)
        more["seq"] = more["line"] = np.arange(1, n + 1)
    flag = np.where(lost, int(Flag.NO_RETURN), int(Flag.USABLE))
    return replace(capture, distance_m=distance, slope_distance_m=distance, flag=flag, **more)


def seen_from(walls, origins, turned_rad, angle_deg, rng, **more):
    """A capture whose readings ``(n,)`` are taken from places ``(n, 2)``, with the zero direction
    turned by ``(n,)``."""
    capture, _ = capture_of(walls, origins[0], readings=360, **more)
    azimuth = np.radians(angle_deg) + turned_rad + SIGMA_RAD * rng.standard_normal(len(angle_deg))
    distance = np.full(len(angle_deg), np.inf)
    origins = np.asarray(origins, dtype=float)
    for place in np.unique(origins, axis=0):
        own = (origins == place).all(axis=1)
        distance[own], _ = cast(walls, place, azimuth[own])
    distance += SIGMA_M * rng.standard_normal(len(distance))
    return with_distance(capture, distance, angle_deg)


def kicked(walls, origin, shift_m, rng, readings=1600, turned_deg=0.0, at=None, begun_deg=None):
    """One turn during which the instrument is moved by a vector once."""
    begun = rng.uniform(0, 360) if begun_deg is None else begun_deg
    angle = np.arange(readings) * 360.0 / readings
    at = rng.integers(readings // 4, 3 * readings // 4) if at is None else at
    moved = np.arange(readings) >= at
    origins = np.asarray(origin) + moved[:, None] * np.asarray(shift_m)
    turned = np.radians(begun) + moved * np.radians(turned_deg)
    return seen_from(walls, origins, turned, angle, rng)


def there_and_back(walls, origin, shift_m, rng, readings=800, lag_deg=0.0):
    """A clockwise and a counterclockwise sweep, between which the instrument is moved."""
    one = np.arange(readings) * 360.0 / readings
    angle = np.concatenate([one, one[::-1]])
    second = np.arange(2 * readings) >= readings
    origins = np.asarray(origin) + second[:, None] * np.asarray(shift_m)
    begun = rng.uniform(0, 2 * np.pi)
    turned = begun + np.radians(np.where(second, lag_deg / 2, -lag_deg / 2))
    return seen_from(walls, origins, turned, angle, rng)


def with_person(capture, first, middle_deg, distance_m, width_m=0.45):
    """The capture with a round thing before the walls in some of its readings ``(n,)``; the
    readings that show it."""
    off = np.radians((capture.angle_deg - middle_deg + 180.0) % 360.0 - 180.0)
    half = width_m / 2
    reach = distance_m * np.sin(off)
    on = first & (np.abs(off) < 1.5) & (np.abs(reach) < half)
    near = distance_m * np.cos(off) - np.sqrt(np.maximum(half**2 - reach**2, 0.0))
    on &= near < capture.distance_m - 0.1
    return with_distance(capture, np.where(on, near, capture.distance_m)), on


def mirrored(walls, mirror, origin, azimuth_rad):
    """Distances along beams that a mirror ``(2, 2)`` sends on, and which ones ``(n,)``."""
    everything = np.concatenate([[mirror], walls])
    distance, hit = cast(everything, origin, azimuth_rad)
    on = hit == 0
    a, b = np.asarray(mirror, dtype=float)
    along = (b - a) / np.hypot(*(b - a))
    axis = np.arctan2(along[0], along[1])
    ray = np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)
    for i in np.flatnonzero(on):
        place = origin + distance[i] * ray[i]
        onward = 2.0 * axis - azimuth_rad[i]
        # A millimetre off, so that the wall that carries the mirror is not met.
        back = np.array([np.sin(onward), np.cos(onward)])
        further, _ = cast(walls, place + 0.02 * back, np.array([onward]))
        distance[i] += 0.02 + further[0]
    return distance, on


def tilted(walls, origin, tilt_deg, towards_rad, rng, height_m=1.2, ceiling_m=2.6, readings=1600):
    """One turn of an instrument whose axis leans, between floor and ceiling."""
    capture, _ = capture_of(walls, origin, readings=readings)
    t = np.radians(tilt_deg)
    shown = np.radians(capture.angle_deg) + SIGMA_RAD * rng.standard_normal(readings)
    off = shown - towards_rad
    # A unit vector in the tilted plane; its part along the tilt dips below the horizon.
    ahead, right, up = np.cos(off) * np.cos(t), np.sin(off), -np.cos(off) * np.sin(t) + 1e-12
    level = np.hypot(ahead, right)
    azimuth = towards_rad + np.arctan2(right, ahead)
    flat, _ = cast(walls, origin, azimuth)
    slope = flat / level
    slope = np.minimum(slope, np.where(up < 0, height_m, ceiling_m - height_m) / np.abs(up))
    return with_distance(capture, slope + SIGMA_M * rng.standard_normal(readings))


def noise_of_capture(capture):
    (noise,) = noise_in([capture])
    return noise


def two_rooms(rng, opening_m=None, wall_m=0.12, like=False):
    """Two rooms side by side with an opening of `opening_m` in the wall between them, from 0 to
    `wall_m` along x; in `like` rooms the second mirrors the first over the middle of the wall.
    The walls, the opening's ends along y, and a place to stand in the first room."""
    w, h = rng.uniform(3.0, 6.0, 2)
    v = w if like else rng.uniform(2.0, 6.0)
    width = rng.uniform(0.7, 2.0) if opening_m is None else opening_m
    low = rng.uniform(0.5, h - width - 0.5)
    high = low + width
    # A passage keeps its side walls; another room has its own.
    down, up = (0.0, 0.0) if like else rng.choice([0.0, 1.0, -0.3], 2)
    walls = [
        [(0, 0), (-w, 0)],
        [(-w, 0), (-w, h)],
        [(-w, h), (0, h)],
        [(0, 0), (0, low)],
        [(0, high), (0, h)],
        [(0, low), (wall_m, low)],
        [(0, high), (wall_m, high)],
        [(wall_m, -down), (wall_m, low)],
        [(wall_m, high), (wall_m, h + up)],
        [(wall_m, -down), (v + wall_m, -down)],
        [(v + wall_m, -down), (v + wall_m, h + up)],
        [(wall_m, h + up), (v + wall_m, h + up)],
    ]
    walls = np.array(walls, dtype=float)
    x = rng.uniform(0.3, 0.7) * w
    box = loop([(-w + 0.1, 0.4), (-w + 0.7, 0.4), (-w + 0.7, 1.2), (-w + 0.1, 1.2)])
    walls = np.concatenate([walls, box])
    return walls, (low, high), np.array([-x, rng.uniform(0.7, h - 0.7)])


def before_pane(rng, returned=0.3, recess_m=0.0):
    """A capture through an opening with a pane that sends a share of the beams back; the readings
    that passed it and those that came back from it."""
    walls, (low, high), origin = two_rooms(rng, wall_m=0.2)
    capture, _ = capture_of(walls, origin, rng.uniform(0, 6), readings=1600)
    azimuth = _azimuth(capture, rng)
    far, _ = cast(walls, origin, azimuth)
    pane = np.array([[(recess_m, low), (recess_m, high)]])
    near, _ = cast(pane, origin, azimuth)
    there = near < far
    back = there & (rng.random(len(far)) < returned)
    distance = np.where(back, near, far) + SIGMA_M * rng.standard_normal(len(far))
    return with_distance(capture, distance), there & ~back, back


def before_doorway(rng, like=False):
    """A capture through an open doorway, and the readings that passed it."""
    walls, (low, high), origin = two_rooms(rng, like=like)
    capture, _ = capture_of(walls, origin, rng.uniform(0, 6), readings=1600)
    azimuth = _azimuth(capture, rng)
    distance, _ = cast(walls, origin, azimuth)
    near, _ = cast(np.array([[(0.0, low), (0.0, high)]]), origin, azimuth)
    capture = with_distance(capture, distance + SIGMA_M * rng.standard_normal(len(distance)))
    return capture, near < distance


def before_mirror(rng):
    """A capture before a mirror on a wall, and the readings that it sent on."""
    walls, (low, high), origin = two_rooms(rng)
    walls = np.concatenate([walls[:3], [[(0.0, 0.0), walls[2, 1]]], walls[12:]])
    capture, _ = capture_of(walls, origin, rng.uniform(0, 6), readings=1600)
    azimuth = _azimuth(capture, rng)
    distance, on = mirrored(walls, [(-0.005, low), (-0.005, high)], origin, azimuth)
    return with_distance(capture, distance + SIGMA_M * rng.standard_normal(len(distance))), on


def _azimuth(capture, rng):
    return (
        np.radians(capture.angle_deg)
        + rng.uniform(0, 6)
        + SIGMA_RAD * rng.standard_normal(len(capture))
    )
