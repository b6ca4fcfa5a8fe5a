# SPDX-License-Identifier: GPL-2.0-or-later
"""Cutting a ring of readings in scan order into straight stretches.

Binary segmentation (Scott and Knott 1974) with the line fit's chi-square as cost, all stretches of
one level at a time; then every boundary is set again with both neighbours fixed, and neighbours
whose common line costs no more than chance are joined.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .faces_fit import Moments, ReadingNoise, least_cost, scatter
from .model import Bools, Ints

FEWEST = 3
"""Readings that a stretch keeps at least when it is cut: two would fit any line."""

SPIKE = 5.0
"""A reading further than this many standard errors from the lines of its neighbours on either side
and from the line across it is no part of a face."""

STEEPEST = np.tan(np.radians(86.0))
"""Between readings of one face the range changes at most as fast as on a face under this
incidence."""

CUT = 32.0
"""Chi-square that a cut must gain: two more parameters and the best of some hundred places; by
chance it is exceeded about once in ten thousand stretches (measured on straight walls)."""

PLACES = 64
"""Places at which a stretch is tried at first."""

REACH = 4
"""Neighbours on either side of a reading that tell its incidence."""

JOIN = 23.0
"""Chi-square (2 degrees of freedom, 0.001 %) up to which two stretches are one line."""


def spikes(angle_rad: Floats, distance_m: Floats, noise: ReadingNoise) -> Bools:
    """Which readings ``(n,)`` in scan order stand alone: outliers and mixed returns.

    On a straight face the reciprocal of the distance is a sinusoid of the angle, straight over a
    few steps, so neighbours predict it by interpolation from both sides and extrapolation from
    each.
    """
    n = len(angle_rad)
    if n < 5:
        return np.zeros(n, dtype=bool)
    u = _around(1.0 / distance_m)
    angle = _around(angle_rad)
    base = np.square(noise.distance_m * u * u)
    here = slice(2, n + 2)
    sides = {k: slice(2 + k, n + 2 + k) for k in (-2, -1, 1, 2)}
    turn = {k: _half_turn(angle[at] - angle_rad) for k, at in sides.items()}
    steepest = STEEPEST * u[here]
    least = np.full(n, np.inf)
    for j, k in ((-1, 1), (-2, -1), (1, 2)):
        gap = turn[k] - turn[j]
        np.maximum(gap, 1e-9, out=gap)
        a, b = turn[k] / gap, -turn[j] / gap
        uj, uk = u[sides[j]], u[sides[k]]
        slope = (uk - uj) / gap
        # A neighbour beyond a jump makes the slope absurd; limit it to the steepest face.
        slope = np.minimum(np.abs(slope), steepest)
        per_reading = np.square(slope * noise.angle_rad)
        a2, b2 = a * a, b * b
        variance = (
            base[here] + a2 * base[sides[j]] + b2 * base[sides[k]] + (1.0 + a2 + b2) * per_reading
        )
        least = np.minimum(least, np.abs(u[here] - a * uj - b * uk) / np.sqrt(variance))
    return least > SPIKE


def _around(values: Floats) -> Floats:
    """Values ``(n,)`` of a ring with two more at either end ``(n + 4,)``: those that follow on."""
    return np.concatenate([values[-2:], values, values[:2]])


def _half_turn(angle_rad: Floats) -> Floats:
    """Differences of two angles within one turn, in [-pi, pi), as a remainder would be."""
    turned = angle_rad + np.pi
    turned[turned < 0.0] += 2 * np.pi
    turned[turned >= 2 * np.pi] -= 2 * np.pi
    turned -= np.pi
    return turned


def breaks(angle_rad: Floats, distance_m: Floats, noise: ReadingNoise, widest_rad: float) -> Bools:
    """Between which reading ``i`` and the next ``(n,)`` no face can go on: a jump of the range or
    a gap of the angle wider than ``widest_rad``; the last entry is from the last to the first."""
    gap = np.append(angle_rad[1:], angle_rad[:1]) - angle_rad
    gap[gap < 0.0] += 2 * np.pi
    following = np.append(distance_m[1:], distance_m[:1])
    change = np.abs(following - distance_m)
    nearer = np.minimum(distance_m, following)
    turned = gap + np.minimum(3.0 * noise.angle_rad, gap)
    room = 6.0 * noise.distance_m + nearer * turned * STEEPEST
    return (change > room) | (gap > widest_rad)


def widest_step(angle_rad: Floats) -> float:
    """The gap between angles in scan order (rad) above which readings are missing: three usual
    steps. Two sweeps over the same angles leave many steps of nought, so the usual step is an
    upper quantile."""
    gap = angle_rad[1:] - angle_rad[:-1]
    gap = gap[gap > 1e-7]
    if not len(gap):
        return 2 * np.pi
    # by interpolation between two of the sorted ones, as np.quantile does at five times the time
    place = 0.8 * (len(gap) - 1)
    low = int(place)
    high = min(low + 1, len(gap) - 1)
    gap.partition((low, high))
    return 3.2 * float(gap[low] + (gap[high] - gap[low]) * (place - low))


def local_incidence(xy_m: Floats, start: Ints, stop: Ints) -> Floats:
    """The squared cosine of the incidence ``(n,)`` on the line through each reading's neighbours in
    its own run ``[start, stop)``, without a single angle: by the double angles of line and beam."""
    sizes = stop - start
    first, end = np.repeat(start, sizes), np.repeat(stop, sizes)
    i = np.arange(len(xy_m))
    low, high = np.maximum(i - REACH, first), np.minimum(i + REACH + 1, end)
    xx, xy, yy = scatter(Moments.of(xy_m, np.ones(len(xy_m))).between(low, high))
    x, y = xy_m.T
    along_and_beam = (xx - yy) * (x * x - y * y) + 4.0 * xy * x * y
    size = np.sqrt(np.square(xx - yy) + 4.0 * xy * xy) * (x * x + y * y)
    return 0.5 * (1.0 - along_and_beam / np.maximum(size, 1e-300))


def best_cut(moments: Moments, start: Ints, stop: Ints) -> tuple[Ints, Floats]:
    """The place ``(k,)`` at which each stretch falls into the two best lines, and the chi-square
    ``(k,)`` of the two; `FEWEST` readings or more stay on either side.

    Long stretches are first tried at every few places, then closely around the best of these.
    """
    low, room = start + FEWEST, stop - start - 2 * FEWEST
    stride = np.maximum(room // PLACES, 1)
    best, least = _tried(moments, start, stop, low, room // stride + 1, stride)
    (coarse,) = (stride > 1).nonzero()
    if len(coarse):
        low, high, reach = low[coarse], (low + room)[coarse], stride[coarse] - 1
        near = np.maximum(best[coarse] - reach, low)
        count = np.minimum(best[coarse] + reach, high) - near + 1
        best[coarse], least[coarse] = _tried(moments, start[coarse], stop[coarse], near, count)
    return best, least


def _tried(
    moments: Moments,
    start: Ints,
    stop: Ints,
    first: Ints,
    count: Ints,
    stride: Ints | None = None,
) -> tuple[Ints, Floats]:
    """The best of ``count (k,)`` places from ``first (k,)`` on, ``stride (k,)`` apart."""
    heads = count.cumsum() - count
    owner = np.arange(len(count)).repeat(count)
    at = np.arange(len(owner))
    if stride is None:
        at += (first - heads)[owner]
    else:
        at *= stride[owner]
        at += (first - stride * heads)[owner]
    total = moments.cut_cost(start, at, stop, owner)
    least = np.minimum.reduceat(total, heads)
    (hit,) = (total == least[owner]).nonzero()
    # Of equal places the first, the same on every machine.
    best = np.empty(len(count), dtype=np.int64)
    best[owner[hit[::-1]]] = at[hit[::-1]]
    return best, least


def split(moments: Moments, start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """Cuts runs ``[start, stop)`` until no cut gains more than `CUT`; stretches in scan order."""
    done: list[tuple[Ints, Ints]] = []
    while len(start):
        # What a cut may gain is no more than there is.
        own = moments.cost(start, stop)
        hopeful = (stop - start >= 2 * FEWEST) & (own > CUT)
        done.append((start[~hopeful], stop[~hopeful]))
        start, stop, own = start[hopeful], stop[hopeful], own[hopeful]
        if not len(start):
            break
        place, cost = best_cut(moments, start, stop)
        cut = own - cost > CUT
        done.append((start[~cut], stop[~cut]))
        start, place, stop = start[cut], place[cut], stop[cut]
        start, stop = np.concatenate([start, place]), np.concatenate([place, stop])
    start = np.concatenate([a for a, _ in done])
    stop = np.concatenate([b for _, b in done])
    order = np.argsort(start, kind="stable")
    return start[order], stop[order]


def settle(moments: Moments, start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """Sets each boundary between touching stretches again, every other one at a time."""
    start, stop = start.copy(), stop.copy()
    for parity in (0, 1):
        left = np.arange(parity, len(start) - 1, 2)
        room = stop[left + 1] - start[left] >= 2 * FEWEST
        left = left[room & (stop[left] == start[left + 1])]
        if len(left):
            place, _ = best_cut(moments, start[left], stop[left + 1])
            stop[left] = place
            start[left + 1] = place
    return start, stop


def join(sums: Floats, start: Ints, stop: Ints, may_join: Bools) -> tuple[Floats, Ints, Ints]:
    """Joins neighbours ``i`` and ``i + 1`` (where ``may_join (k - 1,)``) whose common line costs
    less than `JOIN` more than their two lines, the likeliest first; ``sums (6, k)`` are the moments
    of the stretches, between which nothing has weight."""
    while may_join.any():
        pairs = len(start) - 1
        cost = least_cost(np.concatenate([sums[:, :-1] + sums[:, 1:], sums], axis=1))
        common, own = cost[:pairs], cost[pairs:]
        more = np.where(may_join, common - own[:-1] - own[1:], np.inf)
        around = np.concatenate([[np.inf], more, [np.inf]])
        # Of touching candidates only the likeliest in this round; a tie goes to the first.
        chosen = (more < JOIN) & (more < around[:-2]) & (more <= around[2:])
        if not chosen.any():
            break
        keep, last = np.append(True, ~chosen), np.append(~chosen, True)
        sums = np.add.reduceat(sums, keep.nonzero()[0], axis=1)
        start, stop, may_join = start[keep], stop[last], may_join[~chosen]
    return sums, start, stop
