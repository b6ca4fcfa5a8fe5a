# SPDX-License-Identifier: GPL-2.0-or-later
"""The readings of one capture in scan order, once round, as the search for faces wants them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, sine_cosine
from .faces_fit import ReadingNoise, beside
from .faces_split import spikes, widest_step
from .model import Capture, Ints, Kind
from .sweeps import sweeps_of

SWEEPS_DIFFER = 3.0
"""Two sweeps over the same angles are not one when half of their readings differ by more than this
many standard errors: an instrument with play in its axis shows the room turned on the way back."""


@dataclass(frozen=True, eq=False)
class Ring:
    """The usable ring readings of a capture in scan order, beginning after the widest gap or, on a
    full turn, at the farthest reading, which always ends a face. `at (n,)` are the places of the
    readings in the capture; steps wider than `widest_rad` are gaps."""

    at: Ints
    angle_rad: Floats
    distance_m: Floats
    xy_m: Floats
    widest_rad: float

    def __len__(self) -> int:
        return len(self.at)

    def begun_at(self, place: int) -> Ring:
        """The same ring, begun at another of its readings."""
        at, angle, distance, x, y = (
            np.concatenate([of[place:], of[:place]])
            for of in (self.at, self.angle_rad, self.distance_m, *self.xy_m.T)
        )
        return Ring(at, angle, distance, beside(x, y), self.widest_rad)


def ring_of(capture: Capture, noise: ReadingNoise) -> Ring:
    """The ring of a capture without the readings that stand alone.

    Sweeps that contradict the fullest one are left out.
    """
    angle = np.radians(_within_a_turn(capture.angle_deg))
    distance = capture.distance_m
    at = _agreeing(capture, angle, _measured(capture), noise)
    at = at[_in_order(angle[at], distance[at])]
    widest = widest_step(angle[at])
    at = at[~spikes(angle[at], distance[at], noise)]
    angle, distance = angle[at], distance[at]
    sine, cosine = sine_cosine(angle)
    ring = Ring(at, angle, distance, beside(distance * sine, distance * cosine), widest)
    if len(at) == 0:
        return ring
    gap = np.diff(np.append(ring.angle_rad, ring.angle_rad[0] + 2 * np.pi))
    longest = int(np.argmax(gap))
    full = gap[longest] <= widest
    return ring.begun_at(int(np.argmax(ring.distance_m)) if full else longest + 1)


def _within_a_turn(angle_deg: Floats) -> Floats:
    """Angles ``(n,)`` from 0 to under 360 degrees; a remainder takes its time, and few need it."""
    if len(angle_deg) and angle_deg.min() >= 0.0 and angle_deg.max() < 360.0:
        return angle_deg
    return angle_deg % 360.0


def _in_order(angle_rad: Floats, distance_m: Floats) -> Ints:
    """Places ``(n,)`` of readings by angle, then distance; at once for the usual ring, whose angles
    ascend from where it began."""
    back = (angle_rad[1:] <= angle_rad[:-1]).nonzero()[0]
    if len(back) == 0:
        return np.arange(len(angle_rad))
    if len(back) == 1 and angle_rad[-1] < angle_rad[0]:
        first = int(back[0]) + 1
        return np.append(np.arange(first, len(angle_rad)), np.arange(first))
    return np.lexsort((distance_m, angle_rad))


def _measured(capture: Capture) -> NDArray[np.bool_]:
    return capture.usable_ring & np.isfinite(capture.distance_m) & (capture.distance_m > 0.0)


def _once_round(capture: Capture) -> bool:
    """Whether the readings' angles run one way and no further than a turn."""
    step = np.diff(capture.angle_deg[capture.kind == Kind.RING])
    forward = step[np.abs(step) < 180.0]
    one_way = bool((forward >= 0.0).all() or (forward <= 0.0).all())
    return one_way and len(step) - len(forward) <= 1


def _agreeing(
    capture: Capture, angle_rad: Floats, usable: NDArray[np.bool_], noise: ReadingNoise
) -> Ints:
    """The usable readings (places) of the fullest sweep and of those that agree with it."""
    if _once_round(capture):
        return np.flatnonzero(usable)
    parts = [sweep.at[usable[sweep.at]] for sweep in sweeps_of(capture)]
    parts = sorted((p for p in parts if len(p)), key=lambda p: (-len(p), int(p.min())))
    if len(parts) < 2:
        return np.flatnonzero(usable)
    fullest = parts[0][np.argsort(angle_rad[parts[0]], kind="stable")]
    a, r = angle_rad[fullest], capture.distance_m[fullest]
    kept = [fullest]
    for part in parts[1:]:
        order = np.searchsorted(a, angle_rad[part])
        after, before = order % len(a), (order - 1) % len(a)
        span = (a[after] - a[before]) % (2 * np.pi)
        share = ((angle_rad[part] - a[before]) % (2 * np.pi)) / np.maximum(span, 1e-9)
        share = np.clip(np.nan_to_num(share), 0.0, 1.0)
        predicted = (1 - share) * r[before] + share * r[after]
        slope = np.abs(r[after] - r[before]) / np.maximum(span, 1e-3)
        sigma = 1.5 * np.hypot(noise.distance_m, slope * noise.angle_rad)
        apart = np.abs(capture.distance_m[part] - predicted) / sigma
        overlap = span < 3.0 * np.median(np.diff(a)) + 1e-6
        if not overlap.any() or np.median(apart[overlap]) < SWEEPS_DIFFER:
            kept.append(part)
    return np.concatenate(kept)
