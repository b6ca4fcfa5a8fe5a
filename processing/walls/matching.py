# SPDX-License-Identifier: GPL-2.0-or-later
"""Which faces of single captures are one wall, seen by several stations or in several pieces.

Two faces are one wall when they overlap or touch and a chi-square test of their difference in
direction and position, with the stations' covariances, cannot tell them apart. The two faces of one
wall never are: their normals point to opposite sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, linestrings

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from ..progress import SILENT, Progress
from .planes import PlanFaces, own_covariance, station_jacobian

FLATNESS_M = 0.001
"""What a plastered wall departs from a plane between two stations' views (1 sigma; common practice:
a few millimetres under a straightedge of two metres)."""

ONE_WALL = 18.4
"""Chi-square with two degrees of freedom (0.01 %) up to which two faces are one wall."""

TOUCHING_M = 0.03
"""Faces no farther apart than this touch. Less than the thinnest partition: the walls of two rooms
may be in one plane and are two."""

NEAR_M, FARTHEST_M = 0.3, 2.0
"""Faces that touch lie within the first of each other, and what their stations' errors add, up to
the second."""

BATCH = 1000
"""So many faces are compared at a time."""

NEAREST_ANGLE_RAD = np.radians(12.0)
"""Faces that differ more than this are never compared."""


def gaps_between(faces: PlanFaces, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """Along face ``i``: where the extents of ``i`` and ``j`` come closest (the middle of overlap or
    gap, from the centre of ``i``), and the gap between them (negative: overlap), both ``(k,)``."""
    u = faces.direction[i]
    low_i, high_i = faces.span_m[i].T
    others = np.einsum("kej,kj->ke", faces.ends_m[j] - faces.centre_m[i][:, None, :], u)
    low_j, high_j = others.min(axis=1), others.max(axis=1)
    low, high = np.maximum(low_i, low_j), np.minimum(high_i, high_j)
    return 0.5 * (low + high), low - high


def differences(faces: PlanFaces, i: Ints, j: Ints, at_m: Floats) -> tuple[Floats, Floats]:
    """Differences ``(k, 2)`` in direction (rad) and height (m) of faces ``i`` and ``j`` at the
    place ``at_m`` along ``i``, with their covariances ``(k, 2, 2)``."""
    n = faces.normal[i]
    point = faces.centre_m[i] + at_m[:, None] * faces.direction[i]
    turned = wrap_half(faces.normal_rad[j] - faces.normal_rad[i])
    t_j = np.einsum("kj,kj->k", point - faces.centre_m[j], faces.direction[j])
    foot = faces.centre_m[j] + t_j[:, None] * faces.direction[j]
    height = np.einsum("kj,kj->k", foot - point, n)
    stations = faces.stations
    a, b = faces.capture[i], faces.capture[j]
    jac_i = station_jacobian(n, point - faces.station_m[a])
    jac_j = station_jacobian(n, point - faces.station_m[b])
    cross = jac_i @ stations[a, b] @ jac_j.transpose(0, 2, 1)
    covariance = (
        own_covariance(faces.own[i], at_m)
        + own_covariance(faces.own[j], t_j)
        + jac_i @ stations[a, a] @ jac_i.transpose(0, 2, 1)
        + jac_j @ stations[b, b] @ jac_j.transpose(0, 2, 1)
        - cross
        - cross.transpose(0, 2, 1)
    )
    return np.stack([turned, height], axis=-1), covariance


def misfits(faces: PlanFaces, i: Ints, j: Ints) -> tuple[Floats, NDArray[np.bool_]]:
    """Chi-squares ``(k,)`` (two degrees of freedom) of the hypothesis that faces ``i`` and ``j``
    are of one wall, infinite for pairs of other levels, networks or sides; and which pairs overlap
    or touch, so that a low value means that they are."""
    chi, touching = np.full(len(i), np.inf), np.zeros(len(i), dtype=bool)
    turned = np.abs(wrap_half(faces.normal_rad[j] - faces.normal_rad[i]))
    at = np.flatnonzero(
        (faces.level[i] == faces.level[j])
        & (faces.network[i] == faces.network[j])
        & (turned < NEAREST_ANGLE_RAD)
    )
    # The better known of the two is the base of the comparison.
    better = faces.own[j[at], 0] < faces.own[i[at], 0]
    first, second = np.where(better, j[at], i[at]), np.where(better, i[at], j[at])
    length = faces.span_m[:, 1] - faces.span_m[:, 0]
    between = faces.centre_m[second] - faces.centre_m[first]
    height = np.einsum("kj,kj->k", between, faces.normal[first])
    near = np.abs(height) < 0.25 * (length[first] + length[second]) + 0.3
    at, first, second = at[near], first[near], second[near]
    if len(at) == 0:
        return chi, touching
    middle, gap = gaps_between(faces, first, second)
    delta, covariance = differences(faces, first, second, middle)
    touching[at] = gap <= TOUCHING_M
    # Pieces that only touch show a step to the millimetre; two views of one stretch, or pieces far
    # apart, differ by what the wall is not flat.
    doubt = np.where(np.abs(gap) <= TOUCHING_M, 0.0, FLATNESS_M**2)
    covariance[:, 1, 1] += 2.0 * doubt
    for face in (first, second):
        covariance[:, 0, 0] += doubt / np.maximum(length[face], 0.2) ** 2
    solved = np.linalg.solve(covariance, delta[..., None])[..., 0]
    chi[at] = np.einsum("ki,ki->k", delta, solved)
    return chi, touching


def touching_pairs(
    faces: PlanFaces, limit: float = ONE_WALL, progress: Progress = SILENT
) -> tuple[Ints, Ints, Floats]:
    """Pairs ``i < j`` of faces that overlap or touch and may be one wall, with their chi-squares
    (`misfits`), in order. Only faces near each other are compared, so that neither time nor memory
    grow with the square of their number."""
    lines = linestrings(faces.ends_m)
    # How far apart the stations' errors may show one wall.
    doubt = np.diagonal(faces.stations, axis1=0, axis2=1)[[0, 1], [0, 1]]
    reach = NEAR_M + min(5.0 * float(np.sqrt(doubt.max(initial=0.0))), FARTHEST_M)
    tree = STRtree(lines)
    found = [(np.empty(0, dtype=np.int64),) * 2 + (np.empty(0),)]
    for start in progress.over(range(0, len(faces), BATCH)):
        one, other = tree.query(lines[start : start + BATCH], predicate="dwithin", distance=reach)
        later = one + start < other
        i, j = one[later] + start, other[later]
        chi, touching = misfits(faces, i, j)
        may = touching & (chi < limit)
        found.append((i[may], j[may], chi[may]))
    i, j, chi = (np.concatenate(parts) for parts in zip(*found))
    order = np.lexsort((j, i))
    return i[order], j[order], chi[order]


def grouped(
    faces: PlanFaces, pairs: tuple[Ints, Ints, Floats], limit: float = ONE_WALL
) -> list[Ints]:
    """Groups of faces in which every two are one wall (complete linkage: Lance and Williams 1967),
    the likeliest of the touching ``pairs`` first; each group in ascending order."""
    i, j, chi = pairs
    members: list[Ints | None] = [np.array([k]) for k in range(len(faces))]
    owner = np.arange(len(faces))
    for k in np.argsort(chi, kind="stable"):
        a, b = sorted((int(owner[i[k]]), int(owner[j[k]])))
        if a == b:
            continue
        left, right = members[a], members[b]
        if left is None or right is None:
            continue
        every = np.repeat(left, len(right)), np.tile(right, len(left))
        if len(every[0]) == 1 or misfits(faces, *every)[0].max() < limit:
            joined = np.sort(np.concatenate([left, right]))
            members[a], members[b] = joined, None
            owner[joined] = a
    return [group for group in members if group is not None]
