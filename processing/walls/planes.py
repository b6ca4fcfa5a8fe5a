# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces of single captures in the plan frame, and which of them lie in one wall plane.

Every face is carried into the plan frame with the covariance of its station. Two faces are one
plane when a chi-square test of their difference in direction and position cannot tell them apart;
the two faces of one wall never are, because their normals point to opposite sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.model import Network

FLATNESS_M = 0.001
"""What a plastered wall departs from a plane between two stations' views (1 sigma; common practice:
a few millimetres under a straightedge of two metres). It widens the test, not the stated errors."""

ONE_PLANE = 18.4
"""Chi-square with two degrees of freedom (0.01 %) up to which two faces are one plane."""

WIDEST_GAP_M = 4.0
"""Pieces of one plane farther apart than this get their own lines."""

TOUCHING_M = 0.3
"""Pieces no farther apart than this are compared whatever their standard errors."""

VAGUE_M = 0.02
"""Over a gap two pieces are only called one plane when the test could have seen an offset of
this size (2 sigma)."""

NEAREST_ANGLE_RAD = np.radians(12.0)
"""Faces that differ more than this are never compared."""


@dataclass(frozen=True, eq=False)
class PlanFaces:
    """``M`` faces of all captures in the plan frame.

    `capture` and `face` say where each comes from. `own (M, 2)` are its own variances (direction
    rad2, offset m2) at `centre_m`; `span_m`, `end` and `readings` as in `Faces`. `station_m (S, 2)`
    and `stations (S, S, 3, 3)` are all stations' positions and their covariances by pairs.
    """

    capture: Ints
    face: Ints
    level: Ints
    network: Ints
    centre_m: Floats
    normal_rad: Floats
    own: Floats
    span_m: Floats
    end: Ints
    readings: Ints
    station_m: Floats
    stations: Floats

    def __len__(self) -> int:
        return len(self.capture)

    @cached_property
    def normal(self) -> Floats:
        """Unit normals ``(M, 2)`` towards the free side."""
        return unit(self.normal_rad)

    @cached_property
    def direction(self) -> Floats:
        """Unit directions ``(M, 2)``."""
        return along(self.normal_rad)

    @cached_property
    def ends_m(self) -> Floats:
        """Start and end points ``(M, 2, 2)``."""
        return self.centre_m[:, None, :] + self.span_m[:, :, None] * self.direction[:, None, :]


def in_plan(survey: Survey, faces: Sequence[Faces], network: Network) -> PlanFaces:
    """All faces in the plan frame, in the order of stations by name, so that the order of the
    files plays no part."""
    order = sorted(range(len(survey)), key=lambda i: (survey.captures[i].level, survey.names[i]))
    order = [i for i in order if len(faces[i])]
    if not order:
        none, ints = np.empty(0), np.empty(0, dtype=np.int64)
        return PlanFaces(
            ints, ints, ints, ints, np.empty((0, 2)), none, np.empty((0, 2)), np.empty((0, 2)),
            np.empty((0, 2), dtype=np.int64), ints, network.xy_m, station_covariance(network),
        )  # fmt: skip
    sizes = [len(faces[i]) for i in order]
    capture = np.repeat(order, sizes)
    return PlanFaces(
        capture=capture,
        face=np.concatenate([np.arange(size) for size in sizes]),
        level=np.array([c.level for c in survey.captures], dtype=np.int64)[capture],
        network=network.network[capture],
        centre_m=np.concatenate([network.to_plan(i, faces[i].centre_m) for i in order]),
        normal_rad=wrap_half(
            np.concatenate([faces[i].normal_rad + network.orientation_rad[i] for i in order])
        ),
        own=np.concatenate(
            [
                np.stack([faces[i].sigma_normal_rad ** 2, faces[i].sigma_offset_m ** 2], axis=-1)
                for i in order
            ]
        ),
        span_m=np.concatenate([faces[i].span_m for i in order]),
        end=np.concatenate([faces[i].end for i in order]),
        readings=np.concatenate([faces[i].readings for i in order]),
        station_m=network.xy_m,
        stations=station_covariance(network),
    )


def station_covariance(network: Network) -> Floats:
    """Covariance ``(S, S, 3, 3)`` by pairs of stations; zero where a station is unconnected: it is
    its own datum then."""
    count = len(network)
    blocks = network.covariance.reshape(count, 3, count, 3).transpose(0, 2, 1, 3)
    return np.nan_to_num(blocks)


def station_jacobian(normal: Floats, lever_m: Floats) -> Floats:
    """How direction and height along ``normal (..., 2)`` of a station's face at a point that lies
    ``lever_m (..., 2)`` from the station follow its (x, y, orientation): ``(..., 2, 3)``."""
    jacobian = np.zeros((*normal.shape[:-1], 2, 3))
    jacobian[..., 0, 2] = 1.0
    jacobian[..., 1, :2] = normal
    # A clockwise turn moves the point at (px, py) from the station along (py, -px).
    jacobian[..., 1, 2] = normal[..., 0] * lever_m[..., 1] - normal[..., 1] * lever_m[..., 0]
    return jacobian


def own_covariance(own: Floats, t_m: Floats) -> Floats:
    """Covariance ``(..., 2, 2)`` of (direction, height) at the place ``t_m`` along a face whose
    variances at the centre are ``own (..., 2)``."""
    covariance = np.empty((*t_m.shape, 2, 2))
    covariance[..., 0, 0] = own[..., 0]
    covariance[..., 0, 1] = covariance[..., 1, 0] = t_m * own[..., 0]
    covariance[..., 1, 1] = own[..., 1] + t_m**2 * own[..., 0]
    return covariance


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
    """Chi-squares ``(M, M)`` (two degrees of freedom) of the hypothesis that two faces lie in one
    plane, infinite for pairs of other levels, networks or sides; and which pairs ``(M, M)`` lie
    close enough together, and are known well enough, for a low value to mean something."""
    count = len(faces)
    result = np.full((count, count), np.inf)
    telling = np.zeros((count, count), dtype=bool)
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
        known = 2.0 * np.sqrt(covariance[:, 1, 1]) < VAGUE_M
        telling[one, rest] = (gap <= TOUCHING_M) | (known & (gap < WIDEST_GAP_M))
        covariance[:, 1, 1] += 2.0 * FLATNESS_M**2
        covariance[:, 0, 0] += (FLATNESS_M / np.maximum(length[rest], 0.2)) ** 2 + (
            FLATNESS_M / max(length[one], 0.2)
        ) ** 2
        chi = np.einsum("ki,ki->k", delta, np.linalg.solve(covariance, delta[..., None])[..., 0])
        result[one, rest] = result[rest, one] = chi
    return result, telling


def grouped(misfit: Floats, telling: NDArray[np.bool_], limit: float = ONE_PLANE) -> list[Ints]:
    """Groups of faces in which every two are one plane (complete linkage: Lance and Williams 1967),
    the likeliest of the telling pairs first; each group in ascending order."""
    count = len(misfit)
    members: list[Ints | None] = [np.array([k]) for k in range(count)]
    owner = np.arange(count)
    i, j = np.nonzero(np.triu((misfit < limit) & telling, 1))
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


def common_line(faces: PlanFaces, group: Ints) -> tuple[Floats, float, float, float]:
    """The generalised least-squares line through a group of faces.

    Returns the point where direction and position are uncorrelated ``(2,)``, the normal's azimuth
    (rad) and the standard errors of direction (rad) and position (m). The members' lines are the
    sufficient statistics of their readings, so this is the joint adjustment of the readings with
    the stations as correlated observations.
    """
    strength = 1.0 / faces.own[group, 1]
    base = group[int(np.argmax(strength))]
    normal_rad = float(faces.normal_rad[base])
    n, u = unit(normal_rad), along(normal_rad)
    point = np.average(faces.centre_m[group], axis=0, weights=strength)
    stations = faces.stations
    for _ in range(2):
        t = (point - faces.centre_m[group]) @ u
        turned = wrap_half(faces.normal_rad[group] - normal_rad)
        height = (faces.centre_m[group] - point) @ n + t * np.tan(turned)
        captures = faces.capture[group]
        jac = station_jacobian(
            np.broadcast_to(n, (len(group), 2)), point - faces.station_m[captures]
        )
        pairs = stations[captures[:, None], captures[None, :]]
        blocks = jac[:, None] @ pairs @ jac.transpose(0, 2, 1)[None, :]
        covariance = blocks.transpose(0, 2, 1, 3).reshape(2 * len(group), 2 * len(group))
        own = own_covariance(faces.own[group], t)
        for k in range(len(group)):
            covariance[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] += own[k]
        design = np.tile(np.eye(2), (len(group), 1))
        observed = np.stack([turned, height], axis=-1).ravel()
        weighted = np.linalg.solve(covariance, np.column_stack([design, observed]))
        inverse = design.T @ weighted[:, :2]
        result = np.linalg.inv(inverse)
        shift = result @ (design.T @ weighted[:, 2])
        point = point + shift[1] * n
        normal_rad = float(wrap_half(normal_rad + shift[0]))
        n, u = unit(normal_rad), along(normal_rad)
        # Along the line the height's variance is least where it is uncorrelated with the turn.
        point = point - result[0, 1] / result[0, 0] * u
    least = max(result[1, 1] - result[0, 1] ** 2 / result[0, 0], 0.0)
    return point, normal_rad, float(np.sqrt(result[0, 0])), float(np.sqrt(least))
