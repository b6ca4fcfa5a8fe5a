# SPDX-License-Identifier: GPL-2.0-or-later
"""Any scans written as laser scan JSON, in any layout, are read back as they were."""

import json
from math import inf, nan, pi

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from instrument_geometry import points_of, scaled_deg
from roomtie.processing.captures.header import KEYS
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.readers import SCAN_JSON, reader_of
from roomtie.processing.captures.scan_json import read_scan_json
from test_capture_text_round_trip import headers, others, words

NO_RETURN = (None, 0, 0.0, nan, inf, -inf)
ranges = st.sampled_from(NO_RETURN) | st.floats(1e-3, 1e6) | st.integers(1, 10**6)
intensities = st.none() | st.floats(allow_nan=False, allow_infinity=False) | st.integers(0, 2**63)


@st.composite
def scans(draw, number):
    count = draw(st.integers(1, 15))
    step = draw(st.floats(1e-6, 4 * pi / 15) | st.floats(-4 * pi / 15, -1e-6))
    reach = step * (count - 1)
    first = draw(st.floats(max(-2 * pi, -2 * pi - reach), min(2 * pi, 2 * pi - reach)))
    header = draw(headers)
    header["station"] = f"{number} {header.get('station', '')}".strip()
    scan = {
        "angle_min": first,
        "angle_increment": step,
        "ranges": draw(st.lists(ranges, min_size=count, max_size=count)),
        "capture": {**header, **draw(others)},
    }
    optional = {
        "range_min": st.floats(0, 1) | st.none(),
        "range_max": st.floats(1, 100) | st.integers(1, 100) | st.just(inf),
        "angle_max": st.just(first + reach),
        "intensities": st.lists(intensities, min_size=count, max_size=count) | st.just([]),
        "scan_time": st.floats(0, 1),
    }
    scan.update(draw(st.fixed_dictionaries({}, optional=optional)))
    return dict(draw(st.permutations(list(scan.items()))))


def plain(scan):
    """The scan with times as text."""
    header = {key: getattr(v, "isoformat", lambda v=v: v)() for key, v in scan["capture"].items()}
    return {**scan, "capture": header}


@st.composite
def files(draw):
    content = [draw(scans(number)) for number in range(draw(st.integers(1, 3)))]
    written = [plain(scan) for scan in content]
    alone = len(content) == 1 and draw(st.booleans())
    text = json.dumps(
        written[0] if alone else written,
        ensure_ascii=draw(st.booleans()),
        indent=draw(st.none() | st.integers(0, 2)),
    )
    text = text.replace("\n", draw(st.sampled_from(["\n", "\r\n"])))
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))), content


@settings(max_examples=20, deadline=None)
@given(files())
def test_written_scans_are_read_back(file):
    data, content = file
    assert reader_of(data) is SCAN_JSON
    survey = read_scan_json(data, name="room.json")
    assert not survey.skipped
    assert len(survey) == len(content)
    for capture, scan in zip(survey.captures, content):
        check(capture, scan)


def check(capture, scan):
    values, count = scan["ranges"], len(scan["ranges"])
    for key, value in scan["capture"].items():
        if key in KEYS:
            rule = KEYS[key]
            own = getattr(capture, rule.field)
            assert own == (value * rule.factor if isinstance(value, float) else value)
        else:
            assert capture.other[key] == value
    angle = scan["angle_min"] + scan["angle_increment"] * np.arange(count)
    zero = scan["capture"].get("distance_zero_mm", 0.0) / 1000.0
    none = np.array([value is None or value == 0 or not np.isfinite(value) for value in values])
    distance = np.array([nan if gone else value for value, gone in zip(values, none)], dtype=float)
    there = points_of(-np.degrees(angle), distance - zero, scan["capture"])
    # Far away, rounding of the sine moves a point by as much of its distance.
    farthest = np.nanmax(np.abs(distance), initial=0.0)
    np.testing.assert_allclose(capture.xy_m, there, rtol=1e-11, atol=1e-11 + 1e-14 * farthest)
    scaled = scaled_deg(-np.degrees(angle), scan["capture"])
    np.testing.assert_allclose(capture.angle_deg[none], scaled[none], rtol=1e-13, atol=1e-13)
    np.testing.assert_array_equal(capture.distance_m, capture.slope_distance_m)
    own = scan.get("intensities") or [None] * count
    np.testing.assert_array_equal(capture.intensity, np.array(own, dtype=float))
    near, far = scan.get("range_min"), scan.get("range_max", inf)
    for index in range(count):
        value = values[index]
        flag = Flag.USABLE
        if none[index]:
            flag = Flag.NO_RETURN
        elif near is not None and value < near:
            flag = Flag.TOO_NEAR
        elif value > far:
            flag = Flag.TOO_FAR
        assert capture.flag[index] == flag
    assert (capture.kind == Kind.RING).all()
    assert (capture.target == "").all()
    assert (capture.zenith_deg == 90.0).all()
    assert capture.seq.tolist() == list(range(1, count + 1))


@settings(max_examples=30, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | words,
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(
                st.sampled_from(
                    [
                        *KEYS,
                        "ranges",
                        "angle_min",
                        "angle_increment",
                        "capture",
                        "intensities",
                        "range_min",
                        "range_max",
                    ]
                ),
                inner,
                max_size=6,
            )
        ),
        max_leaves=20,
    )
)
def test_whatever_json_a_file_holds_skipping_never_fails(content):
    survey = read_scan_json(json.dumps(content).encode(), skip_unreadable=True)
    assert survey.captures or survey.skipped
