# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture text as the contract words it: what is read, and every error with its line."""

import dataclasses
from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from roomtie.processing.captures.capture_text import is_capture_text, read_capture_text
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
START = HEADER + "angle,distance\n"  # the first reading is on line 5


def one(text, **rules):
    survey = read_capture_text(text, **rules)
    assert len(survey) == 1
    return survey.captures[0]


def rows(columns, *lines, header=HEADER):
    return header + "\n".join([columns, *lines]) + "\n"


# What is read


def test_all_header_keys():
    capture = one(
        """# station: Stair 2
# level: -1
# captured_at: 2026-03-18T09:05:07.25+01:00
# angle_unit: gon
# distance_unit: cm
# rotation: counterclockwise
# instrument_height_m: 1.2
# magnetic_azimuth_deg: 319.4
# magnetic_azimuth_sigma_deg: 3
# longitude_deg: 14.505789
# latitude_deg: -46.051112
# geotag_sigma_m: 4
# ellipsoidal_height_m: 312.5
# tilt_deg: -0.4
# moved: no
# compass_calibrated: yes
# distance_sigma_mm: 3
# angle_sigma_deg: 0.05
# distance_zero_mm: 12
# comment: door: half open
# Operator: N. N.
angle,distance
100,250
"""
    )
    assert capture.station == "Stair 2"
    assert capture.level == -1
    when = datetime(2026, 3, 18, 9, 5, 7, 250000, tzinfo=timezone(timedelta(hours=1)))
    assert capture.captured_at == when
    assert capture.instrument_height_m == 1.2
    assert capture.magnetic_azimuth_deg == 319.4
    assert capture.magnetic_azimuth_sigma_deg == 3
    assert (capture.longitude_deg, capture.latitude_deg) == (14.505789, -46.051112)
    assert capture.geotag_sigma_m == 4
    assert capture.ellipsoidal_height_m == 312.5
    assert capture.tilt_deg == -0.4
    assert capture.moved is False
    assert capture.compass_calibrated is True
    assert capture.distance_sigma_m == pytest.approx(0.003)
    assert capture.angle_sigma_deg == 0.05
    assert capture.distance_zero_m == pytest.approx(0.012)
    assert capture.comment == "door: half open"
    assert capture.other == {"Operator": "N. N."}
    assert capture.angle_deg.tolist() == [-90.0]  # 100 gon counterclockwise
    assert capture.slope_distance_m[0] == pytest.approx(2.488)  # zero error subtracted


def test_what_is_not_given_is_absent():
    capture = one(START + "10,2\n", name="Hall.csv")
    assert capture.station == "Hall"
    assert capture.capture_file == "Hall.csv"
    assert capture.level == 0
    assert capture.captured_at is None
    assert capture.moved is None
    assert np.isnan(capture.tilt_deg)
    assert np.isnan(capture.distance_sigma_m)
    assert not capture.has_compass
    assert not capture.has_geotag
    assert capture.zenith_deg.tolist() == [90.0]
    assert np.isnan(capture.intensity).all()
    assert capture.seq.tolist() == [1]
    assert capture.line.tolist() == [5]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-18", datetime(2026, 3, 18)),
        ("2026-03-18T09:05", datetime(2026, 3, 18, 9, 5)),
        ("20260318T090507Z", datetime(2026, 3, 18, 9, 5, 7, tzinfo=timezone.utc)),
        ("2026-03-18 09:05:07,5", datetime(2026, 3, 18, 9, 5, 7, 500000)),
        (
            "2026-03-18T09:05:07-0330",
            datetime(2026, 3, 18, 9, 5, 7, tzinfo=timezone(-timedelta(hours=3, minutes=30))),
        ),
        (
            "2026-03-18T09:05:07.123456789+02",
            datetime(2026, 3, 18, 9, 5, 7, 123456, tzinfo=timezone(timedelta(hours=2))),
        ),
    ],
)
def test_times_of_iso_8601(text, expected):
    capture = one(f"# captured_at: {text}\n{START}1,2\n")
    assert capture.captured_at == expected
    assert capture.captured_at.utcoffset() == expected.utcoffset()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_separators_line_ends_and_byte_order_mark(separator, end, mark):
    lines = ["angle,distance,kind,target", "1.5,2.25,ring,", "3,2.5,target,T1", ""]
    text = (HEADER + "\n".join(lines)).replace(",", separator).replace("\n", end)
    capture = one((mark + text).encode())
    assert capture.angle_deg.tolist() == [1.5, 3.0]
    assert capture.distance_m.tolist() == [2.25, 2.5]
    assert capture.kind.tolist() == [Kind.RING, Kind.TARGET]
    assert capture.target.tolist() == ["", "T1"]
    assert capture.line.tolist() == [5, 6]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_comma(separator):
    text = "# instrument_height_m: 1,25\n" + rows(
        f"angle{separator}distance", f"1,5{separator}2,25", f"3{separator}2.5"
    )
    capture = one(text)
    assert capture.instrument_height_m == 1.25
    assert capture.angle_deg.tolist() == [1.5, 3.0]
    assert capture.distance_m.tolist() == [2.25, 2.5]


def test_a_comma_in_a_comment_stays():
    capture = one("# comment: 1,5\n" + rows("angle;distance", "1;2"))
    assert capture.comment == "1,5"


def test_columns_in_any_order_and_case_with_spaces_and_quotes():
    capture = one(
        rows(
            "Target, kind ,Distance,Zenith,ANGLE,intensity",
            '"T1, left",target, 2 ,90,10,7',
            ",,4,30,20,",
            "T1,Surface,3,,30,",
        )
    )
    assert capture.angle_deg.tolist() == [10, 20, 30]
    assert capture.target.tolist() == ["T1, left", "", "T1"]
    assert capture.kind.tolist() == [Kind.TARGET, Kind.RING, Kind.SURFACE]
    assert capture.zenith_deg.tolist() == [90, 30, 90]
    assert capture.slope_distance_m.tolist() == [2, 4, 3]
    assert capture.distance_m == pytest.approx([2, 2, 3])  # sin 30 deg = 1/2
    assert capture.intensity[0] == 7


def test_zenith_is_in_the_angle_unit():
    text = rows("angle,zenith,distance", "50,100,2", "50,33.3333333333,2")
    capture = one(text.replace("deg", "gon"))
    assert capture.zenith_deg == pytest.approx([90, 30])
    assert capture.distance_m == pytest.approx([2, 1])


def test_blank_and_nought_are_no_return():
    capture = one(START + "1,\n2,0\n3,0.000\n4,2\n5, \n", distance_unit="m")
    assert np.isnan(capture.distance_m).tolist() == [True, True, True, False, True]
    assert capture.flag.tolist() == [Flag.NO_RETURN] * 3 + [Flag.USABLE, Flag.NO_RETURN]


def test_zero_error_does_not_turn_no_return_into_a_distance():
    capture = one("# distance_zero_mm: -20\n" + START + "1,0\n2,2\n")
    assert np.isnan(capture.slope_distance_m[0])
    assert capture.slope_distance_m[1] == pytest.approx(2.02)


def test_trailing_cells_may_be_missing_or_blank():
    capture = one(rows("angle,distance,kind,target", "1,2", "2,2,ring", "3,2,ring,,,"))
    assert len(capture) == 3


def test_several_captures_in_one_file():
    text = (
        "# station: A\n"
        + START
        + "1,2\n# a remark: kept\n2,3\n\n# station: B\n"
        + HEADER
        + "distance;angle\n4;5\n"
    )
    survey = read_capture_text(text)
    a, b = survey.captures
    assert (a.station, b.station) == ("A", "B")
    assert a.angle_deg.tolist() == [1, 2]
    assert a.line.tolist() == [6, 8]
    assert a.other == {"a remark": "kept"}
    assert b.angle_deg.tolist() == [5]
    assert b.line.tolist() == [15]
    assert b.seq.tolist() == [1]


def test_latin_1_is_read_and_said():
    data = "# comment: Küche\n".encode("latin-1") + START.encode() + b"1,2\n"
    survey = read_capture_text(data, name="k.csv")
    assert survey.captures[0].comment == "Küche"
    assert survey.warnings == (
        "k.csv, line 1: the text is not UTF-8; it was read as Latin-1. Check the names.",
    )


def test_windows_1252_is_told_from_latin_1():
    data = "# comment: “Küche” – 5 €\n".encode("cp1252") + START.encode() + b"1,2\n"
    survey = read_capture_text(data, name="k.csv")
    assert survey.captures[0].comment == "“Küche” – 5 €"
    assert "line 1: the text is not UTF-8; it was read as Windows-1252." in survey.warnings[0]
    # Bytes that Windows-1252 leaves open are control signs in Latin-1.
    survey = read_capture_text(b"# comment: \x81\n" + START.encode() + b"1,2\n")
    assert "read as Latin-1" in survey.warnings[0]


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_by_its_mark(codec):
    text = ("# station: Küche\n" + START + "1,2\n").replace("\n", "\r\n")
    data = (text if codec == "utf-16" else "\ufeff" + text).encode(codec)
    assert is_capture_text(data)
    survey = read_capture_text(data)
    assert survey.names == ("Küche",)
    assert survey.warnings == ()


def test_files_put_together_keep_their_marks():
    parts = [f"\ufeff# station: {name}\r\n{START}1,2\r\n" for name in "AB"]
    assert read_capture_text("".join(parts)).names == ("A", "B")


def test_an_equals_sign_in_the_place_of_the_colon():
    capture = one("# Level = 2\n# a = b\n#\n" + START.replace(": ", "=") + "1,2\n")
    assert capture.level == 2
    assert capture.other == {}


def test_names_of_any_letters_and_signs():
    names = ["Flur 1", "O'Brien's \"den\"", "厨房", "مطبخ", "Küche/Bad", "😀", "=1+1", "a\tb"]
    text = "".join(f"# station: {name}\n{START}1,2\n" for name in names)
    assert list(read_capture_text(text).names) == names
    text = rows("angle;distance;kind;target", *(f'{k};2;target;"{n}"' for k, n in enumerate("é厨")))
    assert one(text).target.tolist() == ["é", "厨"]


def test_an_end_of_file_sign_of_old_systems_is_no_row():
    assert len(one(START + "1,2\r\n\x1a")) == 1


def test_what_a_spreadsheet_makes_of_a_file():
    # It quotes what holds the separator, and pads every line to one number of cells.
    plain = "# comment: a, then b\n" + rows("angle,distance,kind", "1,2,ring", "2,2,ring")
    saved = (
        "".join(
            f'"{line}",,\n' if line.startswith("# comment") else f"{line},,\n"
            for line in plain.splitlines()
        )
        .replace("kind,,", "kind")
        .replace("ring,,", "ring")
    )
    capture = one(saved + ",,\n,,\n")
    assert capture.comment == "a, then b"
    assert capture.angle_deg.tolist() == [1, 2]
    # Without padding, a comma at the end of a text is the text's own.
    assert one("# comment: hall,\n" + plain).comment == "hall, a, then b"


def test_a_first_line_that_names_the_separator():
    text = "sep=;\n" + rows("angle;distance", "1,5;2")
    assert one(text).angle_deg.tolist() == [1.5]
    with pytest.raises(SurveyError, match="line 2: found 'sep=;'"):
        one("\nsep=;\n" + rows("angle;distance", "1,5;2"))


def test_spaces_and_quotes_around_cells():
    text = rows("angle, distance, target, kind", ' 1.5,\t2 , "T, ""a""" , target ', '"2" ,"3",,')
    capture = one(text)
    assert capture.angle_deg.tolist() == [1.5, 2]
    assert capture.distance_m.tolist() == [2, 3]
    assert capture.target.tolist() == ['T, "a"', ""]


def test_a_quote_within_a_name_is_the_name_s_own():
    capture = one(rows("angle,distance,target,kind", '1,2,5" pipe,target', '2,3,"T1",target'))
    assert capture.target.tolist() == ['5" pipe', "T1"]


def test_comments_and_remarks_may_stand_among_the_readings():
    capture = one(START + "1,2\n# comment: door opened\n#\n# no key\n#3,4\n\n2,3\n# x: y\n")
    assert capture.angle_deg.tolist() == [1, 2]
    assert capture.comment == "door opened"
    assert capture.other == {"x": "y"}


def test_what_stands_before_a_header_belongs_to_it():
    a, b = read_capture_text(
        f"# station: A\n{START}1,2\n# comment: of B\n# Operator: N. N.\n# station: B\n{START}1,2\n"
    ).captures
    assert (a.comment, dict(a.other)) == ("", {})
    assert (b.comment, dict(b.other)) == ("of B", {"Operator": "N. N."})


def test_a_header_without_column_names_ends_the_readings_before_it():
    with pytest.raises(SurveyError, match="line 7: found '2,3'; expected a row of column names"):
        read_capture_text(START + "1,2\n# station: B\n2,3\n")


def test_a_target_s_name_may_begin_with_a_number_sign():
    text = rows("target,kind,angle,distance", "#1,target,1,2", "# words, and, more, words", ",,2,2")
    capture = one(text)
    assert capture.target.tolist() == ["#1", ""]


def test_a_column_without_a_name_is_said_when_it_holds_values():
    survey = read_capture_text(rows(",angle,distance,", "0,1,2,", "1,2,2,"))
    assert len(survey.captures[0]) == 2
    assert survey.warnings == ("capture, line 4: columns not used: one without a name.",)
    assert read_capture_text(rows("angle,distance,", "1,2,", "2,2")).warnings == ()


def test_a_last_row_that_may_be_cut_off():
    text = rows("angle,distance,kind", "1.00,2.1234,ring", "2.00,2.1235,ring", "3.00,2.1")
    assert len(one(text)) == 3  # with a line end the row is whole
    with pytest.raises(SurveyError, match=r"line 7: the file ends within this row, which has 2 "):
        one(text[:-1])
    survey = read_capture_text(text[:-1], skip_unreadable=True)
    assert survey.captures[0].angle_deg.tolist() == [1, 2]

    text = rows("angle,distance", "1.00,2.1234", "2.00,2.1235", "3.00,2.12")
    assert read_capture_text(text).warnings == ()
    (warning,) = read_capture_text(text[:-1], name="a.csv").warnings
    assert warning == (
        "a.csv, line 7: the last row has no line end and fewer digits than the others; is the file "
        "cut off?"
    )
    assert (
        read_capture_text(rows("angle,distance", "1.00,2.1234", "2.00,2.1235")[:-1]).warnings == ()
    )


def test_cut_anywhere_a_file_gives_the_rows_before_the_cut():
    text = START + "".join(f"{k}.50,{2 + k / 7:.4f}\n" for k in range(5))
    whole = one(text)
    for end in range(len(START), len(text)):
        survey = read_capture_text(text[:end], skip_unreadable=True)
        rows_before = text[len(START) : end].count("\n")
        own = survey.captures[0].distance_m[:rows_before] if survey.captures else []
        assert list(own) == list(whole.distance_m[:rows_before])


@pytest.mark.parametrize("sign", ["#", "# ", " ", "\t", ",", '"', "-", "1", "#:", ":"])
def test_a_line_of_one_sign_takes_no_time(sign):
    long = sign * 200_000
    for text in (long + "\n" + START + "1,2\n", START + "1,2\n" + long + "\n", f"# x: {long}\n"):
        assert is_capture_text(text.encode()) in (True, False)
        read_capture_text(text, skip_unreadable=True)


def test_a_key_told_very_often_takes_no_time():
    text = "# note: a\n# comment: b\n" * 20_000 + START + "1,2\n"
    capture = one(text)
    assert len(capture.other["note"]) == 20_000 + 2 * 19_999
    assert len(capture.comment) == 39_999


def test_lines_are_counted_as_an_editor_does():
    # U+2028 and the form feed break lines for str.splitlines.
    capture = one("# comment: a\u2028b\x0cc\n" + START + "1,2\n")
    assert capture.line.tolist() == [6]


def test_parameters_supply_what_the_file_does_not_say():
    capture = one(
        "angle,distance\n100,5\n", angle_unit="gon", distance_unit="ft", rotation="clockwise"
    )
    assert capture.angle_deg.tolist() == [90.0]
    assert capture.distance_m == pytest.approx([1.524])


def test_parameters_win_over_the_file_and_say_so():
    survey = read_capture_text(START + "100,5\n", angle_unit="gon")
    assert survey.captures[0].angle_deg.tolist() == [90.0]
    assert survey.warnings == (
        "capture, line 1: angle_unit is deg in the file; gon was asked for and used.",
    )


def test_what_looks_like_a_key_or_a_target_is_said():
    text = "# magnetic_azimut_deg: 12\n" + rows("angle,distance,target,colour", "1,2,T1,red")
    survey = read_capture_text(text)
    assert survey.captures[0].other == {"magnetic_azimut_deg": "12"}
    assert survey.captures[0].target.tolist() == [""]
    assert [warning.split(": ", 1)[1] for warning in survey.warnings] == [
        "the key 'magnetic_azimut_deg' is kept as text; is magnetic_azimuth_deg meant?",
        "columns not used: 'colour'.",
        "1 ring readings name a target (here 'T1'); the name is not used. Is kind target or "
        "surface meant?",
    ]


def test_half_a_geotag_is_said():
    survey = read_capture_text("# latitude_deg: 46\n" + START + "1,2\n")
    assert "only latitude_deg" in survey.warnings[0]


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
    monkeypatch.setattr("roomtie.processing.captures.capture_text._PART", 4)
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
