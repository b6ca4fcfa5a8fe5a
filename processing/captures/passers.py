# SPDX-License-Identifier: GPL-2.0-or-later
"""People who walk through a capture: what stands before a wall in one turn and not in another.

Within a single turn a person cannot be told from a column; nothing is flagged there.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .faces_fit import ReadingNoise
from .findings import listed
from .model import Bools, Capture, Flag, Ints, Remark
from .turns import Compared, Turn, compare

NEARER_M = 0.3
"""What passes is nearer than what stands behind it by this at least: half a person's width, and
more than turns of a rough instrument differ by."""

NEARER_SIGMAS = 8.0
"""And by so many standard errors."""

WIDTHS_M = (0.12, 1.5)
"""The least and the largest width of what passes: a leg, a person with a ladder."""

DEPTH_M = 1.0
"""Its readings lie within this depth."""

FEWEST = 3
"""Readings that it takes at least: fewer are an edge seen from a slightly other direction."""

FULL_SHARE = 0.5
"""Only turns that agree about half of what they see in common are compared."""


def check_passers(
    capture: Capture, turns: list[Turn], noise: ReadingNoise
) -> tuple[Capture, tuple[Remark, ...]]:
    """The capture with readings flagged as passer-by, and a remark on where they are."""
    long = [turn for turn in turns if len(turn) > 10 * FEWEST]
    places: list[Ints] = []
    for number, one in enumerate(long):
        for two in long[number + 1 :]:
            for behind, before in ((one, two), (two, one)):
                places.extend(_passing(compare(behind, before), before, noise))
    if not places:
        return capture, ()
    mask = np.zeros(len(capture), dtype=bool)
    mask[np.concatenate(places)] = True
    angle = capture.angle_deg % 360.0
    where = [f"{_middle_deg(angle[at]):.0f} deg" for at in places]
    sentence = (
        f"Something stood before the walls in one turn and not in another, at {listed(where)}: "
        f"{int(mask.sum())} readings are flagged as passer-by."
    )
    return capture.with_flags(mask, Flag.PASSER_BY), (Remark("passer-by", sentence),)


def _passing(seen: Compared, before: Turn, noise: ReadingNoise) -> list[Ints]:
    """Places in the capture of each thing that the turn `before` shows in front of the other."""
    if len(seen) < 10 * FEWEST:
        return []
    nearest = np.minimum(seen.before_m, seen.after_m)
    least = np.maximum(NEARER_M, NEARER_SIGMAS * noise.distance_m)
    agree = np.abs(seen.distance_m - seen.seen_m) < np.maximum(
        0.5 * least, 4.0 * seen.sigma_m(noise)
    )
    if agree.mean() < FULL_SHARE:
        return []
    nearer = seen.distance_m < nearest - least
    found = []
    for start, stop in _runs(nearer, seen.place):
        distance = seen.distance_m[start:stop]
        angle = seen.angle_rad[start:stop]
        step = before.step_rad
        width = float(np.median(distance)) * (angle[-1] - angle[0] + step)
        if not WIDTHS_M[0] <= width <= WIDTHS_M[1] or np.ptp(distance) > DEPTH_M:
            continue
        # On either side, after a reading on its edge at most, both turns agree again.
        left, right = agree[max(start - 2, 0) : start], agree[stop : stop + 2]
        if left.any() and right.any():
            found.append(before.at[seen.place[start:stop]])
    return found


def _runs(mask: Bools, place: Ints) -> list[tuple[int, int]]:
    """Runs of at least `FEWEST` readings that follow each other ``[start, stop)``."""
    new = np.concatenate([[True], (np.diff(mask.astype(np.int8)) != 0) | (np.diff(place) > 2)])
    start = np.flatnonzero(new)
    stop = np.append(start[1:], len(mask))
    kept = mask[start] & (stop - start >= FEWEST)
    return list(zip(start[kept].tolist(), stop[kept].tolist()))


def _middle_deg(angle: Floats) -> float:
    turned = np.radians(angle)
    return float(np.degrees(np.arctan2(np.sin(turned).mean(), np.cos(turned).mean())) % 360.0)
