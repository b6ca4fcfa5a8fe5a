# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether walls are rougher than stated, told by pairs of captures that look sure."""

from itertools import combinations

import numpy as np
import pytest
from roomtie.processing.captures.model import Survey
from roomtie.processing.stations.connect_judge import Judge
from roomtie.processing.stations.connect_merge import Merger
from roomtie.processing.stations.connect_scatter import FEWEST_TOLD, scatter_of
from roomtie.processing.stations.connect_series import Series
from roomtie.processing.stations.matching import match
from simulated import capture_of
from surveyed import prepared
from test_connect_series import room
from test_systematics import spoiled

STAND = ((1.2, 1.4, 0.4), (2.2, 1.1, -1.0), (1.7, 2.9, 2.0), (4.1, 1.2, 0.9))


def merged(*off_m, **errors):
    """A merger that knows how captures lie, each from a place of its own, of a room with its walls
    there and the readings of an instrument with such errors; and its hypotheses."""
    captures = []
    for k, (off, (x, y, turn)) in enumerate(zip(off_m, STAND)):
        capture, _ = capture_of(
            room(off), (x, y), turn, rng=np.random.default_rng(k), station=f"S{k}"
        )
        captures.append(spoiled(capture, **errors))
    groups, views, level = prepared(Survey(tuple(captures)))
    found = {(i, j): match(views[i], views[j]) for i, j in combinations(range(len(views)), 2)}
    merger = Merger(views, groups, level, Judge.of(views, groups, level))
    merger.add(found.items())
    return merger, {pair: h for pair, h in found.items() if len(h)}


def test_a_good_instrument_has_no_scatter():
    merger, found = merged(0.0, 0.0, 0.0)
    assert scatter_of(merger.views, found) == (1.0, 3) and merger.scatter == 1.0


@pytest.mark.parametrize("captures", [2, 4])
def test_what_an_instrument_has_in_all_its_captures_is_told_by_one_pair_or_more(captures):
    merger, found = merged(*[0.0] * captures, zero_m=0.006, eccentricity_m=0.004)
    factor, told = scatter_of(merger.views, found)
    assert told == captures * (captures - 1) / 2
    assert merger.scatter == factor > 1.25


def test_what_is_known_already_is_not_told_anew():
    """Between two groups there may be wrong pairs only."""
    merger, found = merged(0.0, 0.0, zero_m=0.006, eccentricity_m=0.004)
    known = Merger(merger.views, merger.groups, merger.level, merger.judge, 1.0)
    known.add(found.items())
    assert merger.scatter > 1.25 and known.scatter == 1.0


def test_two_pairs_of_two_rooms_beside_one_of_one_room_make_no_scatter():
    """They agree badly, and the one well: it alone tells how good the instrument is."""
    merger, found = merged(0.0, 0.0, 0.03)
    values = [scatter_of(merger.views, {pair: h}) for pair, h in found.items()]
    assert [value for value, _ in values].count(1.0) == 1 and len(values) == 3
    assert scatter_of(merger.views, found) == (1.0, 3)


def test_a_few_pairs_of_bare_rooms_of_one_series_make_no_scatter():
    """Walls that agree badly are two rooms' there, of which nothing else tells."""
    merger, found = merged(0.0, 0.012)
    factor, told = scatter_of(merger.views, found)
    assert factor > 1.25 and told < FEWEST_TOLD
    merger._weigher.series = Series.BARE
    merger.add(found.items())
    assert merger.scatter == 1.0
