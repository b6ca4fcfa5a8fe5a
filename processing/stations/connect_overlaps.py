# SPDX-License-Identifier: GPL-2.0-or-later
"""What is known of an overlap beforehand, and what became of one that was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from .connect_groups import Compass
from .overlap_starts import Prior


@dataclass(frozen=True, eq=False)
class OverlapTie:
    """A hypothesis about a pair of stations and what became of it: `pose (3,)` of the second
    station in the first one's frame, `score_m` (metres of wall, or for ties by faces the nats of
    evidence), `gap` to the runner-up as a share, whether it connected the two, and why not."""

    first: int
    second: int
    pose: Floats
    score_m: float
    gap: float
    used: bool
    reason: str


def prior_of(compass: Compass, first: int, second: int) -> Prior | None:
    """The turn between two stations by their compasses; None where one has none."""
    if not (compass.known[first] and compass.known[second]):
        return None
    return Prior(
        float(wrap_half(compass.bearing_rad[second] - compass.bearing_rad[first])),
        float(np.hypot(compass.sigma_rad[first], compass.sigma_rad[second])),
    )
