# SPDX-License-Identifier: GPL-2.0-or-later
"""Files that look like those described are recognised, others are not."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from profiles import described, kept, ring_text
from roomtie.processing.captures.profile_look import can_read, difference, fitting, look_of
from roomtie.processing.captures.sources import HEAD_BYTES as HEAD


def test_the_next_room_looks_the_same():
    profile = kept(ring_text())
    for count, half in ((200, (4000.0, 2500.0)), (1600, (1200.0, 900.0)), (201, (2e3, 8e3))):
        assert difference(ring_text(count=count, half=half), profile) == ""


@settings(max_examples=25, deadline=None)
@given(st.integers(100, 3000), st.floats(1000, 5000), st.floats(1000, 5000))
def test_any_room_of_the_usual_size_looks_the_same(count, a, b):
    assert difference(ring_text(count=count, half=(a, b)), kept(ring_text())) == ""


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (ring_text(turn=360.0), "angles run from 3.6 to 354.6 in the file, from 4 to 394"),
        (ring_text(turn=2 * np.pi), "angles run from"),
        (ring_text(count=100)[: len(ring_text(count=100)) // 2], "angles run from"),
        (ring_text(scale=0.001, decimals=4), "the middle distance is 2.00"),
        (ring_text(scale=0.1), "the middle distance is 200.25 in the file, 2002.5 in"),
        (ring_text(decimals=0), "column 3 is integer in the file, decimal in the profile"),
        (ring_text().replace(b"Hz", b"V"), "a column is called 'v' in the file, 'hz' in the"),
        (ring_text().replace(b"Hz;Dist", b"Dist;Hz"), "called 'dist' in the file"),
        (ring_text().replace(b";", b"\t"), "has 4 columns and the file has not"),
        (ring_text().replace(b";5", b";1;5"), "has 4 columns and the file has not"),
        (ring_text().replace(b",", b"."), "is text in the file"),
        (b"", "has 4 columns and the file has not"),
        (b"\x00\x01" + ring_text(), "has 4 columns and the file has not"),
        (b"title\nNo;Hz;Dist;Signal\n", "has 4 columns and the file has not"),
    ],
)
def test_another_look_is_told_apart(data, said):
    assert said in difference(data, kept(ring_text()))


def test_a_bad_line_hides_no_look():
    data = ring_text().replace(b"2,000;", b"east;", 1).replace(b"\n9;", b"\n9", 1)
    assert difference(data, kept(ring_text())) == ""


def test_blank_and_marked_distances_do_not_change_the_look():
    data = ring_text()
    lines = data.split(b"\n")
    for i in range(5, 60):
        cells = lines[i].split(b";")
        cells[2] = (b"-1", b"9999", b"")[i % 3]
        lines[i] = b";".join(cells)
    assert difference(b"\n".join(lines), kept(data)) == ""


def test_without_a_look_nothing_is_recognised():
    assert "does not say how" in difference(ring_text(), described())
    assert fitting(ring_text(), [described()]) == []


def test_a_part_of_a_long_file_is_enough():
    data = ring_text(count=20_000)
    assert len(data) > 4 * HEAD
    profile = kept(data)
    assert profile.look == look_of(data[:HEAD], profile)
    assert difference(data[:HEAD], profile) == ""


def test_profiles_that_read_alike_count_once_and_others_each():
    data = ring_text()
    a, b = kept(data, name="a"), kept(data, name="b")
    assert fitting(data, [b, a]) == [a]
    other = replace(kept(data, name="c"), rotation="clockwise")
    assert fitting(data, [other, b, a]) == [a, other]


def test_what_has_no_numbers_in_the_places_cannot_be_read():
    profile = described()
    assert can_read(ring_text(), profile)
    assert not can_read(b"Read me first.\nThen measure; or not.", profile)
    assert not can_read(b"P1;east;north;1\nP2;a;b;2", profile)
    assert not can_read(b"\x00" * 100, profile)
