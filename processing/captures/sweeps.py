# SPDX-License-Identifier: GPL-2.0-or-later
"""Ring readings in the order in which the beam passed, so that neighbours are neighbours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, wrap_half
from .model import Capture, Ints, Kind

REACH = 2.5
"""Readings further apart than this many usual steps are no neighbours: others are missing between.
One lost reading is bridged."""

FEWEST_IN_SWEEP = 10
"""With fewer readings a sweep on average, the rows are in no order and are sorted by angle."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """``m`` ring readings of one passage of the beam, turned clockwise.

    `at (m,)` are their places in the capture, `angle_rad (m,)` ascends without a break at the full
    turn, `closed` says that the first follows the last, `step_rad` is the usual angle between
    readings.
    """

    at: Ints
    angle_rad: Floats
    closed: bool
    step_rad: float

    def __len__(self) -> int:
        return len(self.at)

    def only(self, kept: NDArray[np.bool_]) -> Sweep:
        """The sweep without the readings that are not kept ``(m,)``."""
        if kept.all():
            return self
        angle = self.angle_rad[kept]
        return Sweep(self.at[kept], angle, self.closed, _usual_step(angle))

    def neighbour(self, offset: int) -> tuple[Ints, NDArray[np.bool_], Floats]:
        """The readings ``offset`` places on: their places in the sweep ``(m,)``, whether nothing
        is missing up to them, and the signed angle to them."""
        m = len(self)
        place = np.roll(np.arange(m), -offset)
        wrapped = slice(max(m - offset, 0), m) if offset > 0 else slice(0, min(-offset, m))
        angle = self.angle_rad[place]
        angle[wrapped] += np.copysign(2.0 * np.pi, offset)
        angle -= self.angle_rad
        near = np.abs(angle) <= (abs(offset) + REACH - 1.0) * self.step_rad
        if not self.closed or m <= abs(offset):
            near[wrapped] = False
        return place, near, angle


def sweeps_of(capture: Capture) -> list[Sweep]:
    """The sweeps of a capture's ring readings, with or without return.

    A sweep ends where the beam turns back. Rows in no order are one sweep, sorted by angle.
    """
    at = np.flatnonzero(capture.kind == Kind.RING)
    if not len(at):
        return []
    step = wrap_half(np.diff(capture.angle_rad[at]))
    sense = np.sign(step)
    # A repeated angle has the sense of the next step, as the beam may turn back there.
    turning = np.flatnonzero(sense)
    if len(turning):
        following = np.searchsorted(turning, np.arange(len(sense)))
        sense = sense[turning[np.minimum(following, len(turning) - 1)]]
    cut = np.flatnonzero(sense[1:] != sense[:-1]) + 2
    if len(at) < FEWEST_IN_SWEEP * (len(cut) + 1) and len(cut):
        angle = capture.angle_rad[at] % (2.0 * np.pi)
        order = np.argsort(angle, kind="stable")
        return [_sweep(at[order], angle[order])]
    angle = capture.angle_rad[at[0]] + np.concatenate([[0.0], np.cumsum(step)])
    parts = []
    for part in np.split(np.arange(len(at)), cut):
        if len(part) > 1 and angle[part[-1]] < angle[part[0]]:
            part = part[::-1]
        parts.append(_sweep(at[part], angle[part]))
    return parts


def _sweep(at: Ints, angle: Floats) -> Sweep:
    rest = 2.0 * np.pi - (angle[-1] - angle[0])
    step = _usual_step(angle)
    return Sweep(at, angle, bool(-0.5 * step <= rest <= REACH * step and len(at) > 2), step)


def _usual_step(angle: Floats) -> float:
    steps = np.diff(angle)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if len(steps) else 0.0
