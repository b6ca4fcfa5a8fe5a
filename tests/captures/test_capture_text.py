# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture text as the contract words it: what is read."""

from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from capture_texts import HEADER, START, one, rows
from roomtie.processing.captures.capture_text import is_capture_text, read_capture_text
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.errors import SurveyError

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
