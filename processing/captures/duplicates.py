# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings and captures that are there twice."""

from __future__ import annotations

from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from .faces_fit import noise_of
from .model import Capture, Kind
from .scatter import rounding_step_m

SHARE = 0.9
"""Where an angle comes again, this share of the distances must be the same as well."""

BY_CHANCE = 1e-3
"""The probability of so many equal distances, were they measured twice, below which they are
copies."""

FEWEST = 20
"""Different distances that tell one capture from all others."""


def repeated_readings(capture: Capture) -> NDArray[np.bool_]:
    """Which ring readings ``(n,)`` repeat an earlier one: the same angle and the same distance.

    An instrument that measures a direction again finds the same distance only as often as its noise
    and the rounding of the file let it: two values of standard error s, rounded to a step h, are
    equal with a probability of about h / (2 sqrt(pi) s). Only what is far more often equal is a
    copy.
    """
    repeats = np.zeros(len(capture), dtype=bool)
    ring = np.flatnonzero((capture.kind == Kind.RING) & np.isfinite(capture.slope_distance_m))
    angle = np.round(capture.angle_deg[ring] % 360.0, 7) % 360.0
    order = np.argsort(angle, kind="stable")
    again = np.flatnonzero(np.diff(angle[order]) == 0.0)
    if not len(again):
        return repeats
    distance = capture.slope_distance_m[ring]
    zenith = capture.zenith_deg[ring]
    order = np.lexsort((ring, zenith, distance, angle))
    same = np.all([np.diff(x[order]) == 0.0 for x in (angle, distance, zenith)], axis=0)
    count = int(same.sum())
    if count < SHARE * len(again):
        return repeats
    step = max(rounding_step_m(capture), 1e-6)
    one = min(1.0, step / (2.0 * np.sqrt(np.pi) * noise_of(capture).distance_m))
    if one**count < BY_CHANCE:
        repeats[ring[order[1:][same]]] = True
    return repeats


def content_key(capture: Capture) -> bytes:
    """What two captures with the same readings have in common, whatever their headers say of
    station, time, unit of the angle, rotation and zero error: the measured distances in the order
    of the file, to the micrometre. Empty where they are too few, or too much alike, to tell."""
    measured = capture.as_read_m
    # A file may hold any number: beyond the earth's size all are one.
    rounded = np.round(1e6 * np.clip(np.nan_to_num(measured, nan=-1.0), -1e8, 1e8)).astype(np.int64)
    if len(np.unique(rounded[rounded >= 0])) < FEWEST:
        return b""
    return sha256(rounded.tobytes()).digest()
