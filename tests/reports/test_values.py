# SPDX-License-Identifier: GPL-2.0-or-later
"""Figures as reports write them."""

import math

import pytest
from roomtie.processing.reports.values import azimuth, figure, natural, several


@pytest.mark.parametrize(
    ("value_deg", "digits", "expected"),
    [
        (-1e-7, 4, "0.0000"),
        (359.99999, 4, "0.0000"),
        (359.99994, 4, "359.9999"),
        (-90.0, 3, "270.000"),
        (720.25, 1, "0.2"),
        (-0.04, 1, "0.0"),
        (math.nan, 2, "–"),
    ],
)
def test_azimuths_lie_within_a_full_turn_as_they_are_written(value_deg, digits, expected):
    assert azimuth(math.radians(value_deg), digits) == expected


def test_numbers_have_no_minus_zero_and_say_where_there_is_none():
    assert [figure(v, 1) for v in (-0.04, -1.26, math.inf, math.nan)] == [
        *("0.0", "-1.3", "∞", "–")
    ]


def test_names_are_sorted_by_their_numbers_and_counted():
    assert sorted(["T10", "T2", "C1", "t1"], key=natural) == ["C1", "t1", "T2", "T10"]
    assert sorted(["5²", "5"], key=natural) == ["5", "5²"]
    assert sorted(["9" * 5000, "10"], key=natural) == ["9" * 5000, "10"]
    assert [several(1, "tie"), several(2, "tie")] == ["1 tie", "2 ties"]
    assert several(2, "key", "keys of all") == "2 keys of all"
