# SPDX-License-Identifier: GPL-2.0-or-later
"""The lag of an instrument that sweeps there and back: backlash and late readings of the angle.

Every reading of a sweep is then turned the same way, by half of what the two senses differ by; the
mean of both is free of it. This is the reason for observing directions in both senses in surveying
(common practice). One sense alone shows nothing, and turns the whole capture only, which its
orientation takes up.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats
from .findings import listed
from .model import Capture, Ints
from .sweeps import sweeps_of

LARGEST_RAD = float(np.radians(10.0))
FEWEST = 60
"""Usable readings that each sense needs."""

CLEARER = 0.5
"""The senses must agree better by this factor than without a turn."""

_TRIALS = 201


def sweep_lag_rad(capture: Capture) -> float:
    """How far counterclockwise sweeps must be turned clockwise to agree with clockwise ones.

    0 when they agree as well without (or the surroundings do not tell), NaN when the capture was
    not swept in both senses. The one is found that makes the median difference of distances least.
    """
    there, back = _senses(capture)
    if min(len(there), len(back)) < FEWEST:
        return float("nan")
    angle = capture.angle_rad[there] % (2.0 * np.pi)
    order = np.argsort(angle, kind="stable")
    inverse = 1.0 / capture.distance_m[there][order]

    def difference(lag: Floats) -> Floats:
        turned = capture.angle_rad[back] + lag[:, None]
        seen = np.interp(turned.ravel(), angle[order], inverse, period=2.0 * np.pi)
        apart = 1.0 / seen.reshape(turned.shape) - capture.distance_m[back]
        return np.asarray(np.median(np.abs(apart), axis=1))

    coarse = np.linspace(-LARGEST_RAD, LARGEST_RAD, _TRIALS)
    step = coarse[1] - coarse[0]
    best = coarse[np.argmin(difference(coarse))]
    fine = best + np.linspace(-step, step, 41)
    # The median is flat around its least: the middle of what is nearly as good is taken.
    values = difference(fine)
    best = float(np.mean(fine[values <= 1.05 * values.min()]))
    at_rest = float(difference(np.zeros(1))[0])
    return best if values.min() < CLEARER * at_rest else 0.0


@dataclass
class LagEstimate:
    """Takes the lags of captures one at a time (`sweep_lag_rad`), and tells the instrument's: where
    a capture shows one, the median over the captures that do."""

    lags: list[float] = field(default_factory=list)
    stations: list[str] = field(default_factory=list)

    def add(self, capture: Capture) -> None:
        self.lags.append(sweep_lag_rad(capture))
        self.stations.append(capture.station)

    def shows(self, index: int) -> bool:
        """Whether the capture added at this place shows a lag."""
        return bool(np.isfinite(self.lags[index]) and self.lags[index] != 0.0)

    def lag_rad(self) -> float:
        """The instrument's lag; 0 when no capture shows one."""
        shown = [lag for index, lag in enumerate(self.lags) if self.shows(index)]
        return float(np.median(shown)) if shown else 0.0

    def freed(self, index: int, capture: Capture) -> Capture:
        """The capture added at this place, the readings of each sense turned by half the lag."""
        return _turned(capture, self.lag_rad()) if self.shows(index) else capture

    def warnings(self) -> list[str]:
        """A sentence about the captures that were turned."""
        names = [name for index, name in enumerate(self.stations) if self.shows(index)]
        if not names:
            return []
        return [
            f"The clockwise and counterclockwise sweeps of {listed(names)} differ by "
            f"{abs(np.degrees(self.lag_rad())):.1f} deg; each was turned by half of it towards the "
            "other."
        ]


def _senses(capture: Capture, only_usable: bool = True) -> tuple[Ints, Ints]:
    """The ring readings of clockwise and of counterclockwise sweeps, as places in the capture."""
    senses: tuple[list[Ints], list[Ints]] = ([], [])
    for sweep in sweeps_of(capture):
        if len(sweep) > 1:
            senses[int(sweep.at[0] > sweep.at[-1])].append(sweep.at)
    none = np.empty(0, dtype=np.int64)
    there, back = (np.concatenate([none, *parts]) for parts in senses)
    if only_usable:
        usable = capture.usable & (np.nan_to_num(capture.distance_m) > 0.0)
        there, back = there[usable[there]], back[usable[back]]
    return there, back


def _turned(capture: Capture, lag_rad: float) -> Capture:
    there, back = _senses(capture, only_usable=False)
    angle = capture.angle_deg.copy()
    angle[there] -= np.degrees(lag_rad) / 2.0
    angle[back] += np.degrees(lag_rad) / 2.0
    return replace(capture, angle_deg=angle)
