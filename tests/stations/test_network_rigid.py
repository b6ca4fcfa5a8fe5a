# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.stations import network_rigid
from roomtie.processing.stations.connect_frames import between
from roomtie.processing.stations.network_rigid import rigid_parts
from roomtie.processing.stations.observations import Observations, RelativePoses, Unknowns

COUNT = 90


def tied(seed, cut=(), sliding=()):
    """Stations of a long chain, each tied to the next two; ties across the places `cut` are left
    out, those across `sliding` do not know the shift along one direction."""
    rng = np.random.default_rng(seed)
    pose = np.column_stack(
        [3.0 * np.arange(COUNT), rng.normal(0, 2, COUNT), rng.normal(0, 1, COUNT)]
    )
    station, to, covariance = [], [], []
    for i in range(COUNT):
        for j in range(i + 1, min(i + 3, COUNT)):
            if any(i < place <= j for place in cut):
                continue
            own = np.diag([1e-6, 1e-6, 1e-7])
            if any(i < place <= j for place in sliding):
                # Along the plan's x, in the frame of the first station.
                way = np.array([np.cos(pose[i, 2]), np.sin(pose[i, 2])])
                own[:2, :2] += 100.0 * np.outer(way, way)
            station.append(i)
            to.append(j)
            covariance.append(own)
    ties = RelativePoses(station, to, between(pose[station], pose[to]), np.array(covariance))
    names = tuple(f"S{k}" for k in range(COUNT))
    return Unknowns(names, pose[:, :2], pose[:, 2]), Observations(relative_poses=ties)


def ranges(*places):
    return [list(range(a, b)) for a, b in zip((0, *places), (*places, COUNT))]


def test_a_long_chain_is_one_part():
    unknowns, observations = tied(1)
    assert rigid_parts(unknowns, observations, observations.all_used()) == ranges()


@settings(max_examples=15, deadline=None)
@given(
    st.lists(st.integers(3, COUNT - 3), max_size=4, unique=True),
    st.lists(st.integers(3, COUNT - 3), max_size=3, unique=True),
    st.integers(0, 99),
)
def test_many_stations_fall_into_the_same_parts_as_by_all_eigenvalues(cut, sliding, seed):
    unknowns, observations = tied(seed, cut, sliding)
    used = observations.all_used()
    found = rigid_parts(unknowns, observations, used)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(network_rigid, "FEW_UNKNOWNS", 10**6)
        assert rigid_parts(unknowns, observations, used) == found
    assert sorted(s for part in found for s in part) == list(range(COUNT))


def test_what_slides_or_is_not_tied_is_a_part_of_its_own():
    unknowns, observations = tied(2, cut=(20, 50), sliding=(70,))
    assert rigid_parts(unknowns, observations, observations.all_used()) == ranges(20, 50, 70)
