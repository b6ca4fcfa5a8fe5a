# SPDX-License-Identifier: GPL-2.0-or-later
"""What became of an overlap that was found."""

from __future__ import annotations

from dataclasses import dataclass

from ..angles import Floats


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
