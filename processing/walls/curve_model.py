# SPDX-License-Identifier: GPL-2.0-or-later
"""Curved walls and columns of a plan, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints


@dataclass(frozen=True, eq=False)
class Curves:
    """``C`` circles in the plan frame, and which of ``W`` wall faces are chords of them.

    `covariance (C, 3, 3)` is that of centre x, y and radius (m), the stations' errors included;
    `hollow (C,)` tells whether the free side is inside (a round room) or outside (a column).
    `of_face (W,)` is the circle of each face, or -1; `sector_rad (W, 2)` the azimuths from the
    centre, increasing, between which the face stands for the arc (NaN: straight).
    """

    centre_m: Floats
    radius_m: Floats
    covariance: Floats
    hollow: NDArray[np.bool_]
    of_face: Ints
    sector_rad: Floats

    def __len__(self) -> int:
        return len(self.radius_m)

    @property
    def curved(self) -> NDArray[np.bool_]:
        """Which faces ``(W,)`` are chords."""
        return np.asarray(self.of_face >= 0)

    def of(self, faces: Ints) -> Curves:
        """The circles with these faces ``(k,)`` (-1: a straight one)."""
        none = faces < 0
        at = np.where(none, 0, faces)
        if len(self.of_face) == 0:
            return no_curves(len(faces))
        return replace(
            self,
            of_face=np.where(none, -1, self.of_face[at]),
            sector_rad=np.where(none[:, None], np.nan, self.sector_rad[at]),
        )


def no_curves(faces: int) -> Curves:
    """Nothing but straight faces, so many."""
    none = np.empty(0)
    return Curves(
        np.empty((0, 2)),
        none,
        np.empty((0, 3, 3)),
        np.empty(0, dtype=bool),
        np.full(faces, -1, dtype=np.int64),
        np.full((faces, 2), np.nan),
    )


def at_ends(curves: Curves) -> NDArray[np.bool_]:
    """Which faces ``(W,)`` are chords at an end of what was seen of a curve: no chord of it goes on
    where they end."""
    result = np.zeros(len(curves.of_face), dtype=bool)
    for k in range(len(curves)):
        own = np.flatnonzero(curves.of_face == k)
        begin, end = curves.sector_rad[own].T
        meets = np.abs((begin[None] - end[:, None] + np.pi) % (2 * np.pi) - np.pi) < 1e-6
        result[own] = ~(meets.any(axis=0) & meets.any(axis=1))
    return result


def curve_name(number: int) -> str:
    """What layers and reports call a curve."""
    return f"R{number + 1:02d}"
