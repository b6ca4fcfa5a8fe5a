# SPDX-License-Identifier: GPL-2.0-or-later
"""Directions that a capture says nothing about."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, wrap_full_deg
from .findings import listed
from .model import Capture, Flag, Kind, Remark

MISSING_DEG = 2.0
"""Directions without any row are told where they span more than this (0.1 m at 3 m, no wider than a
post) and `MISSING_STEPS` usual steps."""

MISSING_STEPS = 5.0

NO_RETURN_DEG = 5.0
"""Rows without a return are told where they span more than this: 0.26 m at 3 m, narrower than any
window or door."""

MANY_LOST = 0.3
"""The share of rows without a return from which the capture as a whole is in doubt."""

FEW = 20
"""With fewer ring readings than this there is no ring whose gaps could be told."""

_WORST = 3


def check_gaps(capture: Capture) -> tuple[Remark, ...]:
    """Remarks on directions without readings, without returns, and on the share of no returns."""
    ring = capture.kind == Kind.RING
    if ring.sum() < FEW:
        return ()
    angle = wrap_full_deg(capture.angle_deg[ring])
    back = capture.flag[ring] != Flag.NO_RETURN
    remarks = []
    taken, step = _gaps(np.sort(angle))
    usual = float(np.median(step[step > 1e-9])) if np.any(step > 1e-9) else 0.0
    missing = step > max(MISSING_DEG, MISSING_STEPS * usual)
    if missing.any():
        remarks.append(
            Remark(
                "gaps",
                f"Nothing was measured {_told(taken[missing], step[missing], step[missing])}.",
            )
        )
    lost = int((~back).sum())
    if back.any() and lost:
        came, step_back = _gaps(np.sort(angle[back]))
        # What lies in it without any row is told already.
        owner = np.searchsorted(came, taken[missing], side="right") - 1
        lone = step_back - np.bincount(owner % len(came), step[missing], minlength=len(came))
        wide = lone > max(NO_RETURN_DEG, 2.5 * usual)
        if wide.any():
            remarks.append(
                Remark(
                    "gaps", f"Nothing came back {_told(came[wide], step_back[wide], lone[wide])}."
                )
            )
    if lost > MANY_LOST * len(angle):
        remarks.append(
            Remark(
                "no return", f"{100 * lost / len(angle):.0f} % of the readings brought no return."
            )
        )
    return tuple(remarks)


def _gaps(angle: Floats) -> tuple[Floats, Floats]:
    """Where each step between sorted angles begins and how wide it is (deg), full turn."""
    return angle, np.diff(np.append(angle, angle[0] + 360.0))


def _told(begin: Floats, step: Floats, width: Floats) -> str:
    """``from 10.0 to 31.5 deg (21.5 deg wide)``, the widest first, the rest counted."""
    order = np.argsort(-np.round(width, 6), kind="stable")
    worst = [
        f"from {begin[i]:.1f} to {(begin[i] + step[i]) % 360.0:.1f} deg ({width[i]:.1f} deg wide)"
        for i in order[:_WORST]
    ]
    rest = len(order) - len(worst)
    if rest:
        more = f"in {rest} narrower stretch{'es' if rest > 1 else ''}"
        worst.append(f"{more} ({np.sum(width[order[_WORST:]]):.1f} deg in all)")
    return listed(worst)
