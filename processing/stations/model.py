# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjusted network of stations, as arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, turn
from ..captures.model import Ints
from .choices import Choices
from .reliability import Rest, Unseen
from .systematics import Systematics, SystematicsEstimate


class Status(str, Enum):
    """What became of a station; the words of the ``status`` field."""

    AS_RECORDED = "as recorded"
    HELD = "held"
    ADJUSTED = "adjusted"
    UNCONNECTED = "unconnected"


class TieKind(str, Enum):
    """What a tie rests on; the words of the ``kind`` field of the ties layer."""

    TARGET = "target"
    SURFACE = "surface"
    OVERLAP = "overlap"
    COMPASS = "compass"
    GEOTAG = "geotag"


@dataclass(frozen=True, eq=False)
class Ties:
    """``T`` ties between stations, or from a station to a target.

    `from_station` and `to_station` are indices of stations; `to_station` is -1 for a tie to a
    target, whose index is `to_target` (-1 otherwise). `residual_m` is the length of the position
    residual, `residual_rad` the direction's (NaN where the tie has none). `standardised` is the
    scalar observation's w, or for a correlated tie of k components the square root of its
    chi-square; `redundancy` the redundancy number (mean over the components, 0 to 1).
    `used` says whether the adjustment used it, `reason` why not or what to look at. `detectable_m`
    and `detectable_rad` are the minimal detectable biases of the tie's position and direction (NaN
    where it has none, infinite where nothing controls it; None: not known).
    """

    name: tuple[str, ...]
    kind: tuple[TieKind, ...]
    from_station: Ints
    to_station: Ints
    to_target: Ints
    residual_m: Floats
    residual_rad: Floats
    standardised: Floats
    redundancy: Floats
    used: NDArray[np.bool_]
    reason: tuple[str, ...]
    detectable_m: Floats | None = None
    detectable_rad: Floats | None = None

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, eq=False)
class Targets:
    """``K`` sighted targets in the plan frame.

    `xy_m (K, 2)`, `covariance_m2 (K, 2, 2)`, `sightings (K,)` the number of stations that sighted
    each, `network (K,)` the connected group.
    """

    name: tuple[str, ...]
    xy_m: Floats
    covariance_m2: Floats
    sightings: Ints
    network: Ints

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True)
class NetworkStatistics:
    """The figures a surveyor signs: reference variance (a posteriori over a priori), degrees of
    freedom, 95 % bounds of the reference variance from chi-square, largest standardised residual,
    numbers of unconnected stations and rejected ties; `observations` by kind in words, how many
    there are and how many are used, and numbers of `unknowns` by what they are."""

    reference_variance: float
    degrees_of_freedom: int
    lower_bound: float
    upper_bound: float
    largest_standardised_residual: float
    unconnected_stations: int
    rejected_ties: int
    observations: tuple[tuple[str, int, int], ...] = ()
    unknowns: tuple[tuple[str, int], ...] = ()

    @property
    def passes(self) -> bool:
        """Whether the global chi-square test at 95 % is passed (true without redundancy)."""
        if self.degrees_of_freedom == 0:
            return True
        return self.lower_bound <= self.reference_variance <= self.upper_bound


@dataclass(frozen=True, eq=False)
class Loop:
    """Stations in the order of the loop (indices of the survey), the misclosure of its position (m)
    and orientation (rad, not negative), and its length (m)."""

    stations: tuple[int, ...]
    misclosure_m: float
    misclosure_rad: float
    length_m: float

    @property
    def ratio(self) -> float:
        """The n of 1:n; infinite for a loop that closes exactly."""
        return self.length_m / self.misclosure_m if self.misclosure_m > 0.0 else float("inf")


@dataclass(frozen=True)
class StoreyJoin:
    """Two storeys that targets join: `lower` and `upper` level, the names of the `targets` sighted
    from both and of the `stations` that sighted them; how well the upper storey's direction is
    known against the lower one (`sigma_turn_rad`), and its worst station's place (`sigma_m`), seen
    from the stair, both 1 sigma."""

    network: int
    lower: int
    upper: int
    targets: tuple[str, ...]
    stations: tuple[str, ...]
    sigma_turn_rad: float
    sigma_m: float


@dataclass(frozen=True, eq=False)
class Network:
    """``S`` stations in the plan frame, in the order of the survey's captures.

    The origin is the held (else the first) station, +y is plan north. `xy_m (S, 2)`,
    `orientation_rad (S,)` the plan azimuth of the instrument's zero direction,
    `covariance (3S, 3S)` of (x, y, orientation) station by station in m and rad, NaN rows for
    unconnected stations, zero between groups. `network (S,)` numbers the connected groups from
    1; each unconnected station is a group of its own, numbered after them. `systematics` is what
    the network says about the instrument's systematic errors beyond those `corrected`; `loops` are
    the independent loops of all groups, the worst first. `choices` are what a person decided;
    `proposals` what should be decided about a station, and why (by station name); `unseen` the
    error of each group that the tests may miss and that moves a station most, `resting` the
    observations that hardly anything controls, with the stations that rest on them; `storeys` say
    which targets join storeys, and how firmly. The datum of a group is its held station, else the
    mean of its positions and their turn about it; the stations `joined_since` are not counted
    there, as they came to a group that was connected before.
    """

    station: tuple[str, ...]
    xy_m: Floats
    orientation_rad: Floats
    covariance: Floats
    network: Ints
    status: tuple[Status, ...]
    ties: Ties
    targets: Targets
    statistics: NetworkStatistics
    warnings: tuple[str, ...] = ()
    systematics: SystematicsEstimate | None = None
    corrected: Systematics | None = None
    loops: tuple[Loop, ...] = ()
    choices: Choices = field(default_factory=Choices)
    proposals: Mapping[str, str] = field(default_factory=dict)
    unseen: tuple[Unseen, ...] = ()
    resting: tuple[Rest, ...] = ()
    storeys: tuple[StoreyJoin, ...] = ()
    joined_since: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.station)

    @property
    def groups(self) -> list[int]:
        """The numbers of the connected groups."""
        tied = [s is not Status.UNCONNECTED for s in self.status]
        return sorted(set(self.network[np.array(tied, dtype=bool)].tolist()))

    def sigma(self) -> Floats:
        """Standard errors ``(S, 3)`` of x, y (m) and orientation (rad)."""
        return np.sqrt(np.diagonal(self.covariance)).reshape(-1, 3)

    def block(self, index: int) -> Floats:
        """Covariance ``(3, 3)`` of one station."""
        rows = slice(3 * index, 3 * index + 3)
        return self.covariance[rows, rows]

    def to_plan(self, index: int, xy_m: Floats) -> Floats:
        """Points ``(..., 2)`` of a station's instrument frame in the plan frame."""
        return turn(xy_m, self.orientation_rad[index]) + self.xy_m[index]
