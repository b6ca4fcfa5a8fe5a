# SPDX-License-Identifier: GPL-2.0-or-later
"""Which faces are one wall: the search among neighbours against all pairs, and its memory."""

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.walls.matching import ONE_WALL, grouped, misfits, touching_pairs
from roomtie.processing.walls.planes import in_plan
from simulated_rooms import network_of, storey, survey_of


@pytest.fixture(scope="module")
def seen():
    rng = np.random.default_rng(5)
    plan = storey(rng, 3, 2)
    survey, orientation = survey_of(plan, rng)
    sigma = np.tile([0.001, 0.001, 0.0002], len(survey))
    network = network_of(survey, plan.stations_m, orientation, np.diag(sigma**2))
    return in_plan(survey, [fit_faces(capture) for capture in survey.captures], network)


def test_neighbours_are_all_that_touch(seen):
    i, j = np.triu_indices(len(seen), 1)
    chi, touching = misfits(seen, i, j)
    expected = touching & (chi < ONE_WALL)
    found = touching_pairs(seen)
    assert expected.sum() > 20
    assert np.array_equal(found[0], i[expected]) and np.array_equal(found[1], j[expected])
    assert found[2] == pytest.approx(chi[expected], rel=1e-12)


def test_every_two_of_a_group_are_one_wall(seen):
    groups = grouped(seen, touching_pairs(seen))
    assert sorted(np.concatenate(groups).tolist()) == list(range(len(seen)))
    for group in groups:
        i, j = (group[k] for k in np.triu_indices(len(group), 1))
        assert (misfits(seen, i, j)[0] < ONE_WALL).all()


def copies(seen, count):
    """The same faces so many times, a hundred metres apart."""
    rows = {
        name: np.tile(getattr(seen, name), (count,) + (1,) * (getattr(seen, name).ndim - 1))
        for name in ("capture", "face", "level", "network", "normal_rad", "own", "span_m", "end")
    }
    shift = 100.0 * np.repeat(np.arange(count), len(seen))[:, None] * [1.0, 0.0]
    centre = np.tile(seen.centre_m, (count, 1)) + shift
    return replace(seen, centre_m=centre, readings=np.tile(seen.readings, count), **rows)


def test_memory_grows_with_the_faces_not_with_their_square(seen):
    """All pairs of 5,000 faces would take 200 MB; ten times the faces take ten times the memory,
    and the same walls come out of every copy."""
    many = copies(seen, 5000 // len(seen))
    tracemalloc.start()
    pairs = touching_pairs(many)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40e6
    assert len(pairs[0]) == len(touching_pairs(seen)[0]) * (len(many) // len(seen))
