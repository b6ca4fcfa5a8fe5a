# SPDX-License-Identifier: GPL-2.0-or-later
"""Panes and mirrors put into known rooms, and the openings that they must not be taken for."""

import numpy as np
import pytest
from roomtie.processing.captures.checks import check_capture
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag
from roomtie.processing.captures.noise import noise_in
from simulated import capture_of
from simulated_faults import before_doorway, before_mirror, before_pane, room

RUNS = 6


def checked(capture):
    capture = flag_readings(capture)
    (noise,) = noise_in([capture])
    return check_capture(capture, noise)


def outcome(make, flag):
    """Of how many captures with ten affected readings or more most of these are flagged, how many
    there are, and how many of all have the flag on a reading that is not affected."""
    found = there = wrong = 0
    for seed in range(RUNS):
        capture, affected = make(np.random.default_rng(seed))[:2]
        marked = checked(capture).flag == flag
        wrong += bool((marked & ~affected).any())
        if affected.sum() >= 10:
            there += 1
            found += marked[affected].sum() > 0.5 * affected.sum()
    return found, there, wrong


@pytest.mark.parametrize(("returned", "share"), [(0.3, 0.7), (0.7, 0.8)])
def test_a_pane_that_sends_some_beams_back(returned, share):
    """Over 60 captures 0.92 (a third comes back) to 0.97; 0.30 where a tenth does."""
    found, there, wrong = outcome(lambda rng: before_pane(rng, returned), Flag.THROUGH_GLASS)
    assert found >= share * there
    assert wrong == 0


def test_a_pane_in_its_reveal():
    found, there, wrong = outcome(lambda rng: before_pane(rng, 0.4, 0.1), Flag.THROUGH_GLASS)
    assert found >= 0.5 * there
    assert wrong == 0


def test_a_pane_that_sends_nothing_back_looks_like_a_doorway():
    found, _, wrong = outcome(lambda rng: before_pane(rng, 0.0), Flag.THROUGH_GLASS)
    assert found == wrong == 0


def test_a_mirror_shows_the_room_before_it():
    """Over 60 captures 0.82."""
    found, there, wrong = outcome(before_mirror, Flag.REFLECTION)
    assert found >= 0.6 * there
    assert wrong == 0


@pytest.mark.parametrize("like", [False, True], ids=["another room", "the room's own image"])
def test_an_open_doorway_is_neither(like):
    """The hardest doorway leads into a room that mirrors this one, a wall's thickness away."""
    for seed in range(RUNS):
        capture, _ = before_doorway(np.random.default_rng(seed), like)
        flags = checked(capture).flag
        assert not np.isin(flags, [Flag.REFLECTION, Flag.THROUGH_GLASS]).any()


def test_stray_returns_before_and_behind_a_wall_are_no_pane():
    for seed in (70, 75, 1, 2, 3):
        rng = np.random.default_rng(seed)
        walls, origin = room(rng)
        capture, _ = capture_of(walls, origin, rng.uniform(0, 6), rng=rng, outliers=0.03)
        found = checked(capture)
        assert not np.isin(found.flag, [Flag.REFLECTION, Flag.THROUGH_GLASS]).any()


def test_the_remark_says_where_and_how_many():
    found = checked(before_pane(np.random.default_rng(1), 0.5)[0])
    (remark,) = [remark for remark in found.remarks if remark.check == "glass"]
    count = int((found.flag == Flag.THROUGH_GLASS).sum())
    assert f"the {count} readings behind it are flagged" in remark.sentence
    assert not remark.again
