# SPDX-License-Identifier: GPL-2.0-or-later
"""Units that cannot be those of the file: rooms of kilometres or centimetres, turns of six degrees.

A factor of ten is not told (a room of 4 m may be a hall of 40 m), nor feet from metres.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .model import Capture, Kind, Remark
from .units import METRES

ROOM_M = (0.2, 50.0)
"""Half of a capture's distances are within these in anything with walls: a cupboard, a hangar."""

USUAL_M = (0.7, 12.0)
"""What half of the distances stay below in an ordinary room; a unit that brings them here is the
likely one."""

WORDS = {"m": "metres", "cm": "centimetres", "mm": "millimetres", "ft": "feet", "in": "inches"}

FEW = 20
"""Fewer readings tell nothing about units."""

DENSE = 60
"""A ring with so many readings at least is meant to close."""


def check_units(capture: Capture) -> tuple[Remark, ...]:
    """Remarks on a unit of length or angle that the readings contradict."""
    ring = capture.kind == Kind.RING
    measured = capture.as_read_m[ring]
    measured = measured[measured > 0.0]
    remarks = []
    if len(measured) >= FEW:
        middle = float(np.median(measured))
        if not ROOM_M[0] <= middle <= ROOM_M[1]:
            remarks.append(_length(middle))
    if ring.sum() >= FEW:
        remarks.extend(_angle(capture, ring))
    return tuple(remarks)


def _length(middle: float) -> Remark:
    """What a median distance outside of `ROOM_M` is likely to be."""
    large = middle > ROOM_M[1]
    what = (
        f"Half of the distances are {'above' if large else 'below'} {_metres(middle)}, "
        f"{'farther' if large else 'nearer'} than the walls of any room"
    )
    likely = []
    for wrong, read_as in METRES.items():
        for right, meant in METRES.items():
            true = middle * meant / read_as
            if USUAL_M[0] <= true <= USUAL_M[1] and "m" in (wrong, right):
                likely.append((abs(np.log(true / 2.5)), wrong, right, true))
    # One pair of units: of metres with another, the one that makes an ordinary room of it.
    pairs = [
        f"{WORDS[right]} read as {WORDS[wrong]} ({_metres(true)})"
        for _, wrong, right, true in sorted(likely)[:2]
    ]
    why = f"; likely {' or '.join(pairs)}" if pairs else ""
    return Remark("units", f"{what}{why}. Check distance_unit and import again.", again=False)


def _metres(length: float) -> str:
    if length >= 1000.0:
        return f"{length / 1000.0:.1f} km"
    return f"{length:.1f} m" if length >= 1.0 else f"{1000.0 * length:.3g} mm"


def _angle(capture: Capture, ring: NDArray[np.bool_]) -> list[Remark]:
    angle = capture.angle_deg[ring] % 360.0
    if np.bincount((angle // 15.0).astype(np.int64), minlength=24).all():
        return []  # a gap of 36 deg or more would leave one of these empty
    angle.sort()
    gap = np.diff(np.append(angle, angle[0] + 360.0))
    usual = float(np.median(gap[gap > 1e-9])) if np.any(gap > 1e-9) else 0.0
    widest = float(gap.max())
    covered = 360.0 - widest
    others = np.sort(gap)[-2] if len(gap) > 1 else 0.0
    even = others <= 3.0 * usual
    if len(angle) < DENSE or not even:
        return []
    turns = (
        (2.0 * np.pi, "radians read as degrees", "a full turn in radians"),
        (0.9 * 2.0 * np.pi, "radians read as gon", "what a full turn in radians is in gon"),
        (324.0, "degrees read as gon", "what a full turn of 360 deg is when read as gon"),
    )
    for full, words, what in turns:
        # The last reading stands one step before the first, or on it.
        if full - 2.5 * usual <= covered <= full + 0.5 * usual and usual < 0.02 * full:
            return [
                Remark(
                    "units",
                    f"The angles cover {covered:.2f} deg without a gap, {what}: likely {words}. "
                    "Check angle_unit and import again.",
                )
            ]
    return []
