# SPDX-License-Identifier: GPL-2.0-or-later
"""New captures beside those of an earlier survey."""

from dataclasses import replace
from datetime import datetime, timezone

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.joined import Retaken, join
from roomtie.processing.captures.model import Flag, KnownPoint, Survey
from simulated import ring_of


def whole(joined):
    """All captures, those kept aside too."""
    return replace(joined.survey, captures=(*joined.survey.captures, *joined.aside))


def capture(station, seed, day=None, n=8):
    distance = np.random.default_rng(seed).uniform(1.0, 5.0, n)
    ring = ring_of(
        np.linspace(0.0, 350.0, n),
        distance,
        station=station,
        capture_file=f"{station}.csv",
        captured_at=None if day is None else datetime(2026, 5, day, tzinfo=timezone.utc),
    )
    return ring.with_flags(np.arange(n) == 2, Flag.MIXED)


def test_new_captures_follow_the_earlier_ones():
    both = join(
        Survey((capture("A", 1), capture("B", 2)), warnings=("w",), digests={"a.csv": "1"}),
        Survey((capture("C", 3),), warnings=("w", "v"), digests={"c.csv": "3"}),
    )
    assert both.survey.names == ("A", "B", "C")
    assert both.earlier == ("A", "B") and both.new == ("C",)
    assert both.survey.warnings == ("w", "v")
    assert dict(both.survey.digests) == {"a.csv": "1", "c.csv": "3"}
    assert both.sentences() == []


def test_the_same_readings_are_not_taken_twice_under_any_name():
    first = Survey((capture("A", 1), capture("B", 2)))
    again = replace(capture("B", 2), station="B copied")
    both = join(first, Survey((capture("A", 1), again, capture("C", 3))))
    assert both.survey.names == ("A", "B", "C")
    assert both.known == ("A", "B copied")
    assert "A and B copied" in both.sentences()[0]


def test_a_later_capture_replaces_the_earlier_one_which_is_kept():
    first = Survey((capture("A", 1, day=1), capture("B", 2, day=1)))
    both = join(first, Survey((capture("A", 9, day=2),)))
    assert both.survey.names == ("A", "B")
    (kept,) = both.aside
    assert kept.station == "A (earlier)"
    assert np.array_equal(kept.slope_distance_m, capture("A", 1).slope_distance_m)
    # What was flagged before keeps its reason.
    assert kept.flag.tolist() == [13, 13, int(Flag.MIXED), 13, 13, 13, 13, 13]
    assert both.earlier == ("B",) and both.new == ("A",)
    assert dict(both.put_aside) == {"A (earlier)": "A"}
    assert "2026-05-02" in both.sentences()[0] and "kept as A (earlier)" in both.sentences()[0]
    # And once more: nothing is lost, and the old ones stay out of it.
    third = join(whole(both), Survey((capture("A", 8, day=3),)))
    assert third.survey.names == ("A", "B")
    assert whole(third).names == ("A", "B", "A (earlier)", "A (earlier 2)")
    assert third.earlier == ("B",)


def test_a_capture_without_a_usable_reading_stays_aside_too():
    first = capture("A", 1)
    spoilt = replace(first, flag=np.full(len(first), int(Flag.TILTED)))
    both = join(Survey((spoilt,)), Survey((capture("A", 9),)))
    assert both.aside[0].flag.tolist() == [int(Flag.TILTED)] * len(first)
    again = join(whole(both), None)
    assert again.survey.names == ("A",) and whole(again).names == ("A", "A (earlier)")


def test_an_older_capture_does_not_replace_a_newer_one():
    both = join(Survey((capture("A", 1, day=5),)), Survey((capture("A", 9, day=2),)))
    assert whole(both).names == ("A", "A (earlier)")
    assert np.array_equal(
        both.survey.captures[0].slope_distance_m, capture("A", 1).slope_distance_m
    )
    assert both.earlier == ("A",) and both.new == () and dict(both.put_aside) == {}


def test_both_can_be_used():
    both = join(Survey((capture("A", 1),)), Survey((capture("A", 9),)), Retaken.BOTH)
    assert both.survey.names == ("A", "A (2)")
    assert both.survey.captures[1].usable.sum() == 7
    assert both.earlier == ("A",) and both.new == ("A (2)",)
    assert "called A (2)" in both.sentences()[0]


def test_of_a_point_given_twice_the_new_coordinates_count():
    old, new = KnownPoint("T1", 1.0, 2.0), KnownPoint("T1", 1.5, 2.5)
    other = KnownPoint("T2", 0.0, 0.0)
    both = join(
        Survey((capture("A", 1),), known_points=(old, other)),
        Survey((capture("B", 2),), known_points=(new,)),
    )
    first, second = both.survey.known_points
    assert first is other and second is new


names = st.lists(st.sampled_from("ABCDE"), unique=True, min_size=1)


@given(names, names, st.sampled_from(Retaken), st.integers(0, 3))
def test_no_reading_is_lost_and_names_are_unique(old, new, retaken, alike):
    earlier = Survey(tuple(capture(name, ord(name)) for name in old))
    more = Survey(
        tuple(capture(name, ord(name) + (0 if k < alike else 50)) for k, name in enumerate(new))
    )
    both = join(earlier, more, retaken)
    assert len(set(whole(both).names)) == len(whole(both))
    rings = {c.slope_distance_m.tobytes() for c in (*earlier.captures, *more.captures)}
    assert {c.slope_distance_m.tobytes() for c in whole(both).captures} == rings
    used = [c for c in whole(both).captures if c.usable.any()]
    assert [c.station for c in used] == list(both.survey.names)
    if retaken is Retaken.REPLACED:
        assert {c.station for c in used} == {*old, *(n for n in new if n not in both.known)}
