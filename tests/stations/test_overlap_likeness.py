# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.overlap_likeness import likeness
from simulated import capture_of, loop


def faces_in(walls, at, turn, seed):
    return fit_faces(capture_of(walls, at, turn, rng=np.random.default_rng(seed))[0])


@pytest.fixture(scope="module")
def rooms():
    """Three captures each of ten rooms of other sizes, from other places and other ways round."""
    rng, found = np.random.default_rng(5), []
    for room in range(10):
        w, h = rng.uniform(3, 7, 2)
        x, y = rng.uniform(0.8, 1.6, 2)
        walls = loop([(0, 0), (w, 0), (w, h - y), (w - x, h - y), (w - x, h), (0, h)])
        for k in range(3):
            at = rng.uniform(0.6, (w - x - 0.2, h - y - 0.2))
            found.append(faces_in(walls, at, rng.uniform(-np.pi, np.pi), 10 * room + k))
    return found


def test_captures_of_one_room_are_the_most_alike(rooms):
    alike = likeness(rooms)
    assert np.allclose(alike, alike.T) and not np.diag(alike).any()
    best = np.argsort(-alike, axis=1)[:, :2]
    assert np.mean(best // 3 == np.arange(30)[:, None] // 3) > 0.9


def test_the_order_of_the_captures_does_not_matter(rooms):
    order = np.random.default_rng(1).permutation(len(rooms))
    alike = likeness([rooms[k] for k in order])
    assert np.allclose(alike, likeness(rooms)[np.ix_(order, order)])


def test_captures_without_walls_are_like_none(rooms):
    alike = likeness([no_faces(100), *rooms[:3]])
    assert not alike[0].any() and np.isfinite(alike).all() and alike[1, 2] > 0
    assert likeness([]).shape == (0, 0)
