# SPDX-License-Identifier: GPL-2.0-or-later
"""Flags for readings that say nothing about a surface."""

from __future__ import annotations

from dataclasses import replace
from typing import overload

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..progress import SILENT, Progress
from .duplicates import repeated_readings
from .model import Capture, Flag, Kind, Survey
from .noise import Noise, noise_in
from .outliers import stray_readings
from .sweeps import Sweep, sweeps_of

RENEWED = (Flag.NO_RETURN, Flag.MIXED, Flag.ISOLATED)
"""The flags that are told anew each time; others stay as they are."""

ABSURD = 10.0
"""A distance this many times the one that 95 % of a capture's readings stay below is absurd,
unless readings beside it say the same."""


@overload
def flag_readings(
    survey_or_capture: Survey,
    min_distance_m: float = ...,
    max_distance_m: float | None = ...,
    progress: Progress = ...,
) -> Survey: ...


@overload
def flag_readings(
    survey_or_capture: Capture,
    min_distance_m: float = ...,
    max_distance_m: float | None = ...,
    progress: Progress = ...,
) -> Capture: ...


def flag_readings(
    survey_or_capture: Survey | Capture,
    min_distance_m: float = 0.10,
    max_distance_m: float | None = None,
    progress: Progress = SILENT,
) -> Survey | Capture:
    """A copy in which readings that cannot be used carry the flag that says why.

    - no return: nothing came back;
    - too near: at or below the minimum distance (0.10 m is common practice: nothing within 10 cm
      of the beam's path);
    - too far: beyond the maximum distance, or absurdly beyond all else in the capture;
    - duplicate: an earlier reading in the same direction repeated to the last digit;
    - isolated: off everything around; mixed: between two surfaces at a depth edge.

    The last three are looked for in ring readings only. Flags that are there stay, also those of an
    instrument that says itself what is out of its range; no return, isolated and mixed are told
    anew.
    """
    if isinstance(survey_or_capture, Survey):
        captures = survey_or_capture.captures
        noise = noise_in(captures)
        flagged = tuple(
            flag_capture(capture, noise[index], min_distance_m, max_distance_m)
            for index, capture in enumerate(progress.over(captures))
        )
        return replace(survey_or_capture, captures=flagged)
    (noise_of_one,) = noise_in([survey_or_capture])
    return flag_capture(survey_or_capture, noise_of_one, min_distance_m, max_distance_m)


def flag_capture(
    capture: Capture, noise: Noise, min_distance_m: float, max_distance_m: float | None
) -> Capture:
    """The flags of `flag_readings` for one capture whose noise is known."""
    own = np.isin(capture.flag, [int(flag) for flag in RENEWED])
    capture = replace(capture, flag=np.where(own, int(Flag.USABLE), capture.flag))
    distance = capture.distance_m
    capture = capture.with_flags(~np.isfinite(distance), Flag.NO_RETURN)
    # A vertical reading has no horizontal distance, but its slope distance is well measured.
    capture = capture.with_flags(distance <= min_distance_m, Flag.TOO_NEAR)
    if max_distance_m is not None:
        capture = capture.with_flags(distance > max_distance_m, Flag.TOO_FAR)
    capture = capture.with_flags(repeated_readings(capture), Flag.DUPLICATE)
    capture = capture.with_flags(_absurd(capture), Flag.TOO_FAR)
    isolated, mixed = _stray(capture, noise)
    return capture.with_flags(isolated, Flag.ISOLATED).with_flags(mixed, Flag.MIXED)


def _absurd(capture: Capture) -> NDArray[np.bool_]:
    """Which readings ``(n,)`` are too far to be believed. The end of a long corridor is seen by
    several readings side by side; what an instrument writes by mistake stands alone."""
    far = np.zeros(len(capture), dtype=bool)
    usable = capture.usable_ring
    returned = (capture.kind == Kind.RING) & np.isfinite(capture.distance_m)
    if returned.sum() < 20:
        return far
    limit = ABSURD * float(np.quantile(capture.distance_m[returned], 0.95))
    too_long = capture.distance_m > limit
    for sweep in sweeps_of(capture) if np.any(usable & too_long) else ():
        sweep = sweep.only(usable[sweep.at])
        beyond = too_long[sweep.at]
        alone = beyond.copy()
        for side in (-1, 1):
            place, near, _ = sweep.neighbour(side)
            alone &= ~(near & _alike(capture.distance_m[sweep.at], place))
        far[sweep.at[alone]] = True
    # Targets and surfaces are sighted one by one; they are held against the ring.
    far |= (capture.kind != Kind.RING) & capture.usable & too_long
    return far


def _alike(distance: Floats, place: NDArray[np.int64]) -> NDArray[np.bool_]:
    return np.abs(distance - distance[place]) < 0.2 * distance


def _stray(capture: Capture, noise: Noise) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    isolated = np.zeros(len(capture), dtype=bool)
    mixed = np.zeros(len(capture), dtype=bool)
    usable = capture.usable_ring
    for whole in sweeps_of(capture):
        isolated[whole.at] = _forsaken(whole, usable[whole.at])
        sweep = whole.only(usable[whole.at] & ~isolated[whole.at])
        alone, between = stray_readings(
            sweep,
            capture.distance_m[sweep.at],
            noise.distance_m,
            float(np.radians(noise.angle_deg)),
        )
        isolated[sweep.at] |= alone
        mixed[sweep.at] = between
    return isolated, mixed


def _forsaken(sweep: Sweep, usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which readings of a sweep ``(m,)`` stand where nothing else came back: the two before and the
    two after were taken and are not usable."""
    forsaken = usable.copy()
    for offset in (-2, -1, 1, 2):
        place, near, _ = sweep.neighbour(offset)
        forsaken &= near & ~usable[place]
    return forsaken
