# SPDX-License-Identifier: GPL-2.0-or-later
"""Any capture written as capture text, in any unit and layout, is read back as it was."""

from dataclasses import fields
from datetime import datetime, timedelta, timezone

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from instrument_geometry import points_of, scaled_deg
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.decoding import lines_of
from roomtie.processing.captures.header import KEYS
from roomtie.processing.captures.model import Kind
from roomtie.processing.captures.readers import CAPTURE_TEXT, reader_of
from roomtie.processing.captures.units import FULL_TURN, METRES

# Words without line breaks and without spaces at the ends.
words = (
    st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=20)
    .map(lambda text: " ".join(text.split()))
    .filter(bool)
)
names = words.filter(lambda text: '"' not in text and "#" not in text)
numbers = st.floats(allow_nan=False, allow_infinity=False, width=64)
zones = st.none() | st.integers(-14 * 60, 14 * 60).map(
    lambda minutes: timezone(timedelta(minutes=minutes))
)
times = st.datetimes(min_value=datetime(1970, 1, 1), timezones=zones)

headers = st.fixed_dictionaries(
    {},
    optional={
        "station": words,
        "level": st.integers(-9, 99),
        "captured_at": times,
        "instrument_height_m": st.floats(0, 5),
        "magnetic_azimuth_deg": st.floats(-360, 360),
        "magnetic_azimuth_sigma_deg": st.floats(1e-3, 90),
        "longitude_deg": st.floats(-180, 180),
        "latitude_deg": st.floats(-90, 90),
        "geotag_sigma_m": st.floats(1e-3, 1e3),
        "ellipsoidal_height_m": st.floats(-500, 9000),
        "tilt_deg": st.floats(-90, 90),
        "moved": st.booleans(),
        "compass_calibrated": st.booleans(),
        "distance_sigma_mm": st.floats(1e-3, 1e3),
        "angle_sigma_deg": st.floats(1e-3, 10),
        "distance_zero_mm": st.floats(-100, 100),
        "axis_eccentricity_mm": st.floats(-200, 200),
        "angle_scale_ppm": st.floats(-1e4, 1e4),
        "comment": words,
    },
)
others = st.dictionaries(st.from_regex(r"x_[a-z]{3,12}", fullmatch=True), words, max_size=3)


@st.composite
def readings(draw, full_turn, zenith_turn):
    kind = draw(st.sampled_from(list(Kind)))
    return {
        "angle": draw(st.floats(-full_turn, full_turn)),
        "distance": draw(st.none() | st.floats(1e-3, 1e4)),
        "zenith": draw(st.none() | st.floats(0, zenith_turn / 2)),
        "kind": kind,
        "target": "" if kind is Kind.RING else draw(names),
        "intensity": draw(st.none() | numbers),
    }


def written(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat()
    return value if isinstance(value, str) else repr(value)


@st.composite
def files(draw):
    angle_unit = draw(st.sampled_from(list(FULL_TURN)))
    units = {
        "angle_unit": angle_unit,
        "distance_unit": draw(st.sampled_from(list(METRES))),
        "rotation": draw(st.sampled_from(["clockwise", "counterclockwise"])),
    }
    zenith_unit = draw(st.sampled_from([None, *FULL_TURN])) if draw(st.booleans()) else None
    header, other = draw(headers), draw(others)
    rows = draw(
        st.lists(
            readings(FULL_TURN[angle_unit], FULL_TURN[zenith_unit or angle_unit]),
            min_size=1,
            max_size=12,
        )
    )
    separator = draw(st.sampled_from(",;\t"))
    comma = separator != "," and draw(st.booleans())
    columns = draw(st.permutations(["angle", "distance", "zenith", "kind", "target", "intensity"]))

    def cell(value):
        if value is None:
            return ""
        if isinstance(value, Kind):
            return value.text
        if isinstance(value, str):
            return f'"{value}"' if separator in value else value
        return repr(value).replace(".", ",") if comma else repr(value)

    # A unit stands in the header, in the row of column names, or in both.
    stated = draw(st.permutations(["header", "column", "both"]))
    keys = {"angle_unit": ("angle", stated[0]), "distance_unit": ("distance", stated[1])}
    if zenith_unit not in (None, angle_unit):
        keys["angle_unit"] = ("angle", "column")
    told, shown = {"rotation": units["rotation"]}, {"zenith": zenith_unit}
    for key, (column, where) in keys.items():
        if where != "column":
            told[key] = units[key]
        if where != "header":
            shown[column] = units[key]
    form = draw(st.sampled_from(["{} [{}]", "{}({})", "{} / {}", "{}_{}"]))
    heads = [form.format(name, shown[name]) if shown.get(name) else name for name in columns]

    lines = [f"# {key}: {written(value)}" for key, value in {**told, **header, **other}.items()]
    lines = draw(st.permutations(lines))
    lines.append(separator.join(heads))
    lines += [separator.join(cell(row[name]) for name in columns) for row in rows]
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    text = end.join(lines) + draw(st.sampled_from(["", end]))
    units["zenith_unit"] = zenith_unit or angle_unit
    return text, units, header, other, rows


codecs = st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])


@settings(max_examples=20, deadline=None)
@given(files(), codecs)
def test_written_text_is_read_back(file, codec):
    text, units, header, other, rows = file
    data = text.encode(codec)
    assert reader_of(data) is CAPTURE_TEXT
    survey = read_capture_text(data, name="room.csv")
    (capture,) = survey.captures
    assert not survey.skipped

    for key, value in header.items():
        rule = KEYS[key]
        own = getattr(capture, rule.field)
        assert own == (value * rule.factor if isinstance(value, float) else value)
    assert capture.station == header.get("station", "room")
    assert capture.other == other

    turn = 360.0 / FULL_TURN[units["angle_unit"]]
    sense = 1.0 if units["rotation"] == "clockwise" else -1.0
    metres = METRES[units["distance_unit"]]
    zero = header.get("distance_zero_mm", 0.0) / 1000.0

    def column(name, absent=np.nan):
        return np.array([absent if row[name] is None else row[name] for row in rows], dtype=float)

    slope = column("distance") * metres - zero
    zenith = column("zenith") * 360.0 / FULL_TURN[units["zenith_unit"]]
    zenith[np.isnan(zenith)] = 90.0
    np.testing.assert_allclose(capture.zenith_deg, zenith, rtol=1e-14)
    horizontal = slope * np.sin(np.radians(zenith))
    angle = sense * column("angle") * turn
    back = ~np.isnan(horizontal)
    np.testing.assert_allclose(
        capture.xy_m[back], points_of(angle, horizontal, header)[back], rtol=1e-11, atol=1e-11
    )
    np.testing.assert_allclose(
        capture.angle_deg[~back], scaled_deg(angle, header)[~back], rtol=1e-12
    )
    ahead = slope > 0.0  # an absurd zero error turns short distances about
    np.testing.assert_allclose(capture.as_read_m[ahead], (slope + zero)[ahead], atol=1e-6)
    np.testing.assert_array_equal(capture.intensity, column("intensity"))
    assert capture.kind.tolist() == [row["kind"] for row in rows]
    assert capture.target.tolist() == [row["target"] for row in rows]
    lines = lines_of(text.rstrip("\r\n"))
    assert capture.line.tolist() == list(range(len(lines) - len(rows) + 1, len(lines) + 1))


@settings(max_examples=5, deadline=None)
@given(st.lists(files(), min_size=2, max_size=3))
def test_several_captures_in_one_text_are_those_of_each(several):
    parts = [
        f"# station: {number}\n"
        + "\n".join(line for line in lines_of(text) if not line.startswith("# station:"))
        for number, (text, *_) in enumerate(several)
    ]
    together = read_capture_text("\n".join(parts), name="room.csv").captures
    alone = [read_capture_text(part + "\n", name="room.csv").captures[0] for part in parts]
    assert len(together) == len(alone)
    for one, other in zip(together, alone):
        for field in fields(one):
            if field.name != "line":
                np.testing.assert_equal(getattr(one, field.name), getattr(other, field.name))


@settings(max_examples=50, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_whatever_a_file_holds_skipping_never_fails(data):
    survey = read_capture_text(data, skip_unreadable=True)
    assert survey.captures or survey.skipped
