# SPDX-License-Identifier: GPL-2.0-or-later
"""Which faces of single captures are one wall, seen by several stations or in several pieces.

Two faces are one wall when they overlap or touch and a chi-square test of their difference in
direction and position, with the stations' covariances, cannot tell them apart. The two faces of one
wall never are: their normals point to opposite sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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


def misfits(faces: PlanFaces, progress: Progress = SILENT) -> tuple[Floats, NDArray[np.bool_]]:
    """Chi-squares ``(M, M)`` (two degrees of freedom) of the hypothesis that two faces are of one
    wall, infinite for pairs of other levels, networks or sides; and which pairs ``(M, M)`` overlap
    or touch, so that a low value means that they are."""
    count = len(faces)
    result = np.full((count, count), np.inf)
    touching = np.zeros((count, count), dtype=bool)
    np.fill_diagonal(result, 0.0)
    normal = faces.normal
    length = faces.span_m[:, 1] - faces.span_m[:, 0]
    for one in progress.over(range(count)):
        rest = np.arange(one + 1, count)
        turned = np.abs(wrap_half(faces.normal_rad[rest] - faces.normal_rad[one]))
        rest = rest[
            (faces.level[rest] == faces.level[one])
            & (faces.network[rest] == faces.network[one])
            & (turned < NEAREST_ANGLE_RAD)
        ]
        if len(rest) == 0:
            continue
        # The better known of the two is the base of the comparison.
        first = np.where(faces.own[rest, 0] < faces.own[one, 0], rest, one)
        second = np.where(first == one, rest, one)
        at, gap = gaps_between(faces, first, second)
        height = np.einsum(
            "kj,kj->k", faces.centre_m[second] - faces.centre_m[first], normal[first]
        )
        near = np.abs(height) < 0.25 * (length[rest] + length[one]) + 0.3
        first, second, at, gap, rest = (v[near] for v in (first, second, at, gap, rest))
        if len(rest) == 0:
            continue
        delta, covariance = differences(faces, first, second, at)
        touching[one, rest] = gap <= TOUCHING_M
        # Pieces that only touch show a step to the millimetre; two views of one stretch, or pieces
        # far apart, differ by what the wall is not flat.
        doubt = np.where(np.abs(gap) <= TOUCHING_M, 0.0, FLATNESS_M**2)
        covariance[:, 1, 1] += 2.0 * doubt
        covariance[:, 0, 0] += doubt / np.maximum(length[rest], 0.2) ** 2
        covariance[:, 0, 0] += doubt / max(float(length[one]), 0.2) ** 2
        chi = np.einsum("ki,ki->k", delta, np.linalg.solve(covariance, delta[..., None])[..., 0])
        result[one, rest] = result[rest, one] = chi
    return result, touching


def grouped(misfit: Floats, touching: NDArray[np.bool_], limit: float = ONE_WALL) -> list[Ints]:
    """Groups of faces in which every two are one wall (complete linkage: Lance and Williams 1967),
    the likeliest of the touching pairs first; each group in ascending order."""
    count = len(misfit)
    members: list[Ints | None] = [np.array([k]) for k in range(count)]
    owner = np.arange(count)
    i, j = np.nonzero(np.triu((misfit < limit) & touching, 1))
    for k in np.argsort(misfit[i, j], kind="stable"):
        a, b = sorted((int(owner[i[k]]), int(owner[j[k]])))
        if a == b:
            continue
        left, right = members[a], members[b]
        if left is None or right is None:
            continue
        if np.max(misfit[np.ix_(left, right)]) < limit:
            joined = np.sort(np.concatenate([left, right]))
            members[a], members[b] = joined, None
            owner[joined] = a
    return [group for group in members if group is not None]
