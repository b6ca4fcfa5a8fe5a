# SPDX-License-Identifier: GPL-2.0-or-later
"""Walls in one plane on both sides of a gap: one line behind a cupboard, two where a wall stands
across."""

import numpy as np
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.walls.faces import find_walls
from simulated import capture_of, loop
from simulated_walls import network_of


def lines_to_the_north(corners, stands, seed, extra=()):
    """The lines, as pairs of centre and normal, of the wall faces that look south at y = 3."""
    rng = np.random.default_rng(seed)
    segments = np.concatenate([loop(corners), np.reshape(np.array(extra, dtype=float), (-1, 2, 2))])
    names = [f"S{k}" for k in range(len(stands))]
    seen = [
        capture_of(segments, np.array(at), 0.3, rng=rng, station=name, readings=1600)[0]
        for at, name in zip(stands, names)
    ]
    network = network_of(names, np.array(stands), np.full(len(stands), 0.3))
    walls, _ = find_walls(Survey(tuple(seen)), [fit_faces(capture) for capture in seen], network)
    north = (walls.normal[:, 1] < -0.99) & (np.abs(walls.centre_m[:, 1] - 3.0) < 0.05)
    return [(*walls.centre_m[w], walls.normal_rad[w]) for w in np.flatnonzero(north)]


def test_walls_of_two_rooms_keep_their_lines_though_readings_cannot_tell_them_apart():
    # a partition of 12 cm with a doorway; half a millimetre and a hundredth of a degree differ
    rooms = [
        *[(0, 0), (4, 0), (4, 1), (4.12, 1), (4.12, 0), (8, 0)],
        *[(8, 3.001), (4.12, 3.0005), (4.12, 1.9), (4, 1.9), (4, 3), (0, 3)],
    ]
    for seed in range(5):
        lines = lines_to_the_north(rooms, [(1.6, 1.4), (6.4, 1.5)], seed)
        assert len(set(lines)) == 2


def test_a_wall_goes_on_in_one_line_behind_a_cupboard():
    room = [(0, 0), (6, 0), (6, 3), (0, 3)]
    cupboard = loop([(2.5, 2.98), (2.5, 2.4), (3.6, 2.4), (3.6, 2.98)])
    for seed in range(5):
        lines = lines_to_the_north(room, [(1.0, 1.0), (5.0, 1.0)], seed, cupboard)
        assert lines and len(set(lines)) == 1
