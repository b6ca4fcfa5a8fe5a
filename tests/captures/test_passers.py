# SPDX-License-Identifier: GPL-2.0-or-later
"""A person before the walls in one of two sweeps."""

from dataclasses import replace

import numpy as np
from checked import checked
from roomtie.processing.captures.model import Flag
from simulated_faults import room, there_and_back, with_person

HALF = 400


def case(seed, sweeps=(True, False)):
    rng = np.random.default_rng(seed)
    walls, origin = room(rng)
    capture = there_and_back(walls, origin, (0, 0), rng, HALF, lag_deg=2.0 * (seed % 2))
    there = np.repeat(sweeps, HALF)
    return with_person(capture, there, rng.uniform(0, 360), rng.uniform(0.6, 1.6))


def test_a_person_in_one_sweep_is_flagged():
    """Over 60 captures 0.89 of the readings on the person, and no other."""
    on = found = wrong = 0
    for seed in range(6):
        capture, person = case(seed)
        marked = checked(capture).flag == Flag.PASSER_BY
        on, found = on + person.sum(), found + (marked & person).sum()
        wrong += (marked & ~person).sum()
    assert on > 80
    assert found >= 0.75 * on
    assert wrong == 0


def test_the_second_sweep_is_looked_at_as_well():
    capture, person = case(4, (False, True))
    marked = checked(capture).flag == Flag.PASSER_BY
    assert marked[person].mean() > 0.75


def test_what_both_sweeps_see_is_a_column():
    for seed in range(3):
        capture, _ = case(seed, (True, True))
        assert not (checked(capture).flag == Flag.PASSER_BY).any()


def test_within_one_sweep_nothing_is_told():
    rng = np.random.default_rng(3)
    walls, origin = room(rng)
    capture = there_and_back(walls, origin, (0, 0), rng, HALF)
    capture, person = with_person(capture, np.ones(len(capture), dtype=bool), 80.0, 0.8)
    one = {
        name: getattr(capture, name)[:HALF]
        for name in (
            *("seq", "angle_deg", "zenith_deg", "slope_distance_m", "distance_m"),
            *("kind", "target", "intensity", "flag", "line"),
        )
    }
    assert person[:HALF].any()
    assert not (checked(replace(capture, **one)).flag == Flag.PASSER_BY).any()


def test_the_remark_says_where():
    capture, person = case(4)
    (remark,) = [r for r in checked(capture).remarks if r.check == "passer-by"]
    angle = np.radians(capture.angle_deg[person])
    middle = np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())) % 360
    assert f"at {middle:.0f} deg" in remark.sentence
