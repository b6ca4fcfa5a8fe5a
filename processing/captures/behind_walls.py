# SPDX-License-Identifier: GPL-2.0-or-later
"""Stretches of a ring that lie behind a wall which stands on both sides of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, unit
from .faces_fit import ReadingNoise, lines_of
from .model import Ints
from .turns import FULL_RAD, Turn

STEP_M = 0.15
"""A step in depth between neighbours is told from this on (a wall's thickness is more)."""

STEEPEST = float(np.tan(np.radians(80.0)))
"""And beyond what a wall met at this incidence shows between neighbours."""

BESIDE = 12
"""Readings of the wall on either side that must lie on one line."""

CHI2_LINE = 1.9
"""They do up to this mean square residual (22 degrees of freedom: exceeded by 0.7 % of walls, which
only means that nothing is told about them)."""

ALIGNED_M = 0.1
"""Sides that leave the chord across both by more than this are not worth a fit."""

WIDEST_RAD = float(np.radians(100.0))
WIDTHS_M = (0.2, 6.0)
"""How wide a stretch may be, as seen and along the wall: a small pane to a shop window."""

_MOST = 120


def steps_in(turn: Turn) -> Floats:
    """The steps in depth ``(m,)`` from each reading to the next (m, positive away from the
    instrument), 0 where they are no larger than on a wall or where readings are missing."""
    r, a = turn.distance_m, turn.angle_rad
    ahead = np.roll(a, -1) - a
    ahead[-1] = (ahead[-1] % FULL_RAD) if turn.closed else np.inf
    change = np.roll(r, -1) - r
    steep = np.minimum(r, np.roll(r, -1)) * STEEPEST * np.minimum(ahead, 0.1)
    return np.where((np.abs(change) > STEP_M + steep) & (ahead < 0.1), change, 0.0)


@dataclass(frozen=True, eq=False)
class Stretches:
    """Places ``[first, last]`` in a turn, ``(k,)`` each, of the readings of stretches behind a wall
    (the last may be past the turn's end: modulo its length), and the wall: unit normals ``(k, 2)``
    towards the instrument and distances ``(k,)`` of the instrument from its line."""

    first: Ints
    last: Ints
    normal: Floats
    height_m: Floats

    def only(self, index: int) -> Stretches:
        """One of the stretches."""
        own = slice(index, index + 1)
        return Stretches(self.first[own], self.last[own], self.normal[own], self.height_m[own])

    def __len__(self) -> int:
        return len(self.first)

    def depth_m(self, index: int, xy_m: Floats) -> Floats:
        """How far points ``(..., 2)`` lie behind the wall of a stretch."""
        return -self.height_m[index] - xy_m @ self.normal[index]


def between_walls(turn: Turn, before: Ints, after: Ints, noise: ReadingNoise) -> Stretches:
    """Of stretches that follow the readings `before` and end ahead of the readings `after` (places
    ``(k,)``, `after` larger, up to twice the turn's length), those on whose either side the same
    straight wall stands."""
    m = len(turn)
    a = turn.angle_rad
    span = _angle(a, after) - _angle(a, before)
    good = (span > 0.0) & (span < WIDEST_RAD)
    if not turn.closed:
        good &= (before - BESIDE + 1 >= 0) & (after + BESIDE <= m)
    before, after = before[good], after[good]
    reach = np.arange(BESIDE)
    at = np.concatenate([before[:, None] - reach[::-1], after[:, None] + reach], axis=1) % m
    r = turn.distance_m[at]
    xy = r[..., None] * unit(a[at])
    x, y = xy[..., 0], xy[..., 1]
    w = np.full(r.shape, 1.0 / noise.distance_m**2)
    for last in (False, True):
        line = lines_of(np.stack([w, w * x, w * y, w * x * x, w * x * y, w * y * y]).sum(axis=-1))
        if not last:
            across = np.einsum("kij,kj->ki", xy, line.normal)
            w = 1.0 / noise.variance_across(r, across / r)
    height = -np.einsum("ki,ki->k", line.centre_m, line.normal)
    width = np.hypot(*(xy[:, BESIDE] - xy[:, BESIDE - 1]).T)
    straight = line.cost < CHI2_LINE * (2 * BESIDE - 2)
    straight &= (width >= WIDTHS_M[0]) & (width <= WIDTHS_M[1]) & (height > 0.1)
    return Stretches(
        before[straight] + 1, after[straight] - 1, line.normal[straight], height[straight]
    )


def _angle(a: Floats, place: Ints) -> Floats:
    return np.asarray(a[place % len(a)] + FULL_RAD * (place // len(a)))


def stretches_behind(turn: Turn, noise: ReadingNoise) -> Stretches:
    """The stretches that begin with a step away from the instrument and end with one back, with the
    same straight wall on either side."""
    step = steps_in(turn)
    out, back = np.flatnonzero(step > 0.0), np.flatnonzero(step < 0.0)
    m = len(turn)
    if len(out) + len(back) > _MOST or m < 4 * BESIDE:
        out = back = np.empty(0, dtype=np.int64)
    # The reading after the step back is the wall's.
    ends = np.concatenate([back + 1, back + 1 + m]) if turn.closed else back + 1
    before, after = (x.ravel() for x in np.meshgrid(out, ends[ends < 2 * m], indexing="ij"))
    span = _angle(turn.angle_rad, after) - _angle(turn.angle_rad, before)
    likely = (after > before + 2) & (span < WIDEST_RAD)
    before, after = before[likely], after[likely]
    likely = aligned(turn, before, after)
    return between_walls(turn, before[likely], after[likely], noise)


def aligned(turn: Turn, before: Ints, after: Ints) -> NDArray[np.bool_]:
    """Which pairs ``(k,)`` may stand on one wall, by their ends and the middles of their sides."""
    m = len(turn)
    reach = np.array([0, BESIDE // 2, BESIDE - 1])
    at = np.concatenate([before[:, None] - reach[::-1], after[:, None] + reach], axis=1) % m
    xy = turn.distance_m[at][..., None] * unit(turn.angle_rad[at])
    chord = xy[:, -1] - xy[:, 0]
    length = np.maximum(np.hypot(*chord.T), 1e-9)
    rest = xy - xy[:, :1]
    off = (rest[..., 0] * chord[:, None, 1] - rest[..., 1] * chord[:, None, 0]) / length[:, None]
    return np.asarray(np.abs(off).max(axis=1) < ALIGNED_M)
