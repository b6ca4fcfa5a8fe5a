# SPDX-License-Identifier: GPL-2.0-or-later
"""Profiles of fields there and back, and identifiers proposed."""

import pytest
from roomtie.processing.building.field_profile import (
    FieldProfile,
    profile_from_json,
    profile_to_json,
)
from roomtie.processing.building.model import Change, room_set
from roomtie.processing.building.naming import proposed
from roomtie.processing.errors import SurveyError
from shapely.geometry import box


def test_there_and_back():
    profile = FieldProfile(id="nummer", level="geschoss", levels={"EG": 0, "1. OG": 1})
    assert profile_from_json(profile_to_json(profile), "PROFILE") == profile
    assert (profile.level_of("EG", ""), profile.level_of(2.0, "")) == (0, 2)
    assert (profile.level_text(1), profile.level_text(4)) == ("1. OG", "4")
    with pytest.raises(SurveyError, match=r"Room 7: the storey is 'UG'.*\(EG, 1\. OG\)"):
        profile.level_of("UG", "Room 7")
    for value in (float("nan"), float("inf"), "1e400", 1e9, 0.5):
        with pytest.raises(SurveyError, match="expected a whole number"):
            profile.level_of(value, "Room 7")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x", "no JSON"),
        ("[]", "no profile"),
        ('{"schema": "roomtie-building-layer", "version": 2}', "another version"),
        ('{"schema": "roomtie-building-layer", "version": 1, "colour": "red"}', "colour"),
        ('{"schema": "roomtie-building-layer", "version": 1, "levels": {"a": "b"}}', "levels is"),
    ],
)
def test_what_is_no_profile_is_told(text, said):
    with pytest.raises(SurveyError, match=said):
        profile_from_json(text, "PROFILE")


def test_identifiers_proposed_are_free():
    old = room_set(["12", "12-2"], [box(0, 0, 1, 1)] * 2, [0, 0], 0.01)
    new = room_set(["n"], [box(0, 0, 1, 1)], [0], 0.01, name=["12"])
    changes = [
        Change("split", "replace", 1, 0, 0),
        Change("split", "insert", 1, 0, 0),
        Change("new", "insert", 2, -1, 0),
    ]
    assert proposed(changes, old, new, {"12", "12-2"}, False) == ["", "12-3", "12-4"]
    assert proposed(changes, old, new, {"7", "12"}, True) == ["", "13", "14"]
    # Signs that look like digits, and are no numbers to Python.
    assert proposed(changes, old, new, {"7", "9²", "--8", "-3"}, True) == ["", "8", "9"]
