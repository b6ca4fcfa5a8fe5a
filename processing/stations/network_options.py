# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person may ask of the adjustment of a survey's stations."""

from __future__ import annotations

from dataclasses import dataclass, field

from .choices import Choices, Start
from .systematics import Systematics


@dataclass(frozen=True)
class TargetLimits:
    """Where a target is well placed: `nearest_m` to `farthest_m` from the instrument, its surface
    at most `steepest_deg` from square to the beam (at 45 degrees a pointing error moves the
    distance by as much as the point), and lines of sight that cut at `least_cut_deg` or more. What
    they are by default is common practice with laser distance instruments."""

    nearest_m: float = 1.0
    farthest_m: float = 4.0
    steepest_deg: float = 45.0
    least_cut_deg: float = 30.0


@dataclass(frozen=True)
class NetworkOptions:
    """What ties stations and where the datum lies.

    `hold` names a station that keeps position and orientation, beside those that `choices` hold
    (none: a free network, inner constraints). `choices` are what a person decided about stations
    and ties, `start` poses to start from. `corrected` are systematic errors that the readings were
    freed of: their covariance goes on into the stations'. Targets outside `limits` are warned of.
    """

    hold: str | None = None
    choices: Choices = field(default_factory=Choices)
    start: Start | None = None
    use_targets: bool = True
    use_overlap: bool = True
    use_compass: bool = True
    corrected: Systematics | None = None
    limits: TargetLimits = field(default_factory=TargetLimits)
