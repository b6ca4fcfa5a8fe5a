# SPDX-License-Identifier: GPL-2.0-or-later
"""Which readings of a capture lie on what nobody looks through.

A pane of glass sends some rays back and lets others pass, and which ones depends on where the
instrument stands. So another capture may well look through what this one measured there, and that
says nothing against a pose. The capture tells by itself: between the readings on the pane it looks
past them, on both sides of each.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from ..captures.model import Bools, Capture, Kind

BESIDE_RAD = np.radians(1.25)
"""So far on either side of a reading it is looked at what lies beside it; an edge of a wall has
something behind it on one side only, and what is wider than twice this hides it in its middle."""

FEWEST_BESIDE = 2
"""So many readings are looked at where they are farther apart."""

BEHIND_M = 0.3
"""Farther behind than this is looked past (m); frames and reveals lie nearer."""


def solid(capture: Capture) -> Bools:
    """Which readings ``(n,)`` of a capture it does not look past on both sides. What lies beside
    may be any reading of the ring that came back: those past a pane stand alone and are not used
    for walls."""
    firm = np.ones(len(capture), dtype=bool)
    back = np.flatnonzero((capture.kind == Kind.RING) & np.isfinite(capture.distance_m))
    angle = capture.angle_rad[back] % (2 * np.pi)
    back = back[np.argsort(angle, kind="stable")]
    count = len(back)
    if count < 2 * FEWEST_BESIDE + 1:
        return firm
    step = float(np.median(np.diff(np.sort(angle))))
    beside = int(BESIDE_RAD / step) if step > 0 else count
    beside = min(max(beside, FEWEST_BESIDE), count // 2)
    distance = capture.distance_m[back]
    # The farthest of so many readings just before each, and just after it.
    ahead = sliding_window_view(np.append(distance, distance[:beside]), beside).max(axis=1)[:count]
    after, before = np.roll(ahead, -1), np.roll(ahead, beside)
    firm[back] = np.minimum(before, after) <= distance + BEHIND_M
    return firm
