# SPDX-License-Identifier: GPL-2.0-or-later
"""Straight faces of one capture: found in scan order, fitted by weighted least squares.

The readings are sorted by angle, freed of spikes, cut at jumps and gaps, split where one line does
not explain them and joined where it does (`faces_split`). Then every face is fitted by weighted
total least squares with each reading's noise across the face, which follows from the noise of
range and angle and from the incidence (`faces_fit`); its end readings, which may be of what comes
next, belong to it but take no part in the line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from ..angles import Floats, azimuth_of
from .face_model import Faces, no_faces
from .faces_ends import end_kinds
from .faces_fit import (
    Lines,
    Moments,
    ReadingNoise,
    dot,
    label_moments,
    lines_of,
    moments_of,
    noise_of,
    rows_of,
)
from .faces_ring import Ring, ring_of
from .faces_split import breaks, join, local_incidence, settle, split
from .model import Bools, Capture, Ints

FEWEST_READINGS = 5
"""A line through fewer readings says nothing: with four, one outlier decides."""

BRIDGE_M = 0.25
"""Readings of one line on both sides of a gap this wide (a chair's leg, lost readings) are one
face; a wider gap may be an opening."""

REJECT = 3.29
"""Readings further from their face than this many standard errors are left out (0.1 % of good
ones)."""

SLANTING = np.cos(np.radians(70.0))
WIDTH = 12.0
"""Readings on depth edges one behind the other seem to form a face along the beam. A face under
more than 70 degrees of incidence must be so many standard errors wide as the instrument sees it."""

VAGUEST_RAD = 0.2
"""A face whose direction is not known to this is a heap of readings, not a face."""


def stretches(ring: Ring, noise: ReadingNoise) -> tuple[Ints, Ints, Floats]:
    """The straight stretches ``[start, stop)`` of the ring with enough readings for a face, in scan
    order, and the weight ``(n,)`` of each reading, zero between stretches."""
    n = len(ring)
    broken = breaks(ring.angle_rad, ring.distance_m, noise, ring.widest_rad)[:-1]
    start = np.flatnonzero(np.concatenate([[True], broken]))
    stop = np.append(start[1:], n)
    incidence = local_incidence(ring.xy_m, start, stop)
    weight = 1.0 / noise.variance_at(ring.distance_m, incidence)
    moments = Moments.of(ring.xy_m, weight)
    start, stop = split(moments, start, stop)
    for _ in range(2):
        before = len(start)
        start, stop = settle(moments, start, stop)
        touching = (stop[:-1] == start[1:]) & ~broken[stop[:-1] - 1]
        _, start, stop = join(moments.between(start, stop), start, stop, touching)
        if len(start) == before:
            break
    kept = stop - start >= FEWEST_READINGS
    start, stop = start[kept], stop[kept]
    between = np.ones(n, dtype=bool)
    for a, b in zip(start.tolist(), stop.tolist()):
        between[a:b] = False
    weight[between] = 0.0
    return start, stop, weight


def bridged(ring: Ring, start: Ints, stop: Ints, weight: Floats) -> tuple[Floats, Ints, Ints]:
    """The stretches joined over narrow gaps where they are one line, and before them the sums of
    their moments ``(6, k)``; readings in the gaps have weight zero. A stretch whose readings were
    all too far from its line is none."""
    # Between the stretches nothing has weight, so that each sum may run on to the next one's start.
    sums = np.add.reduceat(moments_of(ring.xy_m, weight), start, axis=1)
    held = sums[0] > 0.0
    sums, start, stop = sums[:, held], start[held], stop[held]
    return join(sums, start, stop, _narrow(ring, stop[:-1], start[1:]))


def labelled(ring: Ring, sums: Floats, start: Ints, stop: Ints, weight: Floats) -> Ints:
    """The stretch of each reading ``(n,)``, or -1; the last and the first stretch of a full turn
    get one number where they are one line over a narrow gap. ``sums (6, k)`` are the moments."""
    label = np.full(len(ring), -1, dtype=np.int64)
    for number, (a, b) in enumerate(zip(start.tolist(), stop.tolist())):
        label[a:b] = number
    label[weight <= 0.0] = -1
    if len(start) > 2:
        tips = np.array([-1, 0])
        near = _narrow(ring, stop[-1:], start[:1])
        _, whole, _ = join(sums[:, tips], start[tips], stop[tips], near)
        if len(whole) == 1:
            label[label == len(start) - 1] = 0
    return label


def _narrow(ring: Ring, stop: Ints, start: Ints) -> Bools:
    """Which gaps ``(k,)`` from readings before ``stop`` to those at ``start`` may be bridged."""
    step = ring.xy_m[start] - ring.xy_m[stop - 1]
    return np.asarray(np.hypot(step[:, 0], step[:, 1]) < BRIDGE_M)


def unwrapped(ring: Ring, label: Ints, weight: Floats) -> tuple[Ring, Ints, Floats]:
    """Ring, labels and weights begun after the first stretch if the last runs on into it."""
    used = np.flatnonzero(label >= 0)
    if label[used[-1]] != label[used[0]] or label.max() == 0:
        return ring, label, weight
    begin = int(used[label[used] > 0][0])
    label = np.roll(label, -begin)
    label = np.where(label == 0, int(label.max()), label - (label > 0))
    return ring.begun_at(begin), label, np.roll(weight, -begin)


def kept_readings(
    ring: Ring, label: Ints, weight: Floats, noise: ReadingNoise, rounds: int = 2
) -> tuple[Ints, Floats]:
    """The labels ``(n,)`` without readings too far from their line, and the readings' standard
    errors ``(n,)`` across it (m); the weights ``(n,)`` start it off."""
    count = int(label.max()) + 1
    owner = np.maximum(label, 0)
    kept = label
    for _ in range(rounds):
        lines = lines_of(label_moments(ring.xy_m, weight, kept, count))
        across = dot(rows_of(lines.normal, owner), ring.xy_m)
        variance = noise.variance_across(ring.distance_m, across / ring.distance_m)
        weight = 1.0 / variance
        sigma = np.sqrt(variance)
        height = dot(lines.normal, lines.centre_m)
        kept = label.copy()
        kept[np.abs(across - height.take(owner)) > REJECT * sigma] = -1
    return kept, sigma


def _only_edges(lines: Lines, readings: Ints) -> NDArray[np.bool_]:
    """Which lines ``(k,)`` run along the beam and are too narrow across it to be told from readings
    on depth edges."""
    reach = np.maximum(np.hypot(*lines.centre_m.T), 1e-9)
    cosine = np.abs(dot(lines.normal, lines.centre_m)) / reach
    # Evenly spread readings: length = sqrt(12 mean square), sigma of one = sqrt(n / weight).
    length = np.sqrt(12.0 * np.maximum(lines.along, 0.0) / lines.weight)
    one = np.sqrt(readings / lines.weight)
    return np.asarray((cosine < SLANTING) & (length * cosine < WIDTH * one))


def fit_faces(capture: Capture) -> Faces:
    """The straight faces of a capture, in scan order (clockwise).

    A face has `FEWEST_READINGS` readings or more. The standard errors follow from the capture's
    noise (`Capture.distance_sigma_m`, `angle_sigma_deg`; 2 mm and 0.03 degrees where it
    gives none); where the residuals of a face are larger than that noise explains (chi-square,
    0.1 %), they are scaled by the residuals.
    """
    noise = noise_of(capture)
    ring = ring_of(capture, noise)
    if len(ring) < FEWEST_READINGS:
        return no_faces(len(capture))
    start, stop, weight = stretches(ring, noise)
    if len(start) == 0:
        return no_faces(len(capture))
    sums, start, stop = bridged(ring, start, stop, weight)
    label = labelled(ring, sums, start, stop, weight)
    kept, sigma = kept_readings(ring, label, weight, noise, rounds=1)
    # Freed of outliers, some stretches turn out to be one line after all.
    weight = 1.0 / np.square(sigma)
    weight[kept < 0] = 0.0
    sums, start, stop = bridged(ring, start, stop, weight)
    label = labelled(ring, sums, start, stop, weight)
    if label.max() < 0:
        return no_faces(len(capture))
    ring, label, weight = unwrapped(ring, label, weight)
    label, sigma = kept_readings(ring, label, weight, noise)
    inner = without_ends(label)
    lines = lines_of(label_moments(ring.xy_m, np.square(1.0 / sigma), inner, int(label.max()) + 1))
    sound, scale = _sound(lines, label, inner)
    if not sound.any():
        return no_faces(len(capture))
    # what has no face has the last number, -1
    number = np.append(np.where(sound, np.cumsum(sound) - 1, -1), -1)
    label, inner = number[label], number[inner]
    return _as_faces(capture, ring, lines.only(sound), label, inner, scale[sound], noise)


def without_ends(label: Ints) -> Ints:
    """The labels ``(n,)`` in scan order without the first and the last reading of each face of five
    and more.

    The beam is wide and its angle uncertain: at the end of a face a reading is of the next face, or
    a mixture of both, more often than its distance from the line betrays, and there it turns the
    line most.
    """
    place = np.flatnonzero(label >= 0)
    own = label[place]
    count = np.bincount(own, minlength=1)[own]
    change = own[1:] != own[:-1]
    tip = np.concatenate([[True], change]) | np.concatenate([change, [True]])
    inner = label.copy()
    inner[place[tip & (count >= FEWEST_READINGS)]] = -1
    return inner


def _sound(lines: Lines, label: Ints, inner: Ints) -> tuple[NDArray[np.bool_], Floats]:
    """Which of the lines ``(k,)`` through the readings `inner` are faces, and the factors by which
    their variances exceed what the noise explains."""
    count = len(lines.weight)
    fitted_to = np.bincount(inner[inner >= 0], minlength=count)
    freedom = np.maximum(fitted_to - 2, 1)
    too_large = chdtrc(freedom, lines.cost) < 0.001
    scale = np.where(too_large, np.maximum(lines.cost / freedom, 1.0), 1.0)
    good = np.bincount(label[label >= 0], minlength=count) >= FEWEST_READINGS
    good &= scale < VAGUEST_RAD**2 * lines.along
    good &= ~_only_edges(lines, fitted_to)
    return good, scale


def _as_faces(
    capture: Capture,
    ring: Ring,
    lines: Lines,
    label: Ints,
    inner: Ints,
    scale: Floats,
    noise: ReadingNoise,
) -> Faces:
    count = len(lines.weight)
    (used,) = (label >= 0).nonzero()
    owner = label[used]
    away = rows_of(ring.xy_m, used) - rows_of(lines.centre_m, owner)
    t = dot(rows_of(lines.direction, owner), away)
    # The labels ascend in scan order.
    first = np.searchsorted(owner, np.arange(count))
    span = np.stack([np.minimum.reduceat(t, first), np.maximum.reduceat(t, first)])
    face_of_reading, line_of_reading = np.full((2, len(capture)), -1, dtype=np.int64)
    face_of_reading[ring.at], line_of_reading[ring.at] = label, inner
    return Faces(
        centre_m=lines.centre_m,
        normal_rad=azimuth_of(lines.normal),
        sigma_normal_rad=np.sqrt(scale / lines.along),
        sigma_offset_m=np.sqrt(scale / lines.weight),
        span_m=span.T.copy(),
        end=end_kinds(ring.angle_rad, ring.xy_m, label, lines, span.T, ring.widest_rad, noise),
        readings=np.bincount(owner, minlength=count),
        rms_m=np.sqrt(lines.cost / lines.weight),
        face_of_reading=face_of_reading,
        line_of_reading=line_of_reading,
    )
