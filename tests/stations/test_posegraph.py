# SPDX-License-Identifier: GPL-2.0-or-later
"""A published pose graph: ``intel.g2o`` of the g2o distribution (openslam.org), 943 poses and 1837
relations. Sum of squares 1331.4989 at its start and 546.4611 at the optimum, with the usual error
``z^-1 * relative pose`` (figures found from two starts, with other software)."""

import numpy as np
import pytest
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.observations import Observations, RelativePoses, Unknowns
from roomtie.processing.stations.statistics import statistics_of


def read_g2o(path):
    """Poses ``(S, 3)``, ends of the edges, relations ``(n, 3)`` and information ``(n, 3, 3)``, in
    the file's convention: angles counterclockwise."""
    poses, edges = {}, []
    for line in path.read_text().splitlines():
        word, *numbers = line.split()
        values = [float(number) for number in numbers]
        if word == "VERTEX_SE2":
            poses[int(values[0])] = values[1:]
        elif word == "EDGE_SE2":
            edges.append(values)
    index = {number: i for i, number in enumerate(poses)}
    e = np.array(edges)
    ends = np.array([[index[int(a)], index[int(b)]] for a, b in e[:, :2]])
    upper = np.triu_indices(3)
    information = np.zeros((len(e), 3, 3))
    information[:, upper[0], upper[1]] = information[:, upper[1], upper[0]] = e[:, 5:]
    return np.array(list(poses.values())), ends, e[:, 2:5], information


def usual_sum_of_squares(poses, ends, z, information):
    """Independent of the code under test: error ``z^-1 * (xi^-1 * xj)`` by matrices."""

    def matrix(p):
        c, s = np.cos(p[:, 2]), np.sin(p[:, 2])
        m = np.tile(np.eye(3), (len(p), 1, 1))
        m[:, 0, 0] = m[:, 1, 1] = c
        m[:, 1, 0], m[:, 0, 1] = s, -s
        m[:, :2, 2] = p[:, :2]
        return m

    first, second = matrix(poses[ends[:, 0]]), matrix(poses[ends[:, 1]])
    error = np.linalg.inv(matrix(z)) @ (np.linalg.inv(first) @ second)
    e = np.column_stack([error[:, :2, 2], np.arctan2(error[:, 1, 0], error[:, 0, 0])])
    return np.einsum("ni,nij,nj->", e, information, e)


def network(poses, ends, z, information):
    """The same graph here: azimuths clockwise, and the covariance brought from the second pose's
    frame, where the usual error lives, into the first one's."""
    c, s = np.cos(z[:, 2]), np.sin(z[:, 2])
    turn = np.zeros((len(z), 3, 3))
    turn[:, 0, 0] = turn[:, 1, 1] = c
    turn[:, 0, 1], turn[:, 1, 0], turn[:, 2, 2] = -s, s, -1.0
    covariance = turn @ np.linalg.inv(information) @ np.swapaxes(turn, 1, 2)
    held = np.zeros((len(poses), 3), dtype=bool)
    held[0] = True
    flip = np.array([1.0, 1.0, -1.0])
    return (
        Unknowns(
            station=tuple(str(i) for i in range(len(poses))),
            station_xy_m=poses[:, :2],
            orientation_rad=-poses[:, 2],
            station_held=held,
        ),
        Observations(relative_poses=RelativePoses(ends[:, 0], ends[:, 1], z * flip, covariance)),
    )


@pytest.fixture(scope="module")
def intel(shared_data):
    return read_g2o(shared_data("posegraph") / "intel.g2o")


def test_reaches_the_published_optimum_from_the_raw_start(intel):
    unknowns, observations = network(*intel)
    result = adjust(unknowns, observations)
    assert result.converged
    assert result.sums_of_squares[0] == pytest.approx(1331.4989, abs=5e-5)
    assert result.sum_of_squares == pytest.approx(546.4611, abs=5e-5)
    poses = np.column_stack([result.unknowns.station_xy_m, -result.unknowns.orientation_rad])
    assert usual_sum_of_squares(poses, *intel[1:]) == pytest.approx(546.4611, abs=5e-5)


def test_reaches_it_from_a_worse_start_with_damping(intel):
    """Poses up to 2 m and 0.5 rad off: a full step then makes things worse, at times."""
    poses, *rest = intel
    noise = np.random.default_rng(7).uniform(-1, 1, poses.shape) * [2.0, 2.0, 0.5]
    noise[0] = 0.0
    result = adjust(*network(poses + noise, *rest))
    assert result.converged
    assert result.sum_of_squares == pytest.approx(546.4611, abs=5e-5)


def test_covariances_and_redundancies_of_a_large_network(intel):
    """The covariances taken from fronts are those of the whole inverse, and redundancies sum to
    the degrees of freedom."""
    unknowns, observations = network(*intel)
    result = adjust(unknowns, observations)
    statistics = statistics_of(result)
    assert result.degrees_of_freedom == 3 * (1837 - 942) == 2685
    assert np.sum(statistics.redundancy) == pytest.approx(2685, abs=1e-6)
    blocks = result.station_covariance()
    some = np.array([1, 17, 400, 942])
    columns = (3 * some[:, None] + np.arange(3)).ravel()
    whole = result.covariance(columns)
    for i, station in enumerate(some):
        at = slice(3 * i, 3 * i + 3)
        assert blocks[station] == pytest.approx(whole[at, at], rel=1e-6, abs=1e-12)
    assert not blocks[0].any()
