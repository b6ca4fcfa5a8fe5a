# SPDX-License-Identifier: GPL-2.0-or-later
"""First guesses at unmarked text files, and that no content upsets guess or look."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from profiles import described, kept, ring_text, room_mm
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.model import Kind
from roomtie.processing.captures.profile_guess import guess_profile
from roomtie.processing.captures.profile_look import can_read, difference, look_of
from roomtie.processing.captures.profiled_text import is_unmarked, read_profiled_text, says_nothing

SIGN = {"comma": ",", "semicolon": ";", "tab": "\t", "white space": "   "}
TURN = {"deg": 360.0, "gon": 400.0, "rad": 2 * np.pi}
SIZE = {"m": 0.001, "cm": 0.1, "mm": 1.0}


@pytest.mark.parametrize("separator", SIGN)
@pytest.mark.parametrize("angle_unit", TURN)
@pytest.mark.parametrize("distance_unit", SIZE)
@pytest.mark.parametrize("comma", [False, True])
def test_a_ring_is_guessed_in_any_layout(separator, angle_unit, distance_unit, comma):
    if comma and separator == "comma":
        return
    gon = np.arange(0, 400, 2.0)
    lines = []
    for angle, distance in zip(gon, room_mm(gon)):
        row = [f"{angle * TURN[angle_unit] / 400:.4f}", f"{distance * SIZE[distance_unit]:.3f}"]
        lines.append(SIGN[separator].join(cell.replace(".", "," if comma else ".") for cell in row))
    guess = guess_profile("\n".join(lines).encode())
    assert guess.columns == ("angle", "distance")
    assert (guess.separator, guess.decimal_comma) == (separator, comma)
    assert (guess.angle_unit, guess.distance_unit) == (angle_unit, distance_unit)
    assert (guess.has_names, guess.skip_lines) == (False, 0)


def test_title_names_and_no_return_are_seen():
    data = ring_text().replace(b";1500,7;", b";-1;", 1)
    guess = guess_profile(data, "levelled head, gon")
    assert guess.columns == ("", "angle", "distance", "intensity")
    assert (guess.skip_lines, guess.has_names) == (1, True)
    assert guess.no_return == ("-1",)


def test_rows_without_a_return_at_the_top_are_rows():
    lines = ring_text().split(b"\n")
    for i in range(2, 9):
        lines[i] = b";" + lines[i].split(b";")[1] + b";;"
    guess = guess_profile(b"\n".join(lines))
    assert (guess.skip_lines, guess.has_names) == (1, True)


@pytest.mark.parametrize(
    ("folder", "unit"), [("flat-six-stations", "cm"), ("office-floor-scans", "m")]
)
def test_real_captures_without_their_header_are_described_once_for_all(shared_data, folder, unit):
    """The real recordings, stripped of all that says what they are: the first one described, the
    others are recognised, and read as they are with their headers."""
    profile = None
    for path in sorted(shared_data(folder).glob("*.csv"))[:20]:
        marked = path.read_text("utf-8").split("\n")
        bare = [line.replace("angle,distance", "Hz,D") for line in marked if line[:1] != "#"]
        data = "\n".join(bare).encode()
        if profile is None:
            profile = replace(guess_profile(data), rotation="clockwise")
            profile = replace(profile, look=look_of(data, profile))
            assert (profile.angle_unit, profile.distance_unit) == ("deg", unit)
        assert difference(data, profile) == ""
        (own,) = read_profiled_text(data, profile).captures
        (whole,) = read_capture_text(path, rotation="clockwise").captures
        ring = whole.kind == Kind.RING
        np.testing.assert_array_equal(own.distance_m[ring], whole.distance_m[ring])
        np.testing.assert_array_equal(own.angle_deg[ring], whole.angle_deg[ring])


@pytest.mark.parametrize(("level", "meaning"), [(1.5708, "zenith"), (0.01, "elevation")])
def test_a_vertical_angle_counts_from_where_level_rings_say(level, meaning):
    rows = "\n".join(f"{i / 100:.3f},{2 + i % 7 / 10:.2f},{level:.4f}" for i in range(0, 628, 2))
    guess = guess_profile(f"Hz,Dist,V\n{rows}".encode())
    assert guess.columns == ("angle", "distance", meaning)


def test_a_value_far_beyond_all_others_that_comes_again_is_no_return():
    data = ring_text()
    for old in (b";1500,0;", b";1500,7;", b";1503,0;"):
        data = data.replace(old, b";65535;", 1)
    assert guess_profile(data).no_return == ("65535",)


@pytest.mark.parametrize(
    ("data", "encoding", "sign"),
    [
        ("% Süd\n".encode("latin-1") + b"1 2\n2 3\n", "Latin-1", "%"),
        ("// Süd\n".encode() + b"1 2\n2 3\n", "UTF-8", "//"),
        ("1\t2\n2\t3\n".encode("utf-16"), "UTF-16", "#"),
    ],
)
def test_encoding_and_comment_sign(data, encoding, sign):
    guess = guess_profile(data)
    assert (guess.encoding, guess.comment_sign) == (encoding, sign)


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"a letter", b"1\n2\n3\n", b"one,two\nthree,four\n"]
)
def test_where_there_is_no_table_of_numbers_nothing_is_guessed(data):
    assert guess_profile(data) is None


KEPT = kept(ring_text())


@settings(max_examples=60, deadline=None)
@given(
    st.binary(max_size=300)
    | st.text("0123456789.,;\t -+eE#\n\"'a", max_size=300).map(str.encode)
    | st.text(max_size=100).map(lambda text: text.encode("utf-16", "surrogatepass"))
)
def test_no_content_upsets_guess_or_look(data):
    guess_profile(data)
    says_nothing(data)
    is_unmarked(data)
    for profile in (KEPT, described(encoding="UTF-16", separator="white space")):
        difference(data, profile)
        can_read(data, profile)


@pytest.mark.parametrize("sign", [b"1", b",", b"#", b" ", b'"', b"-", b"1,", b"1;", b"e", b"\n#"])
def test_lines_of_one_sign_take_no_time_to_speak_of(sign):
    # A pattern that goes back over the line for each place would take minutes here.
    data = sign * (65536 // len(sign)) + b"x"
    guess_profile(data)
    is_unmarked(data)
    says_nothing(data)
    difference(data, KEPT)
