# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor would check in one capture before leaving the place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .faces_fit import ReadingNoise
from .gaps import check_gaps
from .glass import RETURNS, check_glass
from .model import Capture, Remark
from .movement import check_movement
from .noise import Noise
from .passers import check_passers
from .plausible_units import check_units
from .reported import reported_remarks
from .tilt import check_level
from .turns import only, turns_in

COVERAGE = ("gaps", "no return")
"""Checks whose remarks say what a capture does not cover: nothing is wrong with what it has."""


def check_capture(capture: Capture, noise: Noise) -> Capture:
    """The capture with the flags and remarks of all checks that need no other capture.

    Its readings are flagged (`flags.flag_readings`) and free of lag (`lag.LagEstimate`) already;
    `noise` is what they are worth (`noise.noise_in`). Flags and remarks that are there stay; the
    same remark is not made twice.
    """
    worth = ReadingNoise(noise.distance_m, float(np.radians(noise.angle_deg)))
    every = turns_in(capture)
    turns = only(every, capture.usable)
    returns = only(every, np.isin(capture.flag, RETURNS))
    remarks = list(check_units(capture))
    capture, found = check_movement(capture, turns, worth)
    remarks += [*found, *reported_remarks(capture)]
    for check in (check_level, check_passers):
        capture, found = check(capture, turns, worth)
        remarks.extend(found)
    capture, found = check_glass(capture, turns, returns, worth)
    remarks.extend(found)
    remarks.extend(check_gaps(capture))
    return with_remarks(capture, tuple(remarks))


def with_remarks(capture: Capture, remarks: tuple[Remark, ...]) -> Capture:
    """The capture with the remarks that it does not have yet behind those that it has."""
    new = tuple(remark for remark in dict.fromkeys(remarks) if remark not in capture.remarks)
    return replace(capture, remarks=capture.remarks + new) if new else capture
