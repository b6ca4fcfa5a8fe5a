# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment against truth, dense linear algebra and scipy's own least squares."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.angles import turn, wrap_half
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress
from roomtie.processing.stations.adjustment import FreeNetwork, adjust
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
from roomtie.processing.stations.statistics import statistics_of
from scipy.optimize import least_squares

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


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_scipy_least_squares(seed):
    truth, start, observations = mixed_network(seed)
    result = adjust(start, observations)
    free = ~start.held
    function = independent_residuals(start, observations)
    peer = least_squares(
        function,
        start.vector[free],
        jac="3-point",
        x_scale="jac",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    assert result.converged
    assert result.unknowns.vector[free] == pytest.approx(peer.x, rel=0, abs=1e-9)
    assert result.sum_of_squares == pytest.approx(2 * peer.cost, rel=1e-10)
    # Covariance from the peer's numerical Jacobian.
    covariance = np.linalg.inv(peer.jac.T @ peer.jac)
    columns = np.flatnonzero(free)
    sigma = np.sqrt(np.diag(covariance))
    difference = (result.covariance(columns) - covariance) / np.outer(sigma, sigma)
    assert np.abs(difference).max() < 1e-6
    # And the truth lies within a few standard errors.
    assert np.abs((result.unknowns.vector - truth.vector)[free] / sigma).max() < 4.5


def test_held_unknowns_keep_their_value_and_have_no_covariance():
    _, start, observations = mixed_network(1)
    held = start.station_held.copy()
    held[1, 2] = True
    start = replace(start, station_held=held, scalar_held=np.array([False, False, True, False]))
    result = adjust(start, observations)
    assert (result.unknowns.vector[start.held] == start.vector[start.held]).all()
    full = result.full_covariance()
    assert not full[start.held].any() and not full[:, start.held].any()
    assert (np.linalg.eigvalsh(full[~start.held][:, ~start.held]) > 0).all()
    assert result.station_covariance()[1] == pytest.approx(full[3:6, 3:6], rel=1e-9, abs=1e-18)
    assert result.point_covariance()[2] == pytest.approx(full[16:18, 16:18], rel=1e-9)


def test_order_does_not_matter():
    _, start, observations = mixed_network(3)
    rng = np.random.default_rng(0)
    sightings = observations.sightings
    order = rng.permutation(len(sightings))
    shuffled = replace(
        observations,
        sightings=replace(
            sightings,
            **{
                name: getattr(sightings, name)[order]
                for name in (
                    "station",
                    "to",
                    "angle_rad",
                    "distance_m",
                    "sigma_rad",
                    "sigma_m",
                    "zero",
                )
            },
        ),
    )
    one, two = adjust(start, observations), adjust(start, shuffled)
    assert two.unknowns.vector == pytest.approx(one.unknowns.vector, abs=1e-12)
    again = adjust(start, observations)
    assert (again.unknowns.vector == one.unknowns.vector).all()
    assert (again.full_covariance() == one.full_covariance()).all()


def test_leaving_out_rows_is_the_same_as_not_having_them():
    _, start, observations = mixed_network(4)
    used = observations.all_used()
    used[observations.rows_of("relative_poses")] = False
    used[observations.rows_of("azimuths")] = False
    left_out = adjust(start, observations, used=used)
    absent = adjust(
        start, replace(observations, relative_poses=RelativePoses(), azimuths=Azimuths())
    )
    assert left_out.unknowns.vector == pytest.approx(absent.unknowns.vector, abs=1e-12)
    assert left_out.degrees_of_freedom == absent.degrees_of_freedom
    assert left_out.sum_of_squares == pytest.approx(absent.sum_of_squares, rel=1e-10)
    # What is left out is still compared with its prediction.
    residual = observations.by_item("relative_poses", left_out.residual)
    assert np.abs(residual).max() > 0
    half = observations.all_used()
    half[observations.rows_of("relative_poses").start] = False
    with pytest.raises(SurveyError, match="only be used or left out as a whole"):
        adjust(start, observations, used=half)


def test_converges_where_full_steps_diverge():
    """Resection by distances from far off: a plain Gauss-Newton step overshoots."""
    control = np.array([[0.0, 0.0], [10.0, 0.0], [5.0, 0.5]])
    unknown = np.array([5.0, 3.0])
    unknowns = Unknowns(
        point=("a", "b", "c", "p"),
        point_xy_m=np.vstack([control, [40.0, 0.26]]),
        point_held=np.array([[True, True]] * 3 + [[False, False]]),
    )
    distances = np.hypot(*(control - unknown).T)
    observations = Observations(distances=Distances([3, 3, 3], [0, 1, 2], distances, MM))
    jacobian = dense_jacobian(unknowns, observations)
    function = independent_residuals(unknowns, observations)
    start = np.array([40.0, 0.26])
    full = start - np.linalg.lstsq(jacobian, function(start), rcond=None)[0]
    assert np.sum(function(full) ** 2) > np.sum(function(start) ** 2)
    result = adjust(unknowns, observations)
    sums = np.array(result.sums_of_squares)
    assert result.converged
    assert (np.diff(sums) <= 1e-9 * sums[:-1] + 1e-9).all()
    assert result.unknowns.point_xy_m[3] == pytest.approx(unknown, abs=1e-9)


def test_reports_when_it_did_not_converge():
    _, start, observations = mixed_network(0)
    result = adjust(start, observations, max_iterations=1)
    assert not result.converged and result.iterations == 1


def test_stops_when_the_user_asks():
    _, start, observations = mixed_network(0)
    with pytest.raises(Cancelled):
        adjust(start, observations, progress=Progress(cancelled=lambda: True))


# --- datum -------------------------------------------------------------------------------------


def points_only(seed, azimuths=False, distances=True):
    """Five points with all distances and some angles; nothing held."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 20, (5, 2))
    a, b = np.triu_indices(5, 1)
    at, back, fore = np.array([[0, 1, 2], [1, 2, 3], [2, 3, 4], [3, 4, 0], [4, 0, 1], [0, 2, 3]]).T

    def az(i, j):
        return np.arctan2(*(xy[j] - xy[i]).T)

    observations = Observations(
        distances=Distances(a, b, np.hypot(*(xy[b] - xy[a]).T) + rng.normal(size=10) * MM, MM)
        if distances
        else Distances(),
        angles=Angles(
            at, back, fore, az(at, fore) - az(at, back) + rng.normal(size=6) * 1e-4, 1e-4
        ),
        azimuths=Azimuths([0], [3], az([0], [3]), 1e-4) if azimuths else Azimuths(),
    )
    start = Unknowns(point=tuple("abcde"), point_xy_m=xy + rng.normal(size=(5, 2)) * 0.01)
    return start, observations


def dense_jacobian(unknowns, observations):
    """Central differences of the independent residuals."""
    function = independent_residuals(unknowns, observations)
    x = unknowns.vector[~unknowns.held]
    h = 1e-5
    return np.column_stack(
        [(function(x + h * e) - function(x - h * e)) / (2 * h) for e in np.eye(len(x))]
    )


@pytest.mark.parametrize(
    ("azimuths", "distances", "defect"), [(False, True, 3), (True, True, 2), (False, False, 4)]
)
def test_inner_constraints_give_the_pseudoinverse(azimuths, distances, defect):
    """With all points taking part, cofactors are the pseudoinverse of the normal matrix (Ghilani
    16.7; Teunissen 1985), and corrections have no component along the open motions."""
    start, observations = points_only(5, azimuths, distances)
    result = adjust(start, observations, free=FreeNetwork(np.ones(5, dtype=bool)))
    assert result.converged
    assert result.degrees_of_freedom == observations.rows - (10 - defect)
    jacobian = dense_jacobian(result.unknowns, observations)
    assert np.linalg.matrix_rank(jacobian, tol=1e-4) == 10 - defect
    expected = np.linalg.pinv(jacobian, rcond=1e-8)
    expected = expected @ expected.T
    scale = np.abs(expected).max()
    assert result.full_covariance() == pytest.approx(expected, rel=1e-5, abs=1e-6 * scale)
    correction = result.unknowns.point_xy_m - start.point_xy_m
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    if defect >= 3:
        x, y = (result.unknowns.point_xy_m - start.point_xy_m.mean(axis=0)).T
        assert np.sum(y * correction[:, 0] - x * correction[:, 1]) == pytest.approx(0, abs=1e-10)
    if defect == 4:
        assert np.sum(x * correction[:, 0] + y * correction[:, 1]) == pytest.approx(0, abs=1e-10)


def test_the_datum_changes_neither_residuals_nor_redundancies():
    start, observations = points_only(6)
    held = replace(start, point_held=np.array([[True, True], [True, False]] + [[False, False]] * 3))
    one = adjust(held, observations)
    two = adjust(start, observations, free=FreeNetwork(np.array([True, True, True, False, False])))
    assert one.residual == pytest.approx(two.residual, abs=1e-10)
    first, second = statistics_of(one), statistics_of(two)
    assert first.redundancy == pytest.approx(second.redundancy, abs=1e-9)
    assert first.standardised == pytest.approx(second.standardised, abs=1e-6)
    # Only the points that take part carry the datum.
    correction = (two.unknowns.point_xy_m - start.point_xy_m)[:3]
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    partial = [np.trace(block) for block in two.point_covariance()[:3]]
    assert sum(partial) < sum(np.trace(block) for block in one.point_covariance()[:3])


def test_a_free_network_of_stations():
    """Orientations, a surface's azimuth and a compass offset follow the datum of the positions."""
    truth, start, observations = mixed_network(2, held=False)
    observations = replace(
        observations,
        azimuths=Azimuths(),
        positions=Positions(),
        scalar_values=ScalarValues([2], [0.003], [MM]),
    )
    taking_part = np.arange(10) < 4
    result = adjust(start, observations, free=FreeNetwork(taking_part))
    assert result.converged
    correction = result.unknowns.station_xy_m - start.station_xy_m
    assert correction.sum(axis=0) == pytest.approx([0, 0], abs=1e-11)
    # The S-transformation of any other datum's covariance gives this one.
    fixed = adjust(
        replace(start, station_held=np.array([[True] * 3] + [[False] * 3] * 3)), observations
    )
    assert result.sum_of_squares == pytest.approx(fixed.sum_of_squares, rel=1e-9)
    size = start.size
    g = np.zeros((size, 3))
    xy = result.unknowns.place_xy_m()
    columns = start.place_column(np.arange(10))
    g[columns, 0] = g[columns + 1, 1] = 1
    g[columns, 2], g[columns + 1, 2] = xy[:, 1], -xy[:, 0]
    g[[2, 5, 8, 11], 2] = 1
    g[-4:, 2] = [-1, 1, 0, 0]
    part = np.zeros_like(g)
    rows = (columns[:4, None] + [0, 1]).ravel()
    part[rows] = g[rows]
    s = np.eye(size) - g @ np.linalg.solve(part.T @ g, part.T)
    # The other datum's covariance, brought to this network's place first.
    shift = result.unknowns.orientation_rad[0] - fixed.unknowns.orientation_rad[0]
    rotate = np.eye(size)
    for column in columns:
        rotate[column : column + 2, column : column + 2] = turn(np.eye(2), shift).T
    expected = s @ rotate @ fixed.full_covariance() @ rotate.T @ s.T
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.abs((result.full_covariance() - expected) / scale).max() < 1e-6
    assert result.station_covariance()[2] == pytest.approx(
        result.full_covariance()[6:9, 6:9], rel=1e-7, abs=1e-18
    )
    gap = wrap_half(result.unknowns.orientation_rad - fixed.unknowns.orientation_rad - shift)
    assert np.abs(gap).max() < 1e-10
    assert truth.size == size


def test_inner_constraints_need_two_places():
    start, observations = points_only(1)
    one = np.array([True, False, False, False, False])
    with pytest.raises(SurveyError, match="do not fix position and orientation"):
        adjust(start, observations, free=FreeNetwork(one))
    with pytest.raises(SurveyError, match="places is"):
        adjust(start, observations, free=FreeNetwork(one[:3]))


def test_a_free_network_that_priors_already_fix_stays_as_it_is():
    _, start, observations = mixed_network(0)
    plain = adjust(start, observations)
    free = adjust(start, observations, free=FreeNetwork(np.ones(10, dtype=bool)))
    assert free.unknowns.vector == pytest.approx(plain.unknowns.vector, abs=1e-12)
    assert free.full_covariance() == pytest.approx(plain.full_covariance(), rel=1e-9, abs=1e-18)


# --- what cannot be solved -----------------------------------------------------------------------


def chain(count, held=True):
    """Stations in a row, each tied to the next."""
    one = np.arange(count - 1)
    covariance = np.diag([2 * MM, 2 * MM, 1e-3]) ** 2
    return (
        Unknowns(
            station=tuple(f"s{i}" for i in range(count)),
            station_xy_m=np.column_stack([np.arange(count) * 3.0, np.zeros(count)]),
            orientation_rad=np.zeros(count),
            station_held=np.array([[held] * 3] + [[False] * 3] * (count - 1)),
        ),
        Observations(relative_poses=RelativePoses(one, one + 1, [3.0, 0.0, 0.0], covariance)),
    )


def test_a_network_without_datum_is_refused_by_name():
    unknowns, observations = chain(3, held=False)
    with pytest.raises(SurveyError, match=r"station s0, station s1, station s2 \(rank defect 3\)"):
        adjust(unknowns, observations)


def test_an_unconnected_group_is_refused_by_name():
    unknowns, observations = chain(6)
    used = observations.all_used()
    used[6:9] = False  # between s2 and s3
    with pytest.raises(
        SurveyError, match=r"determine station s3, station s4, station s5 \(rank def"
    ):
        adjust(unknowns, observations, used=used)


def test_unknowns_without_observations_are_refused_by_name():
    unknowns, observations = chain(3)
    more = replace(unknowns, scalar_name=("zero error",), scalar=np.zeros(1), scalar_held=None)
    with pytest.raises(SurveyError, match="determine zero error"):
        adjust(more, observations)
    more = replace(unknowns, point=("nail",), point_xy_m=np.array([[5.0, 5.0]]), point_held=None)
    with pytest.raises(SurveyError, match="determine point nail"):
        adjust(more, observations)
    one = replace(observations, distances=Distances([0], [3], [7.0], MM))
    with pytest.raises(SurveyError, match=r"determine point nail \(rank defect 1\)"):
        adjust(more, one)


def test_a_long_open_traverse_is_weak_but_determined():
    """400 stations hanging on one: the pivots get small, yet nothing is undetermined. The last
    station's error follows from propagating the chain's covariance."""
    unknowns, observations = chain(400)
    result = adjust(unknowns, observations)
    n = 399
    across = np.sqrt(n * (2 * MM) ** 2 + np.sum((3.0 * 1e-3 * np.arange(n)) ** 2))
    along = 2 * MM * np.sqrt(n)
    sigma = np.sqrt(np.diag(result.station_covariance()[-1]))
    assert sigma == pytest.approx([along, across, 1e-3 * np.sqrt(n)], rel=1e-6)


def test_bad_input_is_told_in_one_sentence():
    unknowns, observations = chain(3)
    same = replace(unknowns, station_xy_m=np.zeros((3, 2)))
    with pytest.raises(SurveyError, match="have the same approximate position"):
        adjust(same, Observations(distances=Distances([0], [1], [1.0], MM)))
    with pytest.raises(
        SurveyError, match="Item 0 of distances: to is 5, but the network has 3 plac"
    ):
        adjust(unknowns, Observations(distances=Distances([0], [5], [1.0], MM)))
    with pytest.raises(SurveyError, match="goes from station s1 to itself"):
        adjust(unknowns, Observations(distances=Distances([1], [1], [1.0], MM)))
    bad = RelativePoses([0], [1], [[3.0, 0.0, 0.0]], np.diag([1.0, 1.0, -1.0]))
    with pytest.raises(SurveyError, match="not positive definite"):
        adjust(unknowns, replace(observations, relative_poses=bad))
    skew = np.eye(3)
    skew[0, 1] = 0.5
    bad = RelativePoses([0], [1], [[3.0, 0.0, 0.0]], skew)
    with pytest.raises(SurveyError, match="not symmetric"):
        adjust(unknowns, replace(observations, relative_poses=bad))
    lost = replace(unknowns, orientation_rad=np.array([0.0, np.nan, 0.0]))
    with pytest.raises(SurveyError, match="station s1 are not finite"):
        adjust(lost, observations)
    with pytest.raises(SurveyError, match="used is"):
        adjust(unknowns, observations, used=np.ones(2, dtype=bool))


def test_a_network_with_nothing_to_solve_is_only_compared():
    """All points held: the residual is what the coordinates say, with the observation's error."""
    held = Unknowns(
        point=("a", "b"),
        point_xy_m=np.array([[0.0, 0.0], [3.0, 4.0]]),
        point_held=np.ones((2, 2), dtype=bool),
    )
    result = adjust(held, Observations(distances=Distances([0], [1], [5.01], 2 * MM)))
    assert result.converged and result.degrees_of_freedom == 1
    assert result.residual == pytest.approx([-0.01])
    assert not result.full_covariance().any() and not result.point_covariance().any()
    assert statistics_of(result).standardised == pytest.approx([-5.0])
    assert adjust(Unknowns(), Observations()).degrees_of_freedom == 0
