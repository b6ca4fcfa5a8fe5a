# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor would check in one capture before leaving the place."""

from __future__ import annotations

from dataclasses import replace

from .model import Capture, Remark
from .noise import Noise
from .reported import reported_remarks


def check_capture(capture: Capture, noise: Noise) -> Capture:
    """The capture with the flags and remarks of all checks that need no other capture.

    Its readings are flagged (`flags.flag_readings`) and free of lag (`lag.without_lag`) already;
    `noise` is what they are worth (`noise.noise_in`). Flags and remarks that are there stay; the
    same remark is not made twice.
    """
    found: tuple[Remark, ...] = reported_remarks(capture)
    return with_remarks(capture, found)


def with_remarks(capture: Capture, remarks: tuple[Remark, ...]) -> Capture:
    """The capture with the remarks that it does not have yet behind those that it has."""
    new = tuple(remark for remark in dict.fromkeys(remarks) if remark not in capture.remarks)
    return replace(capture, remarks=capture.remarks + new) if new else capture
