# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture text as the contract words it: what is refused, every error with its line, and what is
skipped where a person allows it."""

import dataclasses

import numpy as np
import pytest
from capture_texts import HEADER, START, one, rows
from roomtie.processing.captures.capture_text import is_capture_text, read_capture_text
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress

# What is refused: text, line, and words of the message


def bad(row, columns="angle,distance"):
    return rows(columns, "1,2", row, "3,4")  # the bad row is on line 6


ERRORS = {
    "word for a distance": (bad("2,wide"), 6, "distance is 'wide'; expected a number of 0 or more"),
    "word for an angle": (bad("north,2"), 6, "angle is 'north'; expected a number"),
    "blank angle": (bad(",2"), 6, "the angle is blank; expected a number"),
    "digits with underscore": (bad("2,1_0"), 6, "distance is '1_0'"),
    "two points": (bad("2,1.2.3"), 6, "distance is '1.2.3'"),
    "negative distance": (bad("2,-1"), 6, "distance is '-1'; expected a number of 0 or more"),
    "nan distance": (bad("2,nan"), 6, "distance is 'nan'"),
    "infinite distance": (bad("2,inf"), 6, "distance is 'inf'"),
    "overflowing distance": (bad("2,1e999"), 6, "distance is '1e999'"),
    "nan angle": (bad("nan,2"), 6, "angle is 'nan'; expected a number"),
    "word for a zenith": (bad("2,2,up", "angle,distance,zenith"), 6, "zenith is 'up'"),
    "zenith beyond nadir": (
        bad("2,2,181", "angle,distance,zenith"),
        6,
        "zenith is '181' deg; expected 0 to 180",
    ),
    "word for an intensity": (bad("2,2,low", "angle,distance,intensity"), 6, "intensity is 'low'"),
    "unknown kind": (
        bad("2,2,wall", "angle,distance,kind"),
        6,
        "kind is 'wall'; expected ring, target or surface",
    ),
    "target without a name": (
        bad("2,2,target,", "angle,distance,kind,target"),
        6,
        "a target reading names no target",
    ),
    "surface without a name": (
        bad("2,2,surface", "angle,distance,kind"),
        6,
        "a surface reading names no target",
    ),
    "angle beyond a turn": (
        bad("400.5,2"),
        6,
        "angle is '400.5' deg; expected -360 to 360, one full turn either way.",
    ),
    "angle in gon": (bad("-399,2"), 6, "it looks like gon"),
    "angle in degrees, not radians": (
        bad("270,2").replace("deg", "rad"),
        6,
        "expected -6.28319 to 6.28319, one full turn either way (it looks like deg",
    ),
    "too few values": (bad("2"), 6, "the row has 1 value; expected 2"),
    "too many values": (bad("2,3,4"), 6, "the row has 3 values; expected 2"),
    "decimal comma with commas": (bad("2,5,3,1"), 6, "a decimal comma needs semicolons or tabs"),
    "thousands": (
        HEADER + "angle;distance\n1,5;2,25\n2,5;1.234\n",
        6,
        "distance is '1.234' (with a sign between thousands?); expected a number of 0 or more",
    ),
    "thousands in quotes": (bad('2,"1,234.5"'), 6, "with a sign between thousands?"),
    "decimal comma in quotes": (bad('2,"1,5"'), 6, "a decimal comma needs semicolons or tabs"),
    "unit in a cell": (bad("2,2.5 m"), 6, "its unit belongs in the header"),
    "another separator": (
        HEADER + "angle;distance\n1;2\n2,2.5\n",
        6,
        "the row has 1 value; expected 2, as there are column names, separated by semicolons as "
        "they are, not by commas.",
    ),
    "a quote not closed": (
        rows("angle,distance,kind,target", "1,2,ring,", '2,2,target,"T1', "3,2,ring,"),
        6,
        "a quote is opened and not closed",
    ),
    "a very long cell in quotes": (bad('2,"' + "9" * 200_000 + '"'), 6, "the row has 1 value"),
    "no readings": (START, 1, "the header is followed by no readings"),
    "a header at the end": (START + "1,2\n# station: B\n", 6, "followed by no readings"),
    "no column names": (HEADER + "1,2\n", 4, "expected a row of column names with angle and"),
    "wrong column name": (HEADER + "angel,distance\n1,2\n", 4, "found 'angel,distance'; expected"),
    "a column twice": (
        HEADER + "angle,distance,angle\n1,2,3\n",
        4,
        "the column angle is there twice",
    ),
    "empty": ("", None, "the file is empty"),
    "blank": ("\ufeff \r\n\n", None, "the file is empty"),
    "binary": (b"\x89PNG\r\n\x1a\n\x00\x00", None, "the file is binary"),
    "UTF-16 cut off": (
        (START + "1,2\n").encode("utf-16")[:-1],
        5,
        "the UTF-16 text is damaged or cut off here",
    ),
    "no angle unit": (
        START.replace("# angle_unit: deg\n", "") + "1,2\n",
        1,
        "the key angle_unit is missing",
    ),
    "no distance unit": (
        START.replace("# distance_unit: m\n", "") + "1,2\n",
        1,
        "the key distance_unit is missing",
    ),
    "no rotation": (
        START.replace("# rotation: clockwise\n", "") + "1,2\n",
        1,
        "the key rotation is missing",
    ),
    "misspelt unit key": (
        START.replace("angle_unit", "angle_units") + "1,2\n",
        1,
        "there is only 'angle_units'",
    ),
    "a key twice": (
        "# level: 0\n# level: 1\n" + START + "1,2\n",
        2,
        "level is '1', but '0' before in the same header",
    ),
}

BAD_VALUES = [
    ("angle_unit", "grad", "deg, gon or rad"),
    ("distance_unit", "yd", "m, cm, mm, ft or in"),
    ("rotation", "left", "clockwise or counterclockwise"),
    ("level", "first", "a whole number"),
    ("level", "0.5", "a whole number"),
    ("captured_at", "18.03.2026", "a time such as"),
    ("captured_at", "2026-02-30", "a time such as"),
    ("captured_at", "2026-03-18T25:00", "a time such as"),
    ("captured_at", "2026-03-18T09:00+99:00", "a time such as"),
    ("instrument_height_m", "-1", "a number of metres"),
    ("instrument_height_m", "nan", "a number of metres"),
    ("magnetic_azimuth_deg", "400", "a number of degrees from -360 to 360"),
    ("magnetic_azimuth_sigma_deg", "0", "a number above 0"),
    ("longitude_deg", "181", "a number from -180 to 180"),
    ("latitude_deg", "90.1", "a number from -90 to 90"),
    ("geotag_sigma_m", "-4", "a number above 0"),
    ("ellipsoidal_height_m", "high", "a number of metres"),
    ("tilt_deg", "91", "a number from -90 to 90"),
    ("moved", "maybe", "yes or no"),
    ("compass_calibrated", "1", "yes or no"),
    ("distance_sigma_mm", "0", "a number above 0"),
    ("angle_sigma_deg", "inf", "a number above 0"),
    ("distance_zero_mm", "1,5", "a number of millimetres"),
    ("axis_eccentricity_mm", "201", "a number of millimetres from -200 to 200, to the right"),
    ("axis_eccentricity_mm", "left", "a number of millimetres from -200 to 200, to the right"),
    ("angle_scale_ppm", "10001", "a number of parts per million from -10000 to 10000"),
    ("angle_scale_ppm", "nan", "a number of parts per million from -10000 to 10000"),
]
ERRORS.update(
    {
        f"{key} {value}": (
            # The bad value takes the place of a good one where the header has the key.
            f"# {key}: {value}\n"
            + "".join(line for line in START.splitlines(True) if not line.startswith(f"# {key}:"))
            + "1,2\n",
            1,
            f"{key} is '{value}'; expected {expected}",
        )
        for key, value, expected in BAD_VALUES
    }
)


@pytest.mark.parametrize(("text", "line", "words"), ERRORS.values(), ids=ERRORS)
def test_errors_name_file_line_and_what_was_expected(text, line, words):
    with pytest.raises(SurveyError) as error:
        read_capture_text(text, name="S01.csv")
    message = str(error.value)
    assert message.startswith("S01.csv: " if line is None else f"S01.csv, line {line}: ")
    assert words in message
    assert message.endswith(".")
    assert "\n" not in message


@pytest.mark.parametrize(("text", "line", "words"), ERRORS.values(), ids=ERRORS)
def test_skipping_tells_the_same_and_raises_nothing(text, line, words):
    survey = read_capture_text(text, name="S01.csv", skip_unreadable=True)
    assert any(words in sentence for sentence in survey.skipped)
    place = "S01.csv: " if line is None else f"S01.csv, line {line}: "
    assert survey.skipped[0].startswith(place)


def test_the_first_bad_line_is_the_one_named():
    text = rows("angle,distance,kind", "1,2,ring", "2,2,wall", "x,2,ring", "900,2,ring")
    with pytest.raises(SurveyError, match="line 6: kind is 'wall'"):
        read_capture_text(text)


def test_skipping_keeps_the_good_rows_and_lists_each_bad_one():
    text = rows("angle,distance,kind", "1,2,ring", "2,x,ring", "3,4,wall", "4,4,ring", "y,z,ring")
    survey = read_capture_text(text, name="a.csv", skip_unreadable=True)
    assert survey.captures[0].angle_deg.tolist() == [1, 4]
    assert survey.captures[0].line.tolist() == [5, 8]
    assert survey.captures[0].seq.tolist() == [1, 2]
    assert [sentence.split(":")[0] for sentence in survey.skipped] == [
        "a.csv, line 6",
        "a.csv, line 7",
        "a.csv, line 9",
    ]


def test_skipping_leaves_out_a_capture_without_its_unit_and_keeps_the_next():
    text = "# station: A\nangle,distance\n1,2\n# station: B\n" + START + "1,2\n"
    survey = read_capture_text(text, skip_unreadable=True)
    assert survey.names == ("B",)
    assert "angle_unit is missing" in survey.skipped[0]


def test_a_second_row_of_column_names_is_no_reading_of_the_first_capture():
    with pytest.raises(SurveyError, match="line 6: the key angle_unit is missing"):
        read_capture_text(START + "1,2\nangle,distance\n3,4\n")


def test_only_bad_rows_leave_no_capture():
    survey = read_capture_text(START + "x,2\n", skip_unreadable=True)
    assert len(survey) == 0
    assert "no reading of this capture can be read" in survey.skipped[-1]


def test_a_very_long_capture_is_read_in_parts(monkeypatch):
    text = rows(
        "angle,distance,zenith,target,kind", *(f"{k},2,{80 + k},T{k},target" for k in range(9))
    )
    whole = one(text)
    seen = []
    monkeypatch.setattr("roomtie.processing.captures.rows.PART", 4)
    parts = one(text, progress=Progress(moved=seen.append))
    for field in dataclasses.fields(whole):
        np.testing.assert_equal(getattr(parts, field.name), getattr(whole, field.name))
    assert seen == sorted(seen)
    assert len(seen) >= 3
    with pytest.raises(SurveyError, match="line 11: angle is 'x'"):
        one(text.replace("\n6,", "\nx,"))


def test_cancelling_stops():
    with pytest.raises(Cancelled):
        read_capture_text(START + "1,2\n", progress=Progress(cancelled=lambda: True))


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (START.encode(), True),
        (b"\xef\xbb\xbfangle;distance\n1;2\n", True),
        (b"# Rotation: clockwise\n", True),
        (b"name,east,north\nP1,1,2\n", False),
        (b"# a heading\nsome words\n", False),
        (b"{}", False),
        (b"", False),
        (b"angle,distance\n\x00", False),
    ],
)
def test_capture_text_is_told_by_its_content(data, expected):
    assert is_capture_text(data) is expected
