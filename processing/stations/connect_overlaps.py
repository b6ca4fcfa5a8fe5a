# SPDX-License-Identifier: GPL-2.0-or-later
"""What is known of an overlap beforehand, and what became of one that was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..angles import Floats, wrap_half
from .connect_frames import composed, inverse
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


class Joining(Protocol):
    """Two groups and the pose ``(3,)`` of the second's frame in the first's."""

    @property
    def first(self) -> int: ...

    @property
    def second(self) -> int: ...

    @property
    def pose(self) -> Floats: ...


def placed_by_both(one: Joining, other: Joining) -> tuple[int, int, Floats] | None:
    """The two groups that two joins would bring together through the one they share, and the pose
    of the second's frame in the first's; None where they share none, or both."""
    ends, rival = {one.first, one.second}, {other.first, other.second}
    if len(ends & rival) != 1:
        return None
    (shared,) = ends & rival
    own = one.pose if shared == one.first else inverse(one.pose)
    theirs = other.pose if shared == other.first else inverse(other.pose)
    (mine,), (far,) = ends - {shared}, rival - {shared}
    return mine, far, composed(inverse(own), theirs)
