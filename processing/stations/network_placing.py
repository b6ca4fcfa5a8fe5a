# SPDX-License-Identifier: GPL-2.0-or-later
"""Where groups of stations that nothing connects are drawn: apart, by geotag where there is one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from ..captures.face_model import Faces
from ..captures.model import Capture, Ints
from .connect_frames import moved, turned

CLEARANCE_M = 1.0


def boxes(
    captures: Sequence[Capture], faces: Sequence[Faces], members: Ints, pose: Floats
) -> dict[int, Floats]:
    """Boxes ``(4,)`` (least x, least y, greatest x, greatest y) around what stations see, by
    storey."""
    found: dict[int, list[Floats]] = {}
    for station in members:
        points = captures[station].xy_m[captures[station].usable]
        points = points[np.isfinite(points).all(axis=1)]
        points = np.concatenate([points, faces[station].ends_m.reshape(-1, 2), np.zeros((1, 2))])
        found.setdefault(captures[station].level, []).append(moved(pose[station], points))
    return {
        level: np.concatenate(
            [np.min(np.concatenate(p), axis=0), np.max(np.concatenate(p), axis=0)]
        )
        for level, p in found.items()
    }


def clear_shift(
    box: dict[int, Floats], placed: Sequence[dict[int, Floats]], wanted: Floats, away: Floats
) -> Floats:
    """The least shift ``(2,)`` beyond the one wanted, in the direction `away`, under which a group
    meets none of the placed ones on its storeys."""
    others = [(box[level], other[level]) for other in placed for level in box if level in other]
    distance = 0.0
    while True:
        shift = wanted + distance * away
        longest = 0.0
        for own, other in others:
            low, high = own[:2] + shift, own[2:] + shift
            meets = (low < other[2:] + CLEARANCE_M) & (high > other[:2] - CLEARANCE_M)
            if not meets.all():
                continue
            # How far along `away` until one of the two axes is free.
            with np.errstate(divide="ignore", invalid="ignore"):
                need = np.where(
                    away > 0,
                    (other[2:] + CLEARANCE_M - low) / away,
                    np.where(away < 0, (other[:2] - CLEARANCE_M - high) / away, np.inf),
                )
            longest = max(longest, float(np.min(need)))
        if longest <= 0.0:
            return shift
        distance += longest + 1e-6


def geotag_shift(
    geotag_m: Floats, known: np.ndarray, members: Ints, pose: Floats, first: Ints, north_rad: float
) -> Floats | None:
    """The shift ``(2,)`` of a group in the plan that its geotags ask for relative to the first
    group's; None when one of the two has none.

    `geotag_m (S, 2)` are east and north, `north_rad` the azimuth of plan +y.
    """
    own, other = members[known[members]], first[known[first]]
    if not len(own) or not len(other):
        return None
    plan = turned(geotag_m, -north_rad)
    return (plan[own] - pose[own, :2]).mean(axis=0) - (plan[other] - pose[other, :2]).mean(axis=0)
