# SPDX-License-Identifier: GPL-2.0-or-later
"""Laser scan JSON as the contract words it."""

import json
from math import inf, nan, pi

import numpy as np
import pytest
from reading_only import read_captures
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.scan_json import is_scan_json, read_scan_json
from roomtie.processing.errors import SurveyError

SCAN = {
    "angle_min": -pi / 2,
    "angle_max": pi / 2,
    "angle_increment": pi / 4,
    "range_min": 0.2,
    "range_max": 30.0,
    "ranges": [2.0, 2.5, 3.0, 2.5, 2.0],
}


def scan(**changes):
    return {**SCAN, **changes}


def read(content, **rules):
    return read_scan_json(json.dumps(content).encode(), name="s.json", **rules)


def test_angles_are_counterclockwise_radians():
    (capture,) = read(SCAN).captures
    assert capture.station == "s"
    assert capture.angle_deg == pytest.approx([90, 45, 0, -45, -90])
    assert capture.distance_m.tolist() == SCAN["ranges"]
    assert (capture.kind == Kind.RING).all()
    assert capture.zenith_deg.tolist() == [90] * 5
    # Counterclockwise from the zero direction is to the left of it, at negative x.
    assert capture.xy_m[4] == pytest.approx([-2, 0], abs=1e-12)


def test_infinite_nan_null_and_nought_are_no_return():
    (capture,) = read(scan(ranges=[inf, nan, None, -inf, 0, 2.0])).captures
    assert capture.flag.tolist() == [Flag.NO_RETURN] * 5 + [Flag.USABLE]
    assert np.isnan(capture.distance_m[:5]).all()


def test_what_is_out_of_range_is_kept_and_flagged():
    (capture,) = read(scan(ranges=[0.1, 0.2, 3.0, 30.0, 31.0])).captures
    expected = [Flag.TOO_NEAR, Flag.USABLE, Flag.USABLE, Flag.USABLE, Flag.TOO_FAR]
    assert capture.flag.tolist() == expected
    assert capture.distance_m.tolist() == [0.1, 0.2, 3.0, 30.0, 31.0]
    assert flag_readings(capture, min_distance_m=0.05).flag.tolist() == expected


def test_header_values_stand_under_capture():
    keys = {
        "station": "Hall",
        "level": 1,
        "captured_at": "2026-03-18T09:00:00Z",
        "magnetic_azimuth_deg": 12.5,
        "moved": True,
        "compass_calibrated": "no",
        "distance_zero_mm": 10,
        "rotation": "counterclockwise",
        "tilt_deg": None,
        "operator": "N. N.",
    }
    (capture,) = read(scan(capture=keys)).captures
    assert capture.station == "Hall"
    assert capture.level == 1
    assert capture.captured_at.isoformat() == "2026-03-18T09:00:00+00:00"
    assert capture.magnetic_azimuth_deg == 12.5
    assert capture.moved is True
    assert capture.compass_calibrated is False
    assert capture.slope_distance_m[0] == pytest.approx(1.99)
    assert np.isnan(capture.tilt_deg)
    assert capture.other == {"operator": "N. N."}


def test_intensities():
    (capture,) = read(scan(intensities=[1, 2.5, None, nan, 5])).captures
    np.testing.assert_array_equal(capture.intensity, [1, 2.5, nan, nan, 5])


def test_a_list_is_several_captures():
    survey = read([scan(capture={"station": "A"}), scan(capture={"station": "B"})])
    assert survey.names == ("A", "B")


def test_a_folder_mixes_formats(tmp_path):
    (tmp_path / "a.json").write_text(json.dumps(SCAN))
    (tmp_path / "truth.json").write_text('{"stations": []}')
    (tmp_path / "b.csv").write_text("angle,distance\n100,2\n")
    units = {"angle_unit": "gon", "distance_unit": "cm", "rotation": "clockwise"}
    survey = read_captures(tmp_path, **units)
    assert survey.names == ("a", "b")
    # A laser scan's units are fixed by its format, whatever the text files need.
    assert survey.captures[0].distance_m[0] == 2.0
    assert survey.captures[1].angle_deg.tolist() == [90.0]
    assert "truth.json" in survey.warnings[0]


def test_an_angle_max_that_does_not_fit_is_said():
    assert read(SCAN).warnings == ()
    assert "angle_max is 3" in read(scan(angle_max=3)).warnings[0]


def without(key):
    return {name: value for name, value in SCAN.items() if name != key}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (scan(ranges=[1.0, -2.0]), "ranges[1] is '-2.0'; expected a number of metres"),
        (scan(ranges=[1.0, "far"]), "ranges[1] is '\"far\"'; expected a number of metres"),
        (scan(ranges=[True]), "ranges[0] is 'true'"),
        (scan(ranges=[]), "ranges is missing or empty"),
        (without("ranges"), "ranges is missing or empty"),
        (without("angle_min"), "angle_min is missing; expected a number"),
        (without("angle_increment"), "angle_increment is missing; expected a number"),
        (scan(angle_min="0"), "angle_min is '\"0\"'; expected a number"),
        (scan(angle_min=nan), "angle_min is 'NaN'; expected a number"),
        (scan(angle_increment=0), "angle_increment is 0"),
        (scan(angle_increment=90), "one full turn either way"),
        (scan(range_min="near"), "range_min is '\"near\"'; expected a number"),
        (scan(range_max="30"), "range_max is '\"30\"'; expected a number"),
        (scan(ranges=[[1.0], 2.0]), "ranges[0] is a list; expected a number of metres"),
        (scan(ranges={"0": 1.0}), "ranges is missing or empty"),
        (scan(angle_increment=1e308), "one full turn either way"),
        (scan(angle_min=10**400), "angle_min is 'Infinity'; expected a number"),
        (scan(capture={"station": ["A"]}), "'station' under capture is a list; expected"),
        ([[SCAN], SCAN], "scan 1: found a list; expected an object with ranges"),
        ([SCAN, scan(capture={"level": "x"})], "s.json, scan 2: level is 'x'; expected a whole"),
        (scan(capture=3), "capture is '3'; expected an object"),
        (scan(capture={"angle_unit": "deg"}), "a laser scan has rad by definition"),
        (scan(capture={"level": "first"}), "level is 'first'; expected a whole number"),
        ([], "the list is empty"),
        ([SCAN, 5], "scan 2: found '5'; expected an object with ranges"),
        ([SCAN, scan(ranges=[-1])], "scan 2: ranges[0] is '-1'"),
    ],
)
def test_errors_name_the_file_and_the_value(content, words):
    with pytest.raises(SurveyError) as error:
        read(content)
    assert str(error.value).startswith(("s.json: ", "s.json, scan 1: ", "s.json, scan 2: "))
    assert words in str(error.value)
    assert str(error.value).endswith(".")
    assert any(words in sentence for sentence in read(content, skip_unreadable=True).skipped)


def test_a_key_that_is_there_twice_with_one_value_is_read():
    twice = json.dumps(SCAN)[:-1] + ', "range_max": 30.0, "ranges": [2.0, 2.5, 3.0, 2.5, 2.0]}'
    (capture,) = read_scan_json(twice.encode(), name="s.json").captures
    assert capture.distance_m.tolist() == SCAN["ranges"]


def test_broken_json_names_the_line():
    with pytest.raises(SurveyError, match=r"s\.json, line 2: the file is no JSON"):
        read_scan_json(b'{"ranges":\n [1,}', name="s.json")
    with pytest.raises(SurveyError, match=r"line 2: the file is no UTF-8 text"):
        read_scan_json(b'{"ranges":\n "\xff"}', name="s.json")


def test_a_file_that_ends_within_a_scan_says_so():
    whole = json.dumps(SCAN).encode()
    for end in range(whole.index(b"ranges"), len(whole)):
        with pytest.raises(
            SurveyError, match=r"s\.json, line 1: the file (ends within|is no JSON)"
        ):
            read_scan_json(whole[:end], name="s.json")
    with pytest.raises(SurveyError, match=r"ends within the scan\. Is it cut off\?"):
        read_scan_json(whole[:-1], name="s.json")


def test_one_scan_a_line_is_told_from_a_list():
    lines = f"{json.dumps(SCAN)}\n{json.dumps(SCAN)}\n".encode()
    with pytest.raises(SurveyError, match=r"s\.json, line 2: found .* several in a list"):
        read_scan_json(lines, name="s.json")


def test_deep_nesting_is_refused():
    data = b'{"ranges": ' + b"[" * 100_000
    with pytest.raises(SurveyError, match=r"s\.json: the file nests lists or objects too deep"):
        read_scan_json(data, name="s.json")


def test_a_key_with_two_values_is_refused():
    twice = b'{"angle_min": 0, "angle_increment": 0.1, "ranges": [1], "ranges": [2]}'
    with pytest.raises(SurveyError, match="the key 'ranges' is there twice with two values"):
        read_scan_json(twice, name="s.json")
    with pytest.raises(SurveyError, match="the key 'level' is there twice with two values"):
        read_scan_json(twice.replace(b'"ranges": [2]', b'"capture": {"level": 0, "level": 1}'))


def test_numbers_of_any_size_and_way_of_writing():
    content = (
        b'{"angle_min": -1, "angle_increment": 1e-1, "range_max": 9223372036854775807,'
        b'"ranges": [1, 2.5e0, 1e999, 123456789012345678901234567890, ' + b"9" * 5000 + b"]}"
    )
    (capture,) = read_scan_json(content).captures
    # What no float holds is infinite: no return. 1e999 is how some writers spell Infinity.
    assert capture.flag.tolist() == [
        Flag.USABLE,
        Flag.USABLE,
        Flag.NO_RETURN,
        Flag.TOO_FAR,
        Flag.NO_RETURN,
    ]


def test_utf_16_by_its_mark():
    data = json.dumps(scan(capture={"station": "Küche"})).encode("utf-16")
    assert is_scan_json(data)
    assert read_scan_json(data).names == ("Küche",)


def test_texts_that_no_layer_can_hold_are_mended():
    (capture,) = read(scan(capture={"station": "a\x00b\ud800", "note": "1\n2"})).captures
    assert capture.station == "a b?"
    assert capture.other == {"note": "1 2"}


def test_intensities_that_do_not_fit_are_said():
    survey = read(scan(intensities=[1, 2]))
    assert np.isnan(survey.captures[0].intensity).all()
    assert survey.warnings == (
        "s.json: intensities is 2 values, not a list of 5 as ranges; it is not used.",
    )
    survey = read(scan(intensities=[1, "2", None, 4, 5]))
    np.testing.assert_array_equal(survey.captures[0].intensity, [1, nan, nan, 4, 5])
    assert survey.warnings == ("s.json: 1 intensities are no numbers (here '\"2\"'); not used.",)


def test_no_header_and_a_null_one_are_the_same():
    assert read(scan(capture=None, range_min=None, intensities=None)).names == ("s",)


def test_skipping_leaves_out_the_bad_range_only():
    survey = read(scan(ranges=[1.0, "x", 3.0, 2.0, 2.0]), skip_unreadable=True)
    (capture,) = survey.captures
    assert capture.distance_m.tolist() == [1.0, 3.0, 2.0, 2.0]
    assert capture.angle_deg == pytest.approx([90, 0, -45, -90])


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (json.dumps(SCAN).encode(), True),
        (b'\xef\xbb\xbf [{"angle_increment": 1', True),
        (b'{"type": "FeatureCollection"}', False),
        (b'ranges: "ranges"', False),
        (b"", False),
    ],
)
def test_scans_are_told_by_their_content(data, expected):
    assert is_scan_json(data) is expected
