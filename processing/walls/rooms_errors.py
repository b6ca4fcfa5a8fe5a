# SPDX-License-Identifier: GPL-2.0-or-later
"""Errors of wall lines, with what they share through the stations they were seen from.

A wall line is the generalised least-squares estimate from what each station saw of it. How much
each station counts in it follows from the readings' and the stations' covariances; so follows how
the line moves with every station, and how the errors of two lines hang together. A line that
generalising to the plot scale moved stands, at about even odds, where it is drawn or where it was
measured (a wall turned square is mostly square): its variance is about half of that of its readings
and of the move's square.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag
from scipy.sparse import coo_matrix, csr_matrix, diags, hstack, lil_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from ..angles import Floats, unit
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .chords import departures
from .curve_model import at_ends
from .model import WallFaces

LEAST_NOISE_M = 0.0005
AS_MEASURED = 0.53
"""The probability that a wall which was moved, since its readings allowed it, stands where it was
measured rather than where it is drawn. Two walls that face each other may have been moved by d
each, and apart: of 2 d between them 1.96 standard errors, sqrt(2 p) d each, hold all from 0.52
on."""
SAME_LINE = 1e-6
"""So near (m and rad) are centre and direction of the stretches of one wall, which share them."""
PART_M = 0.5
"""Along so much of a face its readings are averaged to tell how far it was moved there."""


@dataclass(frozen=True, eq=False)
class FaceErrors:
    """Errors of ``W`` wall faces in their two parameters, the offset along the normal (m) and the
    normal's azimuth about the centre (rad), one after the other.

    `own (W, 2)` are the variances that come from the face's readings, `by_station (2W, 3S + 3C)`
    says how the parameters move with the stations' x, y and orientation and, for chords, with the
    centres and radii of the curves; `stations` is the covariance of all these.
    """

    own: Floats
    by_station: csr_matrix
    stations: Floats

    def variance(self, weights: Floats) -> float:
        """The variance of a sum of all parameters, weighted ``(2W,)``."""
        shared = self.by_station.T @ weights
        return float(shared @ self.stations @ shared + weights**2 @ self.own.ravel())


def face_errors(
    survey: Survey, network: Network, walls: WallFaces, progress: Progress = SILENT
) -> FaceErrors:
    """Split the errors of the wall faces into their own part and their stations' part. Raises
    `Cancelled`."""
    count, stations = len(walls), len(survey)
    covariance = np.nan_to_num(network.covariance)
    line = _lines(walls)
    number, middle, spread = _what_stations_saw(
        survey, network, walls, line, progress.part(0.0, 0.5)
    )
    moved = _moved(survey, network, walls)
    by_station = lil_matrix((2 * count, 3 * stations))
    own = np.zeros((count, 2))
    for w in progress.part(0.5, 1.0).over(range(count)):
        seen_by = np.flatnonzero(number[line[w]])
        stated = np.array([walls.sigma_offset_m[w], walls.sigma_normal_rad[w]]) ** 2
        if not len(seen_by):
            if not len(walls.stations[w]):
                # of a wall whose stations are not in the survey, all errors are its own
                own[w] = np.maximum(stated, AS_MEASURED * (stated + moved[w]))
                continue
            seen_by = np.array([survey.index(name) for name in walls.stations[w]], dtype=np.int64)
            number[line[w], seen_by] = max(int(walls.readings[w]), 2) / max(len(seen_by), 1)
            length = float(walls.span_m[w, 1] - walls.span_m[w, 0])
            spread[line[w], seen_by] = max(length, 0.05) ** 2 / 12.0
        columns = _rows(seen_by)
        known = covariance[np.ix_(columns, columns)]
        moves, parts = _estimate(
            walls,
            w,
            network.xy_m[seen_by],
            number[line[w], seen_by],
            middle[line[w], seen_by],
            spread[line[w], seen_by],
            known,
        )
        shared = np.sum((moves @ known) * moves, axis=1)
        measured = np.fmax(stated - shared, parts)
        own[w] = np.maximum(measured, AS_MEASURED * (measured + moved[w]))
        for row in (0, 1):
            by_station[2 * w + row, columns] = moves[row]
    return _with_curves(walls, FaceErrors(own, csr_matrix(by_station), covariance))


def _with_curves(walls: WallFaces, errors: FaceErrors) -> FaceErrors:
    """The errors with chords' offsets following their circle as a whole, instead of each by itself;
    what the stations add is in the circle's covariance."""
    curves = walls.curves
    chords = np.flatnonzero(curves.curved)
    if len(chords) == 0:
        return errors
    own = errors.own.copy()
    own[chords] = 0.0
    # A chord at the end of an arc meets its neighbour a little off where the arc does.
    width = np.ptp(curves.sector_rad[chords], axis=1)
    leaves = departures(curves.radius_m[curves.of_face[chords]], width)
    own[chords, 0] = np.where(at_ends(curves)[chords], (0.25 * leaves) ** 2, 0.0)
    circle = curves.of_face[chords]
    outward = unit(curves.sector_rad[chords].mean(axis=1))
    # The normal of a hollow curve's chord points to the centre: a larger radius moves it back.
    sign = np.where(curves.hollow[circle], -1.0, 1.0)
    by_circle = lil_matrix((2 * len(walls), 3 * len(curves)))
    for chord, k, s, n in zip(chords, circle, sign, outward):
        by_circle[2 * chord, 3 * k : 3 * k + 3] = s * np.append(n, 1.0)
    straight = diags(np.repeat(np.where(curves.curved, 0.0, 1.0), 2))
    return FaceErrors(
        own,
        csr_matrix(hstack([straight @ errors.by_station, by_circle])),
        block_diag(errors.stations, *curves.covariance),
    )


def _rows(stations: Ints) -> Ints:
    """The rows of stations in the network's covariance."""
    return (3 * stations[:, None] + np.arange(3)).ravel()


def _lines(walls: WallFaces) -> Ints:
    """The number ``(W,)`` of each face's line: the stretches of one wall share theirs."""
    if not len(walls):
        return np.empty(0, dtype=np.int64)
    # The same but for rounding, which differs from one library to the next.
    apart = np.column_stack([walls.level, walls.network])
    rows = np.column_stack([walls.centre_m, walls.normal, apart])
    pairs = KDTree(rows).query_pairs(SAME_LINE, output_type="ndarray")
    ones = np.ones(len(pairs))
    graph = coo_matrix((ones, (pairs[:, 0], pairs[:, 1])), (len(walls), len(walls)))
    line: Ints = connected_components(graph, directed=False)[1].astype(np.int64)
    return line


def _what_stations_saw(
    survey: Survey, network: Network, walls: WallFaces, line: Ints, progress: Progress
) -> tuple[Floats, Floats, Floats]:
    """For lines and stations: the number of readings, the mean and the variance of their places
    along the line from its centre."""
    lines = int(line.max(initial=-1)) + 1
    number, first, second = (np.zeros((lines, len(survey))) for _ in range(3))
    for s, owner in enumerate(progress.over(walls.wall_of_reading)):
        on = np.flatnonzero(owner >= 0)
        wall = owner[on]
        points = network.to_plan(s, survey.captures[s].xy_m[on])
        place = np.einsum("ij,ij->i", points - walls.centre_m[wall], walls.direction[wall])
        for sums, weight in ((number, None), (first, place), (second, place**2)):
            sums[:, s] = np.bincount(line[wall], weight, lines)
    some = np.maximum(number, 1.0)
    middle = first / some
    return number, middle, np.maximum(second / some - middle**2, 1e-6)


def _moved(survey: Survey, network: Network, walls: WallFaces) -> Floats:
    """What generalising moved each face by from its least-squares faces, as variances ``(W, 2)`` of
    the offset at its centre (m²) and of its direction (rad²): a line through what its readings lie
    off the face beyond their residuals, and the mean square that is left."""
    if walls.plot_scale == 0:
        return np.zeros((len(walls), 2))
    rows = [np.empty((0, 4))]
    for s, owner in enumerate(walls.wall_of_reading):
        on = np.flatnonzero((owner >= 0) & np.isfinite(walls.residual_of_reading_m[s]))
        wall = owner[on]
        away = network.to_plan(s, survey.captures[s].xy_m[on]) - walls.centre_m[wall]
        height = np.einsum("ij,ij->i", away, walls.normal[wall])
        place = np.einsum("ij,ij->i", away, walls.direction[wall])
        shift = height - walls.residual_of_reading_m[s][on]
        rows.append(np.column_stack([wall, np.floor(place / PART_M), place, shift]))
    both = np.concatenate(rows)
    parts, part = np.unique(both[:, :2], axis=0, return_inverse=True)
    part = part.reshape(-1)
    count = np.maximum(np.bincount(part), 1)
    place, shift = (np.bincount(part, both[:, k], len(parts)) / count for k in (2, 3))
    wall = parts[:, 0].astype(np.int64)

    def mean(values: Floats) -> Floats:
        some = np.maximum(np.bincount(wall, minlength=len(walls)), 1)
        return np.asarray(np.bincount(wall, values, len(walls)) / some)

    away, off = place - mean(place)[wall], shift - mean(shift)[wall]
    slope = mean(away * off) / np.maximum(mean(away**2), PART_M**2 / 12.0)
    offset = mean(shift) - slope * mean(place)
    left = mean((off - slope[wall] * away) ** 2)
    return np.column_stack([offset**2 + left, slope**2])


def _estimate(
    walls: WallFaces,
    w: int,
    stations_m: Floats,
    number: Floats,
    middle_m: Floats,
    spread_m2: Floats,
    covariance: Floats,
) -> tuple[Floats, Floats]:
    """How offset and azimuth of a line move with its stations ``(2, 3k)``, and the variances
    ``(2,)`` that its readings give them."""
    count = len(number)
    noise = max(float(np.nan_to_num(walls.rms_m[w])), LEAST_NOISE_M) ** 2
    design = np.zeros((2 * count, 2))
    design[0::2, 0], design[0::2, 1], design[1::2, 1] = 1.0, middle_m, 1.0
    readings = np.empty(2 * count)
    readings[0::2], readings[1::2] = noise / number, noise / (number * spread_m2)
    pose = np.zeros((2 * count, 3 * count))
    normal, step = walls.normal[w], walls.direction[w]
    for k in range(count):
        ray = walls.centre_m[w] + middle_m[k] * step - stations_m[k]
        pose[2 * k, 3 * k : 3 * k + 3] = *normal, normal[0] * ray[1] - normal[1] * ray[0]
        pose[2 * k + 1, 3 * k + 2] = 1.0
    # of what the stations saw, offset and direction: readings' noise, and the stations' errors
    weight = np.linalg.inv(np.diag(readings) + pose @ covariance @ pose.T)
    estimate = np.linalg.solve(design.T @ weight @ design, design.T @ weight)
    return estimate @ pose, estimate**2 @ readings
