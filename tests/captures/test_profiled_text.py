# SPDX-License-Identifier: GPL-2.0-or-later
"""Any readings written in any layout are read back by the profile that describes it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from profiles import described, kept, ring_text, room_mm
from roomtie.processing.captures import profile_look, profiled_text, rows
from roomtie.processing.captures.findings import Rules
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.profile import ENCODINGS, SEPARATORS, Profile
from roomtie.processing.captures.profiled_text import read_profiled_text
from roomtie.processing.captures.units import FULL_TURN, METRES
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress

MEANINGS = ("angle", "distance", "vertical", "intensity", "station", "kind", "target", "", "")
# Names that stand in one cell of any layout and are no numbers.
words = st.from_regex(r"[A-Za-zäöß][A-Za-z0-9äöß_]{0,8}", fullmatch=True)


@st.composite
def files(draw):
    angle_unit = draw(st.sampled_from(list(FULL_TURN)))
    turn = FULL_TURN[angle_unit]
    separator = draw(st.sampled_from(list(SEPARATORS)))
    comma = separator != "comma" and draw(st.booleans())
    no_return = draw(st.sampled_from([(), ("-1",), ("9999", "ERR")]))
    vertical = draw(st.sampled_from(["zenith", "elevation"]))
    columns = [vertical if m == "vertical" else m for m in draw(st.permutations(MEANINGS))]
    profile = Profile(
        name="any",
        columns=tuple(columns),
        angle_unit=angle_unit,
        distance_unit=draw(st.sampled_from(list(METRES))),
        rotation=draw(st.sampled_from(["clockwise", "counterclockwise"])),
        separator=separator,
        decimal_comma=comma,
        skip_lines=draw(st.integers(0, 3)),
        has_names=draw(st.booleans()),
        comment_sign=draw(st.sampled_from(["", "#", "//", "%"])),
        angle_zero_deg=draw(st.just(0.0) | st.floats(-360, 360)),
        distance_zero_mm=draw(st.just(0.0) | st.floats(-50, 50)),
        no_return=no_return,
        encoding=draw(st.sampled_from(list(ENCODINGS))),
    )
    gone = [*no_return, "0", *([""] if separator != "white space" else [])]
    kind = st.sampled_from(list(Kind))
    rows = [
        {
            "angle": draw(st.floats(-turn, turn)),
            "distance": draw(st.sampled_from(gone) | st.floats(1e-3, 9e3)),
            "zenith": draw(st.floats(0, turn / 2)),
            "elevation": draw(st.floats(-turn / 4, turn / 4)),
            "intensity": draw(st.floats(0, 1e6)),
            "station": draw(st.sampled_from(["A", "B", "Flur_süd"])),
            "kind": draw(kind),
            "target": draw(words),
            "": draw(words),
        }
        for _ in range(draw(st.integers(1, 10)))
    ]
    sign = SEPARATORS[separator]
    lines = [draw(words) for _ in range(profile.skip_lines)]
    if profile.comment_sign:
        lines.append(f"{profile.comment_sign} a remark; with, signs")
    if profile.has_names:
        lines.append(sign.join("abcdefghi"))

    def cell(row, meaning):
        value = row[meaning]
        if isinstance(value, Kind):
            return value.text
        if isinstance(value, float):
            return repr(value).replace(".", ",") if comma else repr(value)
        return value

    first = len(lines) + 1
    lines += [sign.join(cell(row, meaning) for meaning in profile.columns) for row in rows]
    text = draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines)
    return text.encode(ENCODINGS[profile.encoding]), profile, rows, first


@settings(max_examples=25, deadline=None)
@given(files())
def test_what_was_written_is_read_back(file):
    data, profile, rows, first = file
    survey = read_profiled_text(data, profile, name="room.txt")
    assert not survey.skipped
    assert list(survey.names) == list(dict.fromkeys(row["station"] for row in rows))
    to_deg = 360.0 / FULL_TURN[profile.angle_unit]
    sense = 1.0 if profile.rotation == "clockwise" else -1.0
    for capture in survey.captures:
        own = [(i, row) for i, row in enumerate(rows) if row["station"] == capture.station]
        assert capture.line.tolist() == [first + i for i, _ in own]
        written = np.array([row["angle"] for _, row in own])
        np.testing.assert_allclose(
            capture.angle_deg, sense * (written * to_deg - profile.angle_zero_deg), atol=1e-9
        )
        distance = np.array(
            [row["distance"] if isinstance(row["distance"], float) else np.nan for _, row in own]
        )
        slope = distance * METRES[profile.distance_unit] - profile.distance_zero_mm / 1000.0
        np.testing.assert_allclose(capture.slope_distance_m, slope, rtol=1e-12, atol=1e-12)
        np.testing.assert_array_equal(capture.flag == Flag.NO_RETURN, np.isnan(distance))
        if "zenith" in profile.columns:
            zenith = np.array([row["zenith"] for _, row in own]) * to_deg
        else:
            zenith = 90.0 - np.array([row["elevation"] for _, row in own]) * to_deg
        np.testing.assert_allclose(capture.zenith_deg, zenith, rtol=1e-12, atol=1e-12)
        assert capture.intensity.tolist() == [row["intensity"] for _, row in own]
        assert capture.kind.tolist() == [row["kind"] for _, row in own]
        sighted = [row["target"] if row["kind"] else "" for _, row in own]
        assert capture.target.tolist() == sighted
        assert capture.other["profile"] == "any"


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_whatever_a_file_holds_skipping_never_fails(data):
    for profile in (described(), described(encoding="UTF-16", separator="white space")):
        survey = read_profiled_text(data, profile, rules=Rules(skip_unreadable=True))
        assert survey.captures or survey.skipped


def test_a_room_in_gon_and_millimetres_is_a_room():
    (capture,) = read_profiled_text(ring_text(), described(), name="hall.txt").captures
    gon = np.arange(200) * 2.0
    expected = room_mm(gon) / 1000.0
    # The file has tenths of a millimetre.
    np.testing.assert_allclose(capture.distance_m, expected, atol=5.1e-5)
    np.testing.assert_allclose(capture.angle_deg, -gon * 0.9, atol=1e-9)
    assert capture.station == "hall"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ((b"2,000;", b"east;"), "line 4: angle is 'east'; expected a number"),
        ((b"2,000;", b"401,000;"), "line 4: angle is '401,000' gon; expected -400 to 400"),
        ((b";1500,7;", b";-7;"), "line 4: distance is '-7'; expected a number of 0 or more"),
        ((b";1500,7;", b";1500.7;"), "line 4: distance is '1500.7'; expected a number"),
        ((b"2,000;1500,7;51", b"2,000"), "line 4: the row has 2 values; expected 4"),
    ],
)
def test_the_bad_line_is_named(change, said):
    data = ring_text()
    assert change[0] in data
    bad = data.replace(*change, 1)
    with pytest.raises(SurveyError) as error:
        read_profiled_text(bad, described(), name="x.txt")
    assert f"x.txt, {said}" in str(error.value)
    left = read_profiled_text(bad, described(), name="x.txt", rules=Rules(skip_unreadable=True))
    assert len(left.captures[0]) == 199
    assert said in left.skipped[0]


def test_a_decimal_comma_that_was_not_described_is_an_error():
    words = r"line 3: angle is '0,000' \(with a decimal comma\?\); expected a number"
    with pytest.raises(SurveyError, match=words):
        read_profiled_text(ring_text(), described(decimal_comma=False))


def test_columns_in_another_order_are_not_read_as_what_they_are_not():
    data = ring_text()
    profile = kept(data)
    swapped = data.replace(b"Hz;Dist", b"Dist;Hz")
    with pytest.raises(SurveyError, match=r"line 2: column 2 is called 'dist'; expected 'hz'"):
        read_profiled_text(swapped, profile)


def test_a_wrong_encoding_is_named_with_its_line():
    data = ring_text().replace(b"\n2;", b"\nS\xfcd;")
    with pytest.raises(SurveyError, match="line 4: the text is not UTF-8"):
        read_profiled_text(data, described())
    assert read_profiled_text(data, described(encoding="Latin-1")).captures


def test_the_users_units_win_and_it_is_said():
    survey = read_profiled_text(ring_text(), described(), rules=Rules(distance_unit="cm"))
    assert "cm was asked for and used" in survey.warnings[0]
    whole = read_profiled_text(ring_text(), described())
    ratio = survey.captures[0].distance_m / whole.captures[0].distance_m
    np.testing.assert_allclose(ratio, 10.0)


def test_a_row_without_its_station_is_named():
    profile = described(columns=("station", "angle", "distance", ""))
    with pytest.raises(SurveyError, match="line 5: the row names no station"):
        read_profiled_text(ring_text().replace(b"\n3;", b"\n ;"), profile)
    each = read_profiled_text(ring_text(count=3), profile)
    assert each.names == ("1", "2", "3")


def test_where_no_column_says_the_kind_a_named_target_is_a_sighting():
    profile = Profile("t", ("angle", "distance", "target"), "deg", "m", "clockwise")
    (capture,) = read_profiled_text(b"0,2,\n10,2.1,T1\n20,2.2,\n", profile).captures
    assert capture.kind.tolist() == [Kind.RING, Kind.TARGET, Kind.RING]
    assert capture.target.tolist() == ["", "T1", ""]


def test_an_elevation_beyond_the_vertical_is_named_as_one():
    profile = Profile("t", ("angle", "distance", "elevation"), "gon", "m", "clockwise")
    (capture,) = read_profiled_text(b"0,2,-100\n10,2.1,100\n20,2.2,50", profile).captures
    assert capture.zenith_deg == pytest.approx([180, 0, 45])
    with pytest.raises(SurveyError, match="elevation is '101' gon; expected -100 to 100, from the"):
        read_profiled_text(b"0,2,101\n", profile)
    with pytest.raises(SurveyError, match="elevation is 'up'; expected a number"):
        read_profiled_text(b"0,2,up\n", profile)


def test_no_rows_are_an_error():
    with pytest.raises(SurveyError, match="holds no readings"):
        read_profiled_text(b"title\nNo;Hz;Dist;Signal\n", described())
    with pytest.raises(SurveyError, match="holds no readings"):
        read_profiled_text(b"", replace(described(), has_names=False))


def test_a_cancel_is_heard_all_through_a_long_capture(monkeypatch):
    monkeypatch.setattr(profile_look, "STRIDE", 50)
    monkeypatch.setattr(profiled_text, "STRIDE", 50)
    monkeypatch.setattr(rows, "PART", 50)
    profile = Profile("any", ("angle", "distance", "station"), "deg", "m", "clockwise")
    text = "".join(f"{k % 360},2.{k},A\n" for k in range(500)).encode()
    asked = []
    whole = read_profiled_text(text, profile, progress=Progress(lambda: asked.append(1)))
    assert len(asked) >= 3 * 10
    assert np.array_equal(whole.captures[0].line, np.arange(1, 501))
    for after in range(len(asked)):
        left = iter(range(after))
        with pytest.raises(Cancelled):
            cancelled = Progress(lambda left=left: next(left, None) is None)
            read_profiled_text(text, profile, progress=cancelled)
