# SPDX-License-Identifier: GPL-2.0-or-later
"""What a profile may hold, and profiles as JSON."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from profiles import COMMON, described, kept, ring_text
from roomtie.processing.captures.profile import Profile
from roomtie.processing.captures.profile_json import LARGEST, profile_from_json, profile_to_json
from roomtie.processing.errors import SurveyError


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "name is ''"),
        ({"name": "a/b"}, "without slashes"),
        ({"name": "x" * 81}, "up to 80 letters"),
        ({"name": "two\nlines"}, "line breaks"),
        ({"columns": ("angle",)}, "1 columns; expected 2 to 200"),
        ({"columns": ("angle",) * 201}, "201 columns"),
        ({"columns": ("angle", "")}, "no column holds the distance"),
        ({"columns": ("angle", "distance", "angle")}, "two columns hold the angle"),
        ({"columns": ("angle", "distance", "speed")}, "holds 'speed'; expected one of angle,"),
        ({"columns": ("angle", "distance", "kind")}, "holds the kind, but none the target"),
        ({"columns": ("angle", "distance", "zenith", "elevation")}, "zenith and the elevation"),
        ({"angle_unit": "mil"}, "angle unit is 'mil'; expected one of deg, gon, rad"),
        ({"distance_unit": "km"}, "distance unit is 'km'"),
        ({"rotation": "left"}, "rotation is 'left'"),
        ({"separator": "|"}, "separator is '|'"),
        ({"encoding": "utf-7"}, "encoding is 'utf-7'"),
        ({"separator": "comma"}, "decimal comma cannot be told"),
        ({"skip_lines": -1}, "-1 lines are skipped"),
        ({"skip_lines": 10_001}, "10001 lines are skipped"),
        ({"comment_sign": "a"}, "comment sign is 'a'"),
        ({"comment_sign": "####"}, "up to three signs"),
        ({"angle_zero_deg": float("nan")}, "zero is nan degrees"),
        ({"angle_zero_deg": 361.0}, "zero is 361 degrees; expected -360 to 360"),
        ({"distance_zero_mm": float("inf")}, "zero is inf mm"),
        ({"no_return": ("",)}, "'' means no return"),
        ({"no_return": ("x" * 41,)}, "up to 40 letters"),
        ({"no_return": ("1",) * 21}, "21 values mean no return"),
    ],
)
def test_values_that_mean_nothing_are_named(changes, said):
    with pytest.raises(SurveyError) as error:
        described(**changes)
    assert said in str(error.value)
    assert str(error.value).count("\n") == 0


numbers = st.floats(-360, 360)
profiles = st.builds(
    Profile,
    name=st.text(st.characters(blacklist_characters="/\\"), min_size=1, max_size=80).filter(
        lambda name: name.isprintable() and name == name.strip() and name
    ),
    columns=st.permutations(["angle", "distance", "zenith", "intensity", "station", ""]).map(tuple),
    angle_unit=st.sampled_from(["deg", "gon", "rad"]),
    distance_unit=st.sampled_from(["m", "cm", "mm", "ft", "in"]),
    rotation=st.sampled_from(["clockwise", "counterclockwise"]),
    separator=st.sampled_from(["semicolon", "tab", "white space"]),
    decimal_comma=st.booleans(),
    skip_lines=st.integers(0, 10_000),
    has_names=st.booleans(),
    comment_sign=st.sampled_from(["", "#", "//", "%"]),
    angle_zero_deg=numbers,
    distance_zero_mm=numbers,
    no_return=st.lists(st.sampled_from(["-1", "9999", "none", "NaN"]), unique=True).map(tuple),
    encoding=st.sampled_from(["UTF-8", "Latin-1", "Windows-1252", "UTF-16"]),
)


@settings(max_examples=25, deadline=None)
@given(profiles)
def test_a_profile_comes_back_from_its_json(profile):
    assert profile_from_json(profile_to_json(profile)) == profile


def test_a_look_comes_back_too():
    profile = kept(ring_text())
    assert profile.look is not None
    assert profile_from_json(profile_to_json(profile)) == profile


def changed(**changes) -> str:
    values = json.loads(profile_to_json(described()))
    for key, value in changes.items():
        if value is KeyError:
            del values[key]
        else:
            values[key] = value
    return json.dumps(values)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1: this is no JSON"),
        ("{", "this is no JSON"),
        ("[" * 50_000, "nested too deep"),
        ('{"a": NaN}', "does not allow"),
        ("[]", "but no profile"),
        ('"text"', "but no profile"),
        ("{}", 'expected an object with "schema"'),
        (" " * (LARGEST + 1), "larger than"),
        (changed(version=2), "schema version '2'; expected 1"),
        (changed(version=True), "schema version 'true'"),
        (changed(path="/etc"), "unknown key 'path'"),
        (changed(name=KeyError), "lacks the key name; expected text"),
        (changed(name=3), "name is '3'; expected text"),
        (changed(columns="angle"), "expected a list of texts"),
        (changed(columns=["angle", 2]), "expected a list of texts"),
        (changed(skip_lines=1.5), "skip_lines is '1.5'; expected a whole number"),
        (changed(skip_lines=True), "skip_lines is 'true'"),
        (changed(decimal_comma=1), "decimal_comma is '1'; expected true or false"),
        (changed(angle_zero_deg="0"), "expected a number"),
        (changed(angle_zero_deg=10**400), "expected a number"),
        (changed(distance_unit="mile"), "distance unit is 'mile'"),
        (changed(look=[]), "look is '[]'"),
        (changed(look={"run": 1}), "expected an object with names"),
        (changed(look={"spans": [[1]]}), "expected two numbers or null"),
        (changed(look={"spans": 1}), "expected a list"),
        (changed(look={"contents": ["text"]}), "another number of columns"),
    ],
)
def test_bad_json_is_told_in_one_sentence(text, said):
    with pytest.raises(SurveyError) as error:
        profile_from_json(text, "p.json")
    assert said in str(error.value)
    assert str(error.value).startswith("p.json")
    assert "\n" not in str(error.value)


@given(st.text(max_size=60) | st.binary(max_size=60).map(lambda b: b.decode("latin-1")))
def test_any_text_is_a_profile_or_one_sentence(text):
    with pytest.raises(SurveyError):
        profile_from_json(text)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([*COMMON, "look", "schema", "version"]),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
        max_leaves=5,
    ),
)
def test_any_value_for_any_key_is_taken_or_told(key, value):
    try:
        profile = profile_from_json(changed(**{key: value}))
    except SurveyError as error:
        assert "\n" not in str(error)
    else:
        assert profile_from_json(profile_to_json(profile)) == profile
