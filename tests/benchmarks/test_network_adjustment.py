# SPDX-License-Identifier: GPL-2.0-or-later
"""Time of the network adjustment against gtsam's Gauss-Newton and marginals, or scipy's sparse
least squares where gtsam is absent, on the same network in the same run.

The network: 1000 stations on a grid of 40, each tied to the next and to some of its neighbours,
2873 relative poses in all, approximate values 50 mm and 20 mrad off.
"""

import numpy as np
import pytest
from roomtie.processing.angles import turn
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.blunders import snoop
from roomtie.processing.stations.observations import Observations, RelativePoses, Unknowns
from roomtie.processing.stations.statistics import statistics_of
from scipy import sparse
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

pytest.importorskip("pytest_benchmark", reason="pytest-benchmark measures these")

STATIONS, RELATIONS = 1000, 2873
SIGMA = np.array([0.002, 0.002, 0.0005])


@pytest.fixture(scope="module")
def network():
    rng = np.random.default_rng(20)
    number = np.arange(STATIONS)
    xy = np.stack([number % 40, number // 40], axis=1)
    back = xy[:, 1] % 2 == 1
    xy[back, 0] = 39 - xy[back, 0]  # a lawn mower's path, so that each is near the next
    near = sorted(pair for pair in cKDTree(xy).query_pairs(1.5) if pair[1] - pair[0] > 1)
    some = np.sort(rng.permutation(len(near))[: RELATIONS - STATIONS + 1])
    ends = np.vstack([np.stack([number[:-1], number[1:]], axis=1), np.array(near)[some]])
    xy = 3.0 * xy
    orientation = rng.uniform(-np.pi, np.pi, STATIONS)
    first, second = ends.T
    pose = np.array(
        [[*turn(xy[j] - xy[i], -orientation[i]), orientation[j] - orientation[i]] for i, j in ends]
    )
    pose += rng.normal(size=pose.shape) * SIGMA
    held = np.zeros((STATIONS, 3), dtype=bool)
    held[0] = True
    off = rng.normal(size=(STATIONS, 3)) * [0.05, 0.05, 0.02] * ~held
    unknowns = Unknowns(
        station=tuple(str(i) for i in number),
        station_xy_m=xy + off[:, :2],
        orientation_rad=orientation + off[:, 2],
        station_held=held,
    )
    observations = Observations(
        relative_poses=RelativePoses(first, second, pose, np.diag(SIGMA**2))
    )
    return unknowns, observations


def gtsam_graph(gtsam, unknowns, observations):
    """The same network as a factor graph; gtsam's angles run counterclockwise."""
    ties = observations.relative_poses
    model = gtsam.noiseModel.Diagonal.Sigmas(SIGMA)
    graph, values = gtsam.NonlinearFactorGraph(), gtsam.Values()
    for i, j, (x, y, angle) in zip(ties.station.tolist(), ties.to.tolist(), ties.pose.tolist()):
        graph.add(gtsam.BetweenFactorPose2(i, j, gtsam.Pose2(x, y, -angle), model))
    for i, ((x, y), angle) in enumerate(
        zip(unknowns.station_xy_m.tolist(), unknowns.orientation_rad.tolist())
    ):
        values.insert(i, gtsam.Pose2(x, y, -angle))
    tight = gtsam.noiseModel.Diagonal.Sigmas(np.full(3, 1e-6))
    graph.add(gtsam.PriorFactorPose2(0, values.atPose2(0), tight))
    return graph, values


@pytest.mark.benchmark(group="adjust 1000 stations, 2873 relative poses")
def test_adjust(benchmark, network):
    result = benchmark(lambda: adjust(*network))
    assert result.converged


@pytest.mark.benchmark(group="adjust 1000 stations, 2873 relative poses")
def test_adjust_with_gtsam(benchmark, network):
    gtsam = pytest.importorskip("gtsam", reason="gtsam is not installed")

    def build_and_optimise():
        graph, values = gtsam_graph(gtsam, *network)
        return graph, gtsam.GaussNewtonOptimizer(graph, values).optimize()

    graph, values = benchmark(build_and_optimise)
    ours = adjust(*network)
    assert 2 * graph.error(values) == pytest.approx(ours.sum_of_squares, rel=1e-6)
    theirs = np.array([values.atPose2(i).translation() for i in range(STATIONS)])
    assert np.abs(theirs - ours.unknowns.station_xy_m).max() < 1e-5


@pytest.mark.benchmark(group="adjust 1000 stations, 2873 relative poses")
def test_adjust_with_scipy_least_squares(benchmark, network):
    unknowns, observations = network
    ties = observations.relative_poses
    free = ~unknowns.held

    def poses(x):
        vector = unknowns.vector
        vector[free] = x
        return vector.reshape(-1, 3)

    def parts(x):
        p = poses(x)
        first, second = p[ties.station], p[ties.to]
        d = second[:, :2] - first[:, :2]
        return d, np.cos(first[:, 2]), np.sin(first[:, 2]), second[:, 2] - first[:, 2]

    def residual(x):
        (dx, dy), c, s, angle = (q.T for q in parts(x))
        turned = (angle - ties.pose[:, 2] + np.pi) % (2 * np.pi) - np.pi
        v = np.stack([dx * c - dy * s - ties.pose[:, 0], dx * s + dy * c - ties.pose[:, 1], turned])
        return (v.T / SIGMA).ravel()

    def jacobian(x):
        (dx, dy), c, s, _ = (q.T for q in parts(x))
        o, one = np.zeros_like(c), np.ones_like(c)
        rows = np.array(
            [
                [-c, s, -dx * s - dy * c, c, -s, o],
                [-s, -c, dx * c - dy * s, s, c, o],
                [o, o, -one, o, o, one],
            ]
        )
        entries = rows.transpose(2, 0, 1) / SIGMA[None, :, None]
        columns = np.hstack([3 * e[:, None] + np.arange(3) for e in (ties.station, ties.to)])
        row = np.repeat(np.arange(3 * RELATIONS), 6)
        column = np.repeat(columns, 3, axis=0).ravel()
        shape = (3 * RELATIONS, 3 * STATIONS)
        return sparse.csr_matrix((entries.ravel(), (row, column)), shape=shape)[:, free]

    result = benchmark.pedantic(
        lambda: least_squares(
            residual,
            unknowns.vector[free],
            jac=jacobian,
            tr_solver="lsmr",
            x_scale="jac",
        ),
        rounds=1,
    )
    # Its default tolerances stop it short of the optimum; with 1e-10 it takes two minutes and
    # comes within 4e-6.
    assert 2 * result.cost == pytest.approx(adjust(*network).sum_of_squares, rel=1e-3)


@pytest.mark.benchmark(group="covariances of 1000 stations")
def test_covariances(benchmark, network):
    result = benchmark.pedantic(
        lambda adjustment: adjustment.station_covariance(),
        setup=lambda: ((adjust(*network),), {}),
        rounds=5,
    )
    assert result.shape == (STATIONS, 3, 3)


@pytest.mark.benchmark(group="covariances of 1000 stations")
def test_covariances_with_gtsam(benchmark, network):
    gtsam = pytest.importorskip("gtsam", reason="gtsam is not installed")
    graph, values = gtsam_graph(gtsam, *network)
    values = gtsam.GaussNewtonOptimizer(graph, values).optimize()

    def marginals():
        found = gtsam.Marginals(graph, values)
        return np.array([found.marginalCovariance(i) for i in range(STATIONS)])

    theirs = benchmark.pedantic(marginals, rounds=3)
    ours = adjust(*network)
    # gtsam gives x and y in each pose's own frame.
    angle = -ours.unknowns.orientation_rad
    c, s = np.cos(angle), np.sin(angle)
    rotate = np.stack([np.stack([c, -s], axis=1), np.stack([s, c], axis=1)], axis=1)
    turned = rotate @ theirs[:, :2, :2] @ np.swapaxes(rotate, 1, 2)
    expected = ours.station_covariance()[:, :2, :2]
    assert np.abs(turned - expected).max() < 1e-3 * expected.max()


@pytest.mark.benchmark(group="covariances of 1000 stations")
def test_covariances_and_all_statistics(benchmark, network):
    statistics = benchmark.pedantic(
        lambda adjustment: statistics_of(adjustment),
        setup=lambda: ((adjust(*network),), {}),
        rounds=5,
    )
    assert statistics.redundancy.sum() == pytest.approx(3 * RELATIONS - 3 * (STATIONS - 1))


@pytest.mark.benchmark(group="find five wrong ties among 2873")
def test_snooping(benchmark, network):
    unknowns, observations = network
    ties = observations.relative_poses
    pose = ties.pose.copy()
    wrong = [100, 700, 1300, 2000, 2600]
    pose[wrong] += [[0.5, 0, 0], [0, 2.0, 1.5], [0.05, 0, 0], [0, 0, 0.02], [0.03, -0.03, 0]]
    planted = Observations(
        relative_poses=RelativePoses(ties.station, ties.to, pose, np.diag(SIGMA**2))
    )
    result = benchmark.pedantic(lambda: snoop(unknowns, planted), rounds=1)
    assert set(wrong) <= {rejection.item for rejection in result.rejected}
