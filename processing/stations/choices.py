# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person decided about stations and ties, and the poses a new adjustment starts from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError
from .connect_frames import between

if TYPE_CHECKING:
    from .model import Network

TAKEN_OUT = "taken out by a person"
STATION_TAKEN_OUT = "its station was left out by a person"


@dataclass(frozen=True)
class Choices:
    """What a person decided.

    `held` are stations that keep their poses, `left_out` those that take no part in the adjustment;
    `ties_left_out` are names of ties, as the list of ties writes them, that take no part, and
    `sigma_factor` multiplies the standard errors of ties. Raises SurveyError for a station both
    held and left out, and a factor that is no positive number.
    """

    held: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    ties_left_out: frozenset[str] = frozenset()
    sigma_factor: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        both = sorted(set(self.held) & set(self.left_out))
        if both:
            raise SurveyError(
                f"Station {both[0]} is to be held and to be left out; expected one of the two."
            )
        for name, factor in self.sigma_factor.items():
            if not 0.0 < factor < np.inf:
                raise SurveyError(
                    f"Tie {name}: the factor on its standard error is {factor!r}; expected a "
                    "number above 0."
                )

    def __bool__(self) -> bool:
        return bool(self.held or self.left_out or self.ties_left_out or self.sigma_factor)

    def factor(self, tie: str) -> float:
        """What the standard errors of a tie are multiplied by."""
        return float(self.sigma_factor.get(tie, 1.0))

    def factors(self, ties: Iterable[str]) -> Floats:
        """What the standard errors of ties ``(T,)`` are multiplied by."""
        return np.array([self.factor(tie) for tie in ties], dtype=float)

    def holding(self, station: str | None) -> Choices:
        """These, with one station more that is held."""
        if not station or station in self.held:
            return self
        return replace(self, held=(*self.held, station))

    def leaves_out(self, stations: Sequence[str]) -> NDArray[np.bool_]:
        """Which of the stations ``(S,)`` take no part."""
        out = set(self.left_out)
        return np.array([name in out for name in stations], dtype=bool)

    def check(self, stations: Sequence[str]) -> None:
        """SurveyError where a station to hold or leave out is none of these."""
        known = set(stations)
        for word, names in (("hold", self.held), ("leave out", self.left_out)):
            for name in names:
                if name not in known:
                    raise SurveyError(
                        f"The station to {word}, {name!r}, is not in the survey; "
                        f"expected one of {', '.join(stations)}."
                    )


@dataclass(frozen=True, eq=False)
class Start:
    """Poses that an earlier adjustment gave, from which a new one starts.

    `pose (S, 3)` are x, y (m) and orientation (rad) in the plan frame, NaN rows where a station has
    none; `group (S,)` numbers the connected groups they belong to. `covariance (3S, 3S)` is that of
    the poses (None: not known); held stations hand it on. Stations with a pose are not searched for
    each other again: what ties them is found at their poses. With `search` those without a pose
    are searched against all others, otherwise they stay apart.
    """

    pose: Floats
    group: Ints
    covariance: Floats | None = None
    search: bool = True

    @classmethod
    def of(cls, stations: Sequence[str], earlier: Network, search: bool = True) -> Start:
        """Where stations of these names stood in an earlier network: its adjusted and held ones;
        sketched stations have no pose."""
        from .model import Status

        place = {
            name: row
            for row, (name, status) in enumerate(zip(earlier.station, earlier.status))
            if status in (Status.ADJUSTED, Status.HELD)
        }
        pose = np.full((len(stations), 3), np.nan)
        group = np.zeros(len(stations), dtype=np.int64)
        covariance = np.full((3 * len(stations), 3 * len(stations)), np.nan)
        here = np.array([k for k, name in enumerate(stations) if name in place], dtype=np.int64)
        there = np.array([place[stations[k]] for k in here], dtype=np.int64)
        pose[here, :2] = earlier.xy_m[there]
        pose[here, 2] = earlier.orientation_rad[there]
        group[here] = earlier.network[there]
        rows, source = (3 * here[:, None] + np.arange(3)).ravel(), 3 * there[:, None] + np.arange(3)
        covariance[np.ix_(rows, rows)] = earlier.covariance[np.ix_(source.ravel(), source.ravel())]
        return cls(pose, group, covariance, search)

    def without(self, stations: Sequence[str], left_out: Sequence[str]) -> Start:
        """These poses but those of stations that were left out; `stations` are all names."""
        out = np.isin(stations, left_out)
        return replace(self, pose=np.where(out[:, None], np.nan, self.pose))

    @property
    def known(self) -> np.ndarray:
        """Which stations ``(S,)`` have a pose."""
        return np.isfinite(self.pose).all(axis=1)

    def relative_covariance(self, stations: Ints) -> Floats:
        """Covariance ``(3k, 3k)`` of the poses of k stations against the first of them, whose own
        is zero; zero where none is known.

        The first station is the datum: the others' errors are those of their poses seen from it
        (an S-transformation: Baarda, *S-transformations and criterion matrices*, 1973).
        """
        count = len(stations)
        rows = (3 * stations[:, None] + np.arange(3)).ravel()
        if self.covariance is None or not np.isfinite(self.covariance[np.ix_(rows, rows)]).all():
            return np.zeros((3 * count, 3 * count))
        change = np.eye(3 * count)
        away = self.pose[stations, :2] - self.pose[stations[0], :2]
        for k, (x, y) in enumerate(away):
            # A clockwise turn of the first station moves what is at (x, y) from it by (y, -x).
            change[3 * k : 3 * k + 3, :3] -= np.array([[1, 0, y], [0, 1, -x], [0, 0, 1]])
        return change @ self.covariance[np.ix_(rows, rows)] @ change.T

    def relative(self, first: int, second: int) -> Floats:
        """The pose ``(3,)`` of the second station in the first one's frame."""
        return between(self.pose[first], self.pose[second])


@dataclass(frozen=True, eq=False)
class PairRule:
    """Which pairs of stations may be searched for an overlap; `barred` are pairs (the lesser first)
    that a person took out, `left_out (S,)` stations, `placed (S,)` those with a pose to start from
    and `search` whether the others are searched."""

    left_out: np.ndarray
    placed: np.ndarray
    barred: frozenset[tuple[int, int]] = frozenset()
    search: bool = True

    @classmethod
    def of(cls, stations: Sequence[str], choices: Choices, start: Start | None) -> PairRule:
        """The rule of a survey's stations."""
        from .tie_names import pairs_named

        placed = np.zeros(len(stations), dtype=bool) if start is None else start.known
        barred = pairs_named(choices.ties_left_out, stations)
        return cls(choices.leaves_out(stations), placed, barred, start is None or start.search)

    def may_tie(self, i: int, j: int) -> bool:
        """Whether an overlap may tie two stations."""
        return not (self.left_out[i] or self.left_out[j] or (min(i, j), max(i, j)) in self.barred)

    def may_search(self, i: int, j: int) -> bool:
        """Whether an overlap of two stations is to be searched."""
        if not self.search or (self.placed[i] and self.placed[j]):
            return False
        return self.may_tie(i, j)
