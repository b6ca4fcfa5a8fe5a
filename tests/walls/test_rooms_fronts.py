# SPDX-License-Identifier: GPL-2.0-or-later
"""Stretches of boundaries that beams got past."""

from __future__ import annotations

import numpy as np
import pytest
from roomtie.processing.captures.model import Survey
from roomtie.processing.walls.free_space import FreeSpace
from roomtie.processing.walls.free_space_star import star_of
from roomtie.processing.walls.rooms_fronts import fronts
from shapely.geometry import box as rectangle
from simulated import capture_of, loop
from simulated_rooms import box, network_of

STATION = (3.0, 1.2)
NONE = np.empty((0, 2))


def fronts_of(outline, *furniture, backed_m=1.45, closed=NONE):
    """The fronts on the left side of a room of 4 m by 1.6 m, of which so much was seen."""
    room = loop([(0.0, 0.0), (4.0, 0.0), (4.0, 1.6), (0.0, 1.6)])
    capture, _ = capture_of(np.concatenate([room, *furniture]), STATION, readings=3600)
    network = network_of(Survey((capture,)), [STATION], [0.0])
    free = FreeSpace((star_of(capture, network, 0, np.zeros(len(capture), dtype=np.int64)),))
    sides = np.asarray(outline.exterior.coords)
    left = np.abs(np.stack([sides[:-1, 0], sides[1:, 0]]) - outline.bounds[0]).max(axis=0) < 1e-9
    # the other sides were seen over more than furniture is long
    long = np.array([[0.0, 3.0]])
    backed = [np.array([[0.0, backed_m]]) if own else long for own in left]
    return fronts(outline, backed, [closed if own else NONE for own in left], free)


def test_beams_past_a_cupboard_at_the_end_of_a_corridor_tell_how_deep_it_may_be():
    """A slot of 10 cm beside it leads to the wall 0.35 m behind its front."""
    ((length, deep),) = fronts_of(rectangle(0.35, 0, 4, 1.6), box(0.02, 0.0, 0.35, 1.5))
    assert length == pytest.approx(1.6)
    # the beams cross the line of the front aslant, 2 mm a sample
    assert 0.25 < deep <= 0.35 + 1e-6


@pytest.mark.parametrize(
    ("outline", "more"),
    [
        # nobody got past its wall
        (rectangle(0, 0, 4, 1.6), {}),
        # its slot lies in an opening: a doorway, or a window
        (rectangle(0.35, 0, 4, 1.6), {"closed": np.array([[0.0, 0.15]])}),
        # what was seen in one line over so much is a wall
        (rectangle(0.35, 0, 4, 1.6), {"backed_m": 2.6}),
    ],
)
def test_what_is_no_front(outline, more):
    furniture = [] if outline.bounds[0] == 0.0 else [box(0.02, 0.0, 0.35, 1.5)]
    assert fronts_of(outline, *furniture, **more) == []
