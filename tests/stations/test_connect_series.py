# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_series import Series, series_of
from roomtie.processing.stations.matching import match
from roomtie.processing.stations.overlap import view_of
from simulated import capture_of, loop

STAND = ((1.2, 1.4, 0.4), (2.2, 1.1, -1.0))


OTHER = loop([(0, 0), (4.2, 0), (4.2, 2.6), (1.9, 2.6), (1.9, 3.3), (0, 3.3)])


def room(off_m=0.0):
    """An L-shaped room, two of its walls built elsewhere by this."""
    x, y = 5 + off_m, 4 + off_m
    return loop([(0, 0), (x, 0), (x, 2), (3, 2), (3, y), (0, y)])


def told(*rooms):
    """What is told of captures from the two places in turn, one in each room."""
    views = []
    for k, walls in enumerate(rooms):
        x, y, turn = STAND[k % 2]
        capture, _ = capture_of(walls, (x, y), turn, rng=np.random.default_rng(k))
        views.append(view_of(capture, fit_faces(capture)))
    count = len(views)
    found = {(i, j): match(views[i], views[j]) for j in range(count) for i in range(j)}
    assert any(len(h) for h in found.values())
    return series_of(views, {pair: h for pair, h in found.items() if len(h)}, 1.0)


def test_rooms_of_one_series_are_built_alike():
    """Their walls stand some millimetres elsewhere, which no two captures of one room show."""
    assert told(room(), room(0.012)) == Series.BARE
    assert told(room(), OTHER, room(-0.012)) == Series.BARE


def test_what_stands_in_rooms_of_one_series_tells_them_apart():
    def furnished(walls, x, y):
        return np.concatenate(
            [walls, loop([(x, y), (x, y + 0.7), (x + 0.9, y + 0.7), (x + 0.9, y)])]
        )

    near, far = furnished(room(), 1.7, 2.5), furnished(room(0.012), 3.4, 0.3)
    assert told(near, far) == Series.FURNISHED


def test_captures_of_one_room_are_not():
    for _ in range(3):
        assert not told(room(), room())
    assert not told(room(), room(), room(), room())


def test_rooms_that_differ_are_not():
    assert not told(room(), OTHER)
    assert series_of([], {}, 1.0) == Series.NONE
