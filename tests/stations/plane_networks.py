# SPDX-License-Identifier: GPL-2.0-or-later
"""Random networks with every kind of observation, and their residuals and derivatives written anew,
independent of the code, for tests of the adjustment."""

import numpy as np
from roomtie.processing.angles import turn
from roomtie.processing.stations.observations import (
    Angles,
    Azimuths,
    Distances,
    Observations,
    Orientations,
    Positions,
    RelativePoses,
    ScalarValues,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)

MM = 1e-3


def spd(rng, n, scale):
    """Random covariances ``(n, d, d)`` with standard errors of about `scale (d,)`."""
    d = len(scale)
    a = rng.normal(size=(n, d, d)) * 0.4 + np.eye(d)
    return scale[:, None] * (a @ np.swapaxes(a, 1, 2)) * scale


def mixed_network(seed, held=True):
    """A random network with every kind of observation: truth, unknowns a little off, observations
    with noise of their stated size."""
    rng = np.random.default_rng(seed)
    s, p = 4, 6
    truth = Unknowns(
        station=tuple("ABCD"),
        station_xy_m=rng.uniform(0, 10, (s, 2)),
        orientation_rad=rng.uniform(-np.pi, np.pi, s),
        point=tuple(f"t{i}" for i in range(p)),
        point_xy_m=rng.uniform(0, 10, (p, 2)),
        scalar_name=("compass", "surface", "zero", "offset"),
        scalar=np.array([0.3, -1.2, 0.004, 2.5]),
        station_held=np.array([[held] * 3] + [[False] * 3] * 3),
    )
    xy = truth.place_xy_m()
    o = truth.orientation_rad

    def azimuth(a, b):
        return np.arctan2(*(xy[b] - xy[a]).T)

    def noise(sigma, *shape):
        return rng.normal(size=shape) * sigma

    def draw(covariance):
        return np.einsum(
            "nij,nj->ni", np.linalg.cholesky(covariance), rng.normal(size=covariance.shape[:2])
        )

    a, b = np.array([4, 5, 6, 0, 1, 7]), np.array([5, 6, 7, 8, 9, 2])
    at, back, fore = np.array([4, 0, 8]), np.array([6, 7, 9]), np.array([1, 5, 3])
    st = np.repeat(np.arange(s), p)
    to = np.tile(np.arange(s, s + p), s)
    f, g = np.array([0, 1, 2, 0]), np.array([1, 2, 3, 3])
    relative = np.column_stack([[turn(xy[j] - xy[i], -o[i]) for i, j in zip(f, g)], o[g] - o[f]])
    pose_covariance = spd(rng, 4, np.array([5 * MM, 5 * MM, 1e-3]))
    position_covariance = spd(rng, 2, np.array([0.5, 0.5]))
    # Points of a wall 2.5 m from station A along its normal.
    seen = np.array([0, 1, 3])
    normal = np.array([np.sin(-1.2), np.cos(-1.2)])
    on_wall = xy[0] + 2.5 * normal + rng.uniform(-4, 4, (3, 1)) * [normal[1], -normal[0]]
    on_wall += noise(3 * MM, 3, 1) * normal
    centre = [turn(q - xy[k], -o[k]) for q, k in zip(on_wall, seen)]
    observations = Observations(
        distances=Distances(
            a, b, np.hypot(*(xy[b] - xy[a]).T) + 0.004 + noise(2 * MM, 6), 2 * MM, zero=2
        ),
        angles=Angles(at, back, fore, azimuth(at, fore) - azimuth(at, back) + noise(1e-3, 3), 1e-3),
        azimuths=Azimuths([1], [8], azimuth([1], [8]) + noise(2e-3, 1), 2e-3),
        sightings=Sightings(
            st,
            to,
            azimuth(st, to) - o[st] + noise(5e-4, s * p) + 2 * np.pi * rng.integers(-1, 2, s * p),
            np.hypot(*(xy[to] - xy[st]).T) + 0.004 + noise(2 * MM, s * p),
            5e-4,
            2 * MM,
            zero=2,
        ),
        relative_poses=RelativePoses(f, g, relative + draw(pose_covariance), pose_covariance),
        positions=Positions([2, 5], xy[[2, 5]] + draw(position_covariance), position_covariance),
        orientations=Orientations(np.arange(s), o + 0.3 + noise(0.05, s), 0.05, offset=0),
        surface_directions=SurfaceDirections([0, 1, 3], [1, 1, 1], -1.2 - o[[0, 1, 3]], 2e-3),
        surface_offsets=SurfaceOffsets(seen, np.zeros(3, int), [1] * 3, [3] * 3, centre, 3 * MM),
        scalar_values=ScalarValues([2, 0], [0.003, 0.28], [MM, 0.05]),
    )
    start = truth.vector + noise(0.05, truth.size) * ~truth.held
    return truth, truth.with_vector(start), observations


def independent_residuals(unknowns, observations):
    """Weighted residuals written a second time, item by item, for scipy."""
    ob = observations
    s = len(unknowns.station)

    def function(free):
        v = unknowns.vector
        v[~unknowns.held] = free
        poses = v[: 3 * s].reshape(s, 3)
        n = len(unknowns.scalar)
        scalar = v[len(v) - n :]
        xy = np.concatenate([poses[:, :2], v[3 * s : len(v) - n].reshape(-1, 2)])
        out = []

        def az(i, j):
            return np.arctan2(xy[j, 0] - xy[i, 0], xy[j, 1] - xy[i, 1])

        def add(value, sigma, circular=False):
            out.append(
                (np.remainder(value + np.pi, 2 * np.pi) - np.pi if circular else value) / sigma
            )

        def zero(k):
            return scalar[k] if k >= 0 else 0.0

        for k in range(len(ob.distances)):
            d = ob.distances
            length = np.linalg.norm(xy[d.to[k]] - xy[d.at[k]]) + zero(d.zero[k])
            add(length - d.distance_m[k], d.sigma_m[k])
        for k in range(len(ob.angles)):
            d = ob.angles
            value = az(d.at[k], d.foresight[k]) - az(d.at[k], d.backsight[k])
            add(value - d.angle_rad[k], d.sigma_rad[k], True)
        for k in range(len(ob.azimuths)):
            d = ob.azimuths
            add(az(d.at[k], d.to[k]) - d.azimuth_rad[k], d.sigma_rad[k], True)
        for k in range(len(ob.sightings)):
            d = ob.sightings
            i, j = d.station[k], d.to[k]
            add(az(i, j) - poses[i, 2] - d.angle_rad[k], d.sigma_rad[k], True)
            add(np.linalg.norm(xy[j] - xy[i]) + zero(d.zero[k]) - d.distance_m[k], d.sigma_m[k])
        for k in range(len(ob.relative_poses)):
            d = ob.relative_poses
            first, second = poses[d.station[k]], poses[d.to[k]]
            c, sn = np.cos(first[2]), np.sin(first[2])
            local = np.array([[c, -sn], [sn, c]]) @ (second[:2] - first[:2])
            e = np.array([*local, second[2] - first[2]]) - d.pose[k]
            e[2] = np.remainder(e[2] + np.pi, 2 * np.pi) - np.pi
            out.extend(np.linalg.solve(np.linalg.cholesky(d.covariance[k]), e))
        for k in range(len(ob.positions)):
            d = ob.positions
            factor = np.linalg.cholesky(d.covariance_m2[k])
            out.extend(np.linalg.solve(factor, xy[d.place[k]] - d.xy_m[k]))
        for k in range(len(ob.orientations)):
            d = ob.orientations
            value = poses[d.station[k], 2] + zero(d.offset[k]) - d.azimuth_rad[k]
            add(value, d.sigma_rad[k], True)
        for k in range(len(ob.surface_directions)):
            d = ob.surface_directions
            value = scalar[d.surface[k]] - poses[d.station[k], 2] - d.angle_rad[k]
            add(value, d.sigma_rad[k], True)
        for k in range(len(ob.surface_offsets)):
            d = ob.surface_offsets
            x, y, turned = poses[d.station[k]]
            c, sn = np.cos(turned), np.sin(turned)
            point = np.array([[c, sn], [-sn, c]]) @ d.centre_m[k] + [x, y]
            azimuth = scalar[d.surface[k]]
            along = (point - xy[d.reference[k]]) @ [np.sin(azimuth), np.cos(azimuth)]
            add(scalar[d.normal_distance[k]] - along, d.sigma_m[k])
        for k in range(len(ob.scalar_values)):
            d = ob.scalar_values
            add(scalar[d.scalar[k]] - d.value[k], d.sigma[k])
        return np.array(out)

    return function


def dense_jacobian(unknowns, observations):
    """Central differences of the independent residuals."""
    function = independent_residuals(unknowns, observations)
    x = unknowns.vector[~unknowns.held]
    h = 1e-5
    return np.column_stack(
        [(function(x + h * e) - function(x - h * e)) / (2 * h) for e in np.eye(len(x))]
    )


def whole_covariance(adjustment):
    """The covariance ``(U, U)`` of all unknowns of an adjustment, in the order of their vector."""
    return adjustment.covariance(np.arange(adjustment.unknowns.size))
