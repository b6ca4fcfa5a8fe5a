# SPDX-License-Identifier: GPL-2.0-or-later
"""Groups of stations that are placed in one frame, and what they know together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Capture, Ints
from .connect_frames import composed, inverse, moved
from .target_poses import Common, Points, common_of
from .target_surfaces import TargetSurfaces
from .targets import TargetSightings


@dataclass(frozen=True, eq=False)
class Compass:
    """Bearings of the zero directions ``(S,)`` in radians (NaN: none) and their 1-sigma errors."""

    bearing_rad: Floats
    sigma_rad: Floats

    @property
    def known(self) -> np.ndarray:
        return np.isfinite(self.bearing_rad)

    def north(self, stations: Ints, orientation_rad: Floats) -> tuple[float, float] | None:
        """Magnetic azimuth of +y in the frame in which stations have these orientations, and its
        1-sigma error; the median of the bearings, so that one bent compass does not turn it. None
        without compass."""
        known = self.known[stations]
        if not known.any():
            return None
        of = stations[known]
        azimuth = wrap_half(self.bearing_rad[of] - orientation_rad[known])
        centre = np.arctan2(np.median(np.sin(azimuth)), np.median(np.cos(azimuth)))
        middle = float(wrap_half(centre + np.median(wrap_half(azimuth - centre))))
        return middle, float(np.median(self.sigma_rad[of]) / np.sqrt(len(of)))


def compass_of(captures: Sequence[Capture], use: bool) -> Compass:
    """The compass bearings of captures; none when they are not to be used."""
    bearing = np.radians([capture.magnetic_azimuth_deg for capture in captures])
    sigma = np.radians([capture.bearing_sigma_deg for capture in captures])
    return Compass(bearing if use else np.full(len(captures), np.nan), sigma)


@dataclass(frozen=True, eq=False)
class RelativePose:
    """How the readings of two rough captures tie them: `pose (3,)` of the second station in the
    first one's frame with its `covariance (3, 3)`, the metres of wall that agree, and what walls
    agree to across (`misfit_m`, root mean square)."""

    first: int
    second: int
    pose: Floats
    covariance: Floats
    score_m: float
    misfit_m: float

    @property
    def ends(self) -> tuple[int, int]:
        """The two stations, the lesser first."""
        return min(self.first, self.second), max(self.first, self.second)


@dataclass(frozen=True)
class Unchecked:
    """A join by two targets that nothing else checked then, or that something spoke against: a
    station of either group, the targets, and the sentence for a person if it stays so."""

    station: int
    other: int
    targets: tuple[int, ...]
    sentence: str


@dataclass(eq=False)
class Groups:
    """Which stations are connected and where they stand in their group's frame.

    `group (S,)` is the least index of a group's stations; `pose (S, 3)` in the frame of the group,
    which is that of its first station until groups are joined. `why_out` says why a sighting (its
    row) was found to be wrong and takes no part, `doubted` are those of them that later stations
    may confirm; `relatives` tie rough captures, whose faces then say nothing more. `hung_by` are
    the target surfaces (rows) that gave groups their turn, `unchecked` joins that rest on too
    little unless others confirm them, `refused` those that something spoke against, and `told` is
    what a person should know about how groups were joined.
    """

    names: tuple[str, ...]
    sightings: TargetSightings
    surfaces: TargetSurfaces
    compass: Compass
    group: Ints
    pose: Floats
    why_out: dict[int, str] = field(default_factory=dict)
    doubted: set[int] = field(default_factory=set)
    hung_by: set[int] = field(default_factory=set)
    unchecked: list[Unchecked] = field(default_factory=list)
    refused: list[Unchecked] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    relatives: list[RelativePose] = field(default_factory=list)

    @classmethod
    def apart(
        cls,
        names: tuple[str, ...],
        sightings: TargetSightings,
        surfaces: TargetSurfaces,
        compass: Compass,
    ) -> Groups:
        """Every station for itself."""
        count = len(names)
        return cls(
            names,
            sightings,
            surfaces,
            compass,
            np.arange(count),
            np.zeros((count, 3)),
        )

    @property
    def out(self) -> np.ndarray:
        """Which sightings ``(n,)`` take no part."""
        mask = np.zeros(len(self.sightings), dtype=bool)
        mask[list(self.why_out)] = True
        return mask

    def members(self, group: int) -> Ints:
        """Stations of a group, in order."""
        return np.flatnonzero(self.group == group)

    def leaders(self) -> list[int]:
        """The groups, each by its least station."""
        return sorted({int(g) for g in self.group})

    def join(self, first: int, second: int, pose: Floats) -> None:
        """Take the second group into the first; `pose` moves its frame into the first one's."""
        of = self.members(second)
        self.pose[of] = composed(pose, self.pose[of])
        both = np.flatnonzero((self.group == first) | (self.group == second))
        self.group[both] = int(both.min())

    def relative(self, i: int, j: int, pose: Floats) -> Floats:
        """The motion of j's group frame into i's that a pose of j in i's frame amounts to."""
        back = self.pose[j]
        inner = composed(pose, inverse(back))
        return composed(self.pose[i], inner)

    # --- targets --------------------------------------------------------------------------------

    def points(self, group: int) -> Points:
        """Positions in the group's frame and 1-sigma errors of its targets."""
        s = self.sightings
        rows = np.flatnonzero((self.group[s.station] == group) & ~self.out)
        some = s.chosen(rows)
        seen = moved(self.pose[some.station], some.local_m)
        weight = some.spread_m**-2.0
        target, of = np.unique(some.target, return_inverse=True)
        total = np.bincount(of, weight, len(target))
        xy = [np.bincount(of, weight * seen[:, k], len(target)) / total for k in (0, 1)]
        return Points(np.stack(xy, axis=1), total**-0.5, target)

    def common(self, first: int, second: int) -> Common:
        """Targets that both groups sighted."""
        return common_of(self.points(first), self.points(second))

    def sharing(self, group: int) -> Ints:
        """The groups that sighted two or more of a group's targets, in order."""
        s = self.sightings
        good = ~self.out
        own = self.group[s.station] == group
        known = np.zeros(len(s.name), dtype=bool)
        known[s.target[own & good]] = True
        other = np.flatnonzero(good & ~own & known[s.target])
        pairs = np.unique(np.stack([self.group[s.station[other]], s.target[other]]), axis=1)
        leader, count = np.unique(pairs[0], return_counts=True)
        return np.asarray(leader[count > 1])

    def tied_by_targets(self, group: int) -> bool:
        """Whether two stations of a group sighted a common target."""
        s = self.sightings
        rows = np.flatnonzero((self.group[s.station] == group) & ~self.out)
        pairs = np.unique(np.stack([s.target[rows], s.station[rows]]), axis=1)
        return bool(len(np.unique(pairs[0])) < pairs.shape[1])

    # --- compass --------------------------------------------------------------------------------

    def north(self, group: int) -> tuple[float, float] | None:
        """Magnetic azimuth of the group frame's +y and its 1-sigma error; None without compass."""
        of = self.members(group)
        return self.compass.north(of, self.pose[of, 2])

    def compass_turn(self, first: int, second: int) -> tuple[float, float] | None:
        """The turn of the second group's frame in the first one's that the compasses ask for, with
        its 1-sigma error."""
        a, b = self.north(first), self.north(second)
        if a is None or b is None:
            return None
        return float(wrap_half(b[0] - a[0])), float(np.hypot(a[1], b[1]))
