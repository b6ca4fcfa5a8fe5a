# SPDX-License-Identifier: GPL-2.0-or-later
"""Open motions found from sparse equations, held against those of the dense matrix."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.stations import network_motions
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.network_motions import StationNormals
from roomtie.processing.stations.observations import (
    Observations,
    Orientations,
    RelativePoses,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
    Unknowns,
)
from scipy.linalg import eigh, subspace_angles

LIMIT_M = 0.25


def network(seed, stations, vague):
    """Stations along a corridor: each tied to the next, a share of the ties vague in one direction;
    some surfaces, targets and compass bearings beside."""
    rng = np.random.default_rng(seed)
    pose = np.column_stack(
        [3.0 * np.arange(stations), rng.normal(0, 2, stations), rng.normal(0, 1, stations)]
    )
    first = np.arange(stations - 1)
    own = np.tile(np.diag([1e-6, 1e-6, 1e-7]), (stations - 1, 1, 1))
    for k in np.flatnonzero(rng.random(stations - 1) < vague):
        own[k] += 10.0 ** rng.uniform(-2, 2) * np.diag([*rng.random(2), 0.1])
    ties = RelativePoses(first, first + 1, between(pose[first], pose[first + 1]), own)
    of = np.arange(0, stations - 1, 4)
    azimuth = rng.uniform(-np.pi, np.pi, len(of))
    seen = np.concatenate([of, of + 1])
    surface = np.tile(np.arange(len(of)), 2)
    directions = SurfaceDirections(
        station=seen,
        surface=surface,
        angle_rad=azimuth[surface] - pose[seen, 2],
        sigma_rad=np.full(len(seen), 1e-3),
    )
    offsets = SurfaceOffsets(
        station=seen,
        reference=of[surface],
        surface=surface,
        normal_distance=len(of) + surface,
        centre_m=rng.normal(0, 3, (len(seen), 2)),
        sigma_m=np.full(len(seen), 1e-3),
    )
    sightings = Sightings(
        station=np.array([0, 1]),
        to=np.array([stations, stations]),
        angle_rad=np.array([0.3, 0.4]),
        distance_m=np.array([3.0, 4.0]),
        sigma_rad=np.full(2, 1e-3),
        sigma_m=np.full(2, 1e-3),
    )
    compass = Orientations(
        station=np.arange(stations),
        azimuth_rad=pose[:, 2],
        sigma_rad=np.full(stations, 0.05),
        offset=np.full(stations, 2 * len(of)),
    )
    unknowns = Unknowns(
        tuple(f"S{k}" for k in range(stations)),
        pose[:, :2],
        pose[:, 2],
        ("T",),
        np.array([[2.0, 1.5]]),
        (*(f"surface {k}" for k in of), *(f"distance {k}" for k in of), "compass"),
        np.concatenate([azimuth, np.full(len(of), 2.0), [0.0]]),
    )
    observations = Observations(
        sightings=sightings,
        relative_poses=ties,
        orientations=compass,
        surface_directions=directions,
        surface_offsets=offsets,
    )
    return StationNormals.of(unknowns, observations, observations.all_used())


def dense(normals):
    """The normal matrix of the stations, points and scalars eliminated."""
    inner, cross = normals.inner.toarray(), normals.cross.toarray()
    return normals.poses.toarray() - cross.T @ np.linalg.solve(inner, cross)


@given(st.integers(0, 10_000), st.integers(4, 30), st.sampled_from([0.0, 0.2, 0.8]))
def test_as_many_motions_are_open_as_the_dense_matrix_has(seed, stations, vague):
    normals = network(seed, stations, vague)
    matrix = dense(normals)
    assert normals.inner.shape[0] == 2 + 2 * len(range(0, stations - 1, 4)) + 1
    values, vectors = eigh(matrix)
    limit = LIMIT_M**-2
    if np.abs(values / limit - 1.0).min() < 0.01:  # too near to ask
        return
    count = int((values < limit).sum())
    assert normals._count(limit) in (count, None)
    found = normals._searched(limit)
    if found is None:  # so many that the dense matrix is asked
        assert count > 3
        return
    assert found.shape == (3 * stations, count)
    # Rounding of values 1e10 times as large.
    assert subspace_angles(found, vectors[:, :count]).max() < 1e-4


def test_the_search_is_what_decides():
    """The dense matrix, which costs the cube of the stations, is not asked for large groups."""
    for vague in (0.0, 0.05):
        normals = network(1, 150, vague)
        limit = LIMIT_M**-2
        count = int((eigh(dense(normals), eigvals_only=True) < limit).sum())
        assert normals._searched(limit).shape[1] == count


def test_small_and_large_groups_give_the_same_motions(monkeypatch):
    normals = network(5, 12, 0.3)
    monkeypatch.setattr(network_motions, "SMALL", 0)
    searched = normals.open_motions(LIMIT_M)
    monkeypatch.setattr(network_motions, "SMALL", 40)
    every = normals.open_motions(LIMIT_M)
    assert searched.shape == every.shape
    assert subspace_angles(searched, every).max() < 1e-4


@pytest.mark.parametrize("small", [0, 40])
def test_blocks_of_stations_are_those_of_the_dense_matrix(small, monkeypatch):
    monkeypatch.setattr(network_motions, "SMALL", small)
    normals = network(7, 9, 0.5)
    matrix = dense(normals)
    for k, block in enumerate(normals.of_each()):
        at = slice(3 * k, 3 * k + 3)
        np.testing.assert_allclose(
            block, matrix[at, at], rtol=1e-9, atol=1e-9 * np.abs(block).max()
        )


@pytest.mark.parametrize("stations", [4, 9])
def test_what_no_observation_ties_is_another_piece(stations, monkeypatch):
    monkeypatch.setattr(network_motions, "SMALL", 0)
    pose = np.column_stack([np.arange(stations), np.zeros(stations), np.zeros(stations)]) * 1.0
    first = np.array([0, 2])
    ties = RelativePoses(
        first,
        first + 1,
        between(pose[first], pose[first + 1]),
        np.tile(np.diag([1e-6, 1e-6, 1e-7]), (2, 1, 1)),
    )
    unknowns = Unknowns(tuple(f"S{k}" for k in range(stations)), pose[:, :2], pose[:, 2])
    observations = Observations(relative_poses=ties)
    used = observations.all_used()
    piece = StationNormals.of(unknowns, observations, used).pieces()
    assert piece[:4].tolist() == [0, 0, 1, 1]
    assert piece.max() == 1 + stations - 4
    used[3:] = False
    assert StationNormals.of(unknowns, observations, used).pieces().max() == 2 + stations - 4
