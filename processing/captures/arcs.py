# SPDX-License-Identifier: GPL-2.0-or-later
"""Circular arcs in one capture: curved walls and columns.

Straight faces chop a curve into short pieces that turn a little from one to the next. Where three
such pieces in a row lie on one circle, the circle is fitted to their readings and grown as far as
readings lie on it; it stands where it explains them better than the pieces do (Schwarz's
information criterion, *Annals of Statistics* 6, 1978).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from ..angles import Floats, azimuth_of, unit, wrap_half
from .circles import Circle, fit_circle
from .face_model import End, Faces
from .faces_fit import ReadingNoise, noise_of
from .model import Capture, Ints

LEAST_TURN_RAD = np.radians(1.0)
MOST_TURN_RAD = np.radians(50.0)
"""From one piece of a curve to the next the direction turns between these: less is one wall, more
is a corner."""

TOUCHING_M = 0.12
"""Pieces of a curve follow each other within this; a few readings between them may be mixed."""

FEWEST_READINGS = 12
LEAST_ARC_RAD = np.radians(25.0)
"""A shorter arc could be two walls at an obtuse angle."""

WORST = 4.0
"""A circle that the readings scatter about with more than this variance, in units of their noise,
is none."""

LONGEST_PIECE = 6.0
"""A straight piece of a curve is no longer than its sagitta of so many standard errors of a
distance allows; what is longer is a wall."""

VAGUEST, VAGUEST_M = 0.01, 0.003
"""A radius that is not known to one part in a hundred, or to this, is a guess."""

FEWEST_ON_WALL = 5
WALL_WITHIN = 3

UNEVEN = float(chdtri(3, 0.001))
MOST_ROUNDS = 15

REJECT = 3.29
LOST = 3
"""So many readings in a row off the circle end it."""


@dataclass(frozen=True, eq=False)
class Arcs:
    """``A`` arcs of one capture in the instrument's frame.

    `circle` has a `Circle` each; `hollow (A,)` tells whether its hollow side was seen (a round
    room) or the other (a column); `arc_of_reading (n,)` the arc of each reading, or -1.
    """

    circle: tuple[Circle, ...]
    hollow: NDArray[np.bool_]
    arc_of_reading: Ints

    def __len__(self) -> int:
        return len(self.circle)


def find_arcs(capture: Capture, faces: Faces) -> Arcs:
    """The arcs of a capture whose straight faces are known; none where no three faces in a row
    turn the same way by little."""
    found = np.full(len(capture), -1, dtype=np.int64)
    circles: list[Circle] = []
    windows = _windows(faces)
    if len(windows):
        noise = noise_of(capture)
        order = _scan_order(capture)
        taken = np.zeros(len(faces), dtype=bool)
        for first, window in sorted(
            ((_start(capture, noise, faces, w), w) for w in windows), key=lambda pair: pair[0]
        ):
            if not np.isfinite(first) or taken[window].any():
                continue
            grown = _grown(capture, noise, faces, order, window, found)
            if grown is None:
                continue
            circle, on = grown
            taken[np.unique(faces.face_of_reading[on][faces.face_of_reading[on] >= 0])] = True
            found[on] = len(circles)
            circles.append(circle)
    hollow = np.array(
        [_from_inside(circle, capture.xy_m[found == k]) for k, circle in enumerate(circles)],
        dtype=bool,
    )
    return Arcs(tuple(circles), hollow, found)


def without_arcs(faces: Faces, arcs: Arcs) -> NDArray[np.bool_]:
    """Which faces ``(F,)`` are walls of their own: not those that an arc has most readings of."""
    used = faces.face_of_reading >= 0
    owner = faces.face_of_reading[used]
    on = np.bincount(owner, arcs.arc_of_reading[used] >= 0, minlength=len(faces))
    return np.asarray(on < 0.5 * np.maximum(faces.readings, 1))


def _windows(faces: Faces) -> list[Ints]:
    """Three faces in a row that turn the same way by little and touch: where a curve may be."""
    count = len(faces)
    if count < 3:
        return []
    k = np.arange(count)
    after = (k + 1) % count
    turn = wrap_half(faces.normal_rad[after] - faces.normal_rad[k])
    ends = faces.ends_m
    near = np.hypot(*(ends[after, 0] - ends[k, 1]).T) < TOUCHING_M
    near &= faces.end[k, 1] != End.EDGE
    gentle = near & (np.abs(turn) > LEAST_TURN_RAD) & (np.abs(turn) < MOST_TURN_RAD)
    both = gentle & gentle[after] & (turn * turn[after] > 0.0)
    return [np.array([i, (i + 1) % count, (i + 2) % count]) for i in np.flatnonzero(both)]


def _scan_order(capture: Capture) -> Ints:
    """The usable readings of the ring in the order of their angles."""
    usable = capture.usable_ring & (np.nan_to_num(capture.distance_m) > 0.0)
    at = np.flatnonzero(usable)
    return at[np.argsort(capture.angle_deg[at] % 360.0, kind="stable")]


def _from_inside(circle: Circle, xy_m: Floats) -> bool:
    """Whether the readings were taken from the circle's hollow side."""
    return bool(np.sum((xy_m - circle.centre_m) * xy_m) > 0.0)


def _readings_of(faces: Faces, window: Ints) -> Ints:
    return np.flatnonzero(np.isin(faces.face_of_reading, window))


def _start(capture: Capture, noise: ReadingNoise, faces: Faces, window: Ints) -> float:
    """How well one circle fits the readings of three faces (variance in units of the noise);
    infinite where it does not."""
    at = _readings_of(faces, window)
    if len(at) < FEWEST_READINGS:
        return np.inf
    circle = fit_circle(capture.xy_m[at], capture.distance_m[at], noise)
    if circle is None or circle.variance > WORST:
        return np.inf
    return circle.variance


def _grown(
    capture: Capture,
    noise: ReadingNoise,
    faces: Faces,
    order: Ints,
    window: Ints,
    found: Ints,
) -> tuple[Circle, Ints] | None:
    """The circle through three faces, grown along the scan both ways, and its readings; None where
    it is no arc."""
    own = _readings_of(faces, window)
    circle = fit_circle(capture.xy_m[own], capture.distance_m[own], noise)
    free = found[order] < 0
    inside = np.isin(order, own)
    xy, distance = capture.xy_m[order], capture.distance_m[order]
    at, before = own, 0
    for _ in range(MOST_ROUNDS):
        if circle is None:
            return None
        sigma = np.sqrt(circle.variance_m2(xy, distance, noise) * max(circle.variance, 1.0))
        fits = free & (np.abs(circle.away_m(xy)) < REJECT * sigma)
        run = _without_walls(capture, faces, order, _run(fits, inside, xy), circle, noise)
        if len(run) < FEWEST_READINGS:
            return None
        at = order[run]
        circle = fit_circle(xy[run], distance[run], noise, circle)
        if len(run) == before:
            break
        before = len(run)
    if (
        circle is None
        or not _stands(capture, faces, circle, at)
        or not _even(capture, circle, at, noise)
    ):
        return None
    return circle, at


def _without_walls(
    capture: Capture, faces: Faces, order: Ints, run: Ints, circle: Circle, noise: ReadingNoise
) -> Ints:
    """The run without what belongs to the straight walls that it runs on into.

    A wall leaves the circle along its tangent, so slowly that readings fit both for a while. Where
    the face at an end is longer than a piece of the curve can be, the run ends where wall and
    circle together leave the least squares, less the stretch over which nobody can tell them apart.
    """
    piece = np.sqrt(8.0 * circle.radius_m * LONGEST_PIECE * noise.distance_m)
    blur = float(np.sqrt(2.0 * circle.radius_m * noise.distance_m))
    for onward in (1, -1):  # at the end of the run, then at its beginning
        run = run[::-1]
        owner = faces.face_of_reading[order[run]]
        owner = owner[owner >= 0]
        if len(owner) == 0:
            continue
        # The piece at the end may lie half on the wall: the wall is it, or follows it.
        near = (owner[0] + onward * np.arange(WALL_WITHIN)) % len(faces)
        near = near[faces.length_m[near] > piece]
        xy = capture.xy_m[order[run]]
        for face in near[:1]:
            wall = capture.xy_m[faces.face_of_reading == face]
            wall = wall[np.hypot(*(wall - xy[0]).T) > blur]
            if len(wall) >= FEWEST_ON_WALL and np.hypot(*(wall - xy[0]).T).min() < piece:
                run = run[_left_to(circle, wall, xy, blur) :]
    return run


def _left_to(circle: Circle, wall_m: Floats, xy_m: Floats, blur_m: float) -> int:
    """How many readings ``(n, 2)`` at the beginning of a run lie rather on the line through
    ``wall_m (k, 2)`` than on the circle, or so near to where it leaves that nobody can tell."""
    middle = wall_m.mean(axis=0)
    normal = np.linalg.svd(wall_m - middle, full_matrices=False)[2][-1]
    gain = np.square(circle.away_m(xy_m)) - np.square((xy_m - middle) @ normal)
    cut = int(np.argmax(np.concatenate([[0.0], np.cumsum(gain)])))
    if cut == 0:
        return 0
    beyond = np.hypot(*(xy_m[cut:] - xy_m[cut - 1]).T) > blur_m
    return cut + int(np.argmax(beyond)) if beyond.any() else len(xy_m)


def _even(capture: Capture, circle: Circle, at: Ints, noise: ReadingNoise) -> bool:
    """Whether both halves of an arc lie on one circle (chi-square with three degrees of freedom,
    0.1 %): an ellipse bends unevenly."""
    half = len(at) // 2
    if half < FEWEST_READINGS:
        return True
    azimuth = azimuth_of(capture.xy_m[at] - circle.centre_m) % (2 * np.pi)
    turned = np.argsort(azimuth, kind="stable")
    gap = np.diff(np.append(azimuth[turned], azimuth[turned[0]] + 2 * np.pi))
    order = at[np.roll(turned, -int(np.argmax(gap)) - 1)]
    first, second = (
        fit_circle(capture.xy_m[part], capture.distance_m[part], noise)
        for part in (order[:half], order[half:])
    )
    if first is None or second is None:
        return True  # too flat to tell
    apart = np.append(first.centre_m - second.centre_m, first.radius_m - second.radius_m)
    misfit = apart @ np.linalg.solve(first.covariance + second.covariance, apart)
    return bool(misfit < UNEVEN)


def _run(fits: NDArray[np.bool_], inside: NDArray[np.bool_], xy_m: Floats) -> Ints:
    """The places on the circle in one run around those that began it, in scan order: it ends where
    several in a row are off, or where the next lies far away."""
    n = len(fits)
    begun = np.flatnonzero(inside & fits)
    if len(begun) == 0:
        return begun
    start = int(begun[len(begun) // 2])
    parts: list[list[int]] = []
    for way in (-1, 1):
        part: list[int] = []
        missed, last = 0, start
        for step in range(1, n - sum(len(other) for other in parts)):
            place = (start + way * step) % n
            if fits[place] and np.hypot(*(xy_m[place] - xy_m[last])) < 2.0 * TOUCHING_M:
                part.append(place)
                missed, last = 0, place
            else:
                missed += 1
                if missed > LOST:
                    break
        parts.append(part)
    return np.array([*parts[0][::-1], start, *parts[1]], dtype=np.int64)


def _stands(capture: Capture, faces: Faces, circle: Circle, at: Ints) -> bool:
    """Whether the circle is a better account of its readings than the straight faces are."""
    n = len(at)
    sigma = float(np.sqrt(circle.covariance[2, 2]))
    if sigma > max(VAGUEST_M, VAGUEST * circle.radius_m):
        return False
    if circle.variance > WORST or circle.arc_rad(capture.xy_m[at]) < LEAST_ARC_RAD:
        return False
    owner = faces.face_of_reading[at]
    pieces, number = np.unique(owner[owner >= 0], return_counts=True)
    pieces = pieces[number >= 3]
    if len(pieces) < 3:
        return False
    on = np.isin(owner, pieces)
    xy, distance, owner = capture.xy_m[at[on]], capture.distance_m[at[on]], owner[on]
    noise = noise_of(capture)
    normal = unit(faces.normal_rad[owner])
    away = np.einsum("ij,ij->i", normal, xy - faces.centre_m[owner])
    cosine = np.einsum("ij,ij->i", normal, xy) / distance
    straight = float(np.sum(away**2 / noise.variance_across(distance, cosine)))
    curved = float(np.sum(circle.away_m(xy) ** 2 / circle.variance_m2(xy, distance, noise)))
    # What both leave beyond the noise is the wall's own roughness, and no ground to choose.
    rough = max(1.0, min(straight, curved) / max(n - 3, 1))
    better = (straight - curved) / rough + (2 * len(pieces) - 3) * np.log(n)
    return bool(better > 0.0 and curved < rough * chdtri(max(n - 3, 1), 1e-4))
