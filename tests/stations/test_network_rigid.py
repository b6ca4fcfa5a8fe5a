# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.stations import network_motions
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


@pytest.mark.parametrize("small", [0, COUNT])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_parts_do_not_depend_on_how_they_are_searched(seed, small, monkeypatch):
    unknowns, observations = tied(seed, cut=(8, 40), sliding=(60,))
    monkeypatch.setattr(network_motions, "SMALL", small)
    found = rigid_parts(unknowns, observations, observations.all_used())
    assert found == ranges(8, 40, 60)


def test_what_slides_or_is_not_tied_is_a_part_of_its_own():
    unknowns, observations = tied(2, cut=(20, 50), sliding=(70,))
    assert rigid_parts(unknowns, observations, observations.all_used()) == ranges(20, 50, 70)
