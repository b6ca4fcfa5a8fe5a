# SPDX-License-Identifier: GPL-2.0-or-later
"""The Cramer-Rao bound of the poses of stations in a simulated building.

No unbiased estimate has a smaller covariance than the inverse of the Fisher information (Kay,
*Fundamentals of Statistical Signal Processing: Estimation Theory*, 1993, ch. 3). Here the unknowns
are all poses and, as nuisance, the direction and the distance of every true line that readings lie
on; the observations are the ranges r of the readings, with the angle's error carried into them by
dr/da. Nothing of the project's own equations is used: those look across the wall, these along the
beam.
"""

from __future__ import annotations

import numpy as np
from inner_datum import holding
from scipy.sparse.csgraph import connected_components
from simulated_rays import cast

GOOD_M = 0.03
"""A reading further than this from what its ray hits is an outlier or a mixture, and tells
nothing."""
SAME_LINE_M = 2e-4
FEWEST = 3
WEAKEST = 1e-12


def bound_of(survey, truth, members):
    """The bound ``(m, 3, 3)`` of x, y and orientation of the stations `members (m,)` of one storey,
    under inner constraints: their mean position and their turn about it are held (Ghilani's free
    network). NaN when the readings leave more than that open."""
    plan = truth.storeys[truth.level[members[0]]]
    readings = [_readings(survey.captures[s], truth.pose[s], plan.segments) for s in members]
    line, start, azimuth = lines_of(plan.segments)
    seen = np.bincount(
        np.concatenate([line[hit] for _, _, hit, _, _ in readings]), minlength=len(start)
    )
    number = np.where(seen >= FEWEST, np.cumsum(seen >= FEWEST) - 1, -1)
    count = len(members)
    size = 3 * count + 2 * int((number >= 0).sum())
    information = np.zeros((size, size))
    for k, (s, (angle, distance, hit, sigma_m, sigma_rad)) in enumerate(zip(members, readings)):
        of = number[line[hit]]
        used = of >= 0
        of, angle, distance, own = of[used], angle[used], distance[used], line[hit[used]]
        rows = range_derivatives(truth.pose[s, :2], angle, start[own], azimuth[own], distance)
        rows /= np.hypot(sigma_m, rows[:, 2] * sigma_rad)[:, None]
        at = np.column_stack([np.tile(3 * k + np.arange(3), (len(of), 1)), 3 * count + 2 * of])
        at = np.column_stack([at, at[:, 3] + 1])
        products = rows[:, :, None] * rows[:, None, :]
        np.add.at(information, (at[:, :, None], at[:, None, :]), products)
    return inner_constrained(information, truth.pose[members, :2])


def _readings(capture, pose, segments):
    """Plan azimuths, true distances and segments hit of the good readings, and their errors."""
    azimuth = capture.angle_rad[capture.usable_ring] + pose[2]
    distance, hit = cast(segments, pose[:2], azimuth)
    off = np.abs(capture.distance_m[capture.usable_ring] - distance)
    good = (hit >= 0) & (off < GOOD_M)
    return (
        azimuth[good],
        distance[good],
        hit[good],
        capture.distance_sigma_m,
        np.radians(capture.angle_sigma_deg),
    )


def lines_of(segments):
    """The line of each segment ``(K,)``, and a point and the azimuth of each line: pieces of one
    straight wall that touch are one unknown. That walls beyond a doorway lie in line with it nobody
    may assume."""
    edge = segments[:, 1] - segments[:, 0]
    normal = np.column_stack([-edge[:, 1], edge[:, 0]]) / np.hypot(*edge.T)[:, None]
    off = np.einsum("abki,ai->abk", segments[None] - segments[:, None].mean(axis=2), normal)
    tips = np.linalg.norm(segments[:, None, :, None] - segments[None, :, None, :], axis=-1)
    one = (np.abs(off).max(axis=2) < SAME_LINE_M) & (tips.min(axis=(2, 3)) < SAME_LINE_M)
    line = connected_components(one, directed=False)[1]
    first = np.unique(line, return_index=True)[1]
    return line, segments[first].mean(axis=1), np.arctan2(*edge[first].T)


def range_derivatives(origin, azimuth, start, along, distance):
    """How the range of rays ``(n,)`` changes with the station's x, y and orientation, with the turn
    of the line about its point, and with its shift across: ``(n, 5)``.

    A ray from p in direction u meets the line through q with the normal n at r = n.(q - p) / n.u.
    """
    ray = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    ahead = np.column_stack([ray[:, 1], -ray[:, 0]])  # du/da, clockwise
    direction = np.column_stack([np.sin(along), np.cos(along)])
    normal = np.column_stack([direction[:, 1], -direction[:, 0]])
    facing = np.einsum("ij,ij->i", normal, ray)
    meet = origin + distance[:, None] * ray
    return np.column_stack(
        [
            -normal / facing[:, None],
            -distance * np.einsum("ij,ij->i", normal, ahead) / facing,
            # A clockwise turn takes the normal to -direction: dn/dt . (q - p - r u) / n.u.
            np.einsum("ij,ij->i", direction, meet - start) / facing,
            1.0 / facing,
        ]
    )


def inner_constrained(information, xy):
    """The pose blocks ``(m, 3, 3)`` of the inverse of the information of poses and other unknowns,
    with the mean of the positions ``(m, 2)`` and their turn about it held."""
    count, size = len(xy), len(information)
    datum = np.zeros((3, size))
    datum[:, : 3 * count] = holding(xy).T
    scale = 1.0 / np.sqrt(np.maximum(np.diagonal(information), 1e-300))
    datum *= scale
    datum /= np.linalg.norm(datum, axis=1)[:, None]
    full = np.block([[information * np.outer(scale, scale), datum.T], [datum, np.zeros((3, 3))]])
    if np.abs(np.linalg.eigvalsh(full)).min() < WEAKEST:
        return np.full((count, 3, 3), np.nan)
    covariance = np.linalg.inv(full)[:size, :size] * np.outer(scale, scale)
    return np.array([covariance[3 * k : 3 * k + 3, 3 * k : 3 * k + 3] for k in range(count)])
