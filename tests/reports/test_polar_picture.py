# SPDX-License-Identifier: GPL-2.0-or-later
"""The picture of a capture shows every reading where it is, marked by its flag."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.reports.flag_marks import INK, MARKS, SOFT, WORD, symbol
from roomtie.processing.reports.polar_picture import RIM, SIZE, polar_picture


def capture(angle, distance, header="", **more):
    rows = "".join(f"{a!r},{d!r}\n" for a, d in zip(angle, distance))
    text = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
    one = read_capture_text(f"{text}{header}angle,distance\n{rows}", name="A.csv").captures[0]
    return replace(one, **{key: np.array(value) for key, value in more.items()})


def drawing(one):
    figure = ElementTree.fromstring(polar_picture(one))  # noqa: S314 - own output
    return figure.find("svg")


def dots(svg, colour):
    """The points ``(n, 2)`` of the paths of dots in a colour."""
    found = []
    for path in svg.iter("path"):
        if path.get("stroke") != colour or path.get("stroke-linecap") != "round":
            continue
        place = np.zeros(2)
        for dx, dy in re.findall(r"m(-?\d+) (-?\d+)h1", path.get("d")):
            place = place + [int(dx), int(dy)]
            found.append(place.copy())
            place = place + [1, 0]
    return np.array(found).reshape(-1, 2)


def circles(svg):
    return [c for c in svg.iter("circle") if c.get("stroke") == "#d5dade"]


def test_readings_stand_at_their_azimuths_and_distances():
    rng = np.random.default_rng(3)
    angle, distance = rng.uniform(0, 360, 60), rng.uniform(0.5, 9, 60)
    svg = drawing(capture(angle.tolist(), distance.tolist(), "# magnetic_azimuth_deg: 30\n"))
    (instrument,) = (c for c in svg.iter("circle") if c.get("fill") == "#fff")
    origin = np.array([float(instrument.get("cx")), float(instrument.get("cy"))])
    ring = circles(svg)[0]
    metres = float(re.match(r"[\d.]+", next(svg.iter("text")).text)[0])
    seen = (dots(svg, INK) - origin) * [1, -1] * metres / float(ring.get("r"))
    azimuth = np.radians(angle + 30.0)
    true = distance[:, None] * np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    near = np.linalg.norm(seen[:, None] - true[None], axis=2)
    pixel = metres / float(ring.get("r")) * 10
    assert near.min(axis=0).max() < pixel
    assert near.min(axis=1).max() < pixel


def test_rings_are_round_numbers_and_few():
    for far in (0.6, 3.0, 14.0, 90.0, 4e3, 7e6):
        svg = drawing(capture([0.0, 90.0, 180.0, 270.0], [far] * 4))
        labels = [float(t.text.split()[0]) for t in svg.iter("text") if t.text.endswith(" m")]
        assert 1 <= len(labels) <= 5
        assert labels[0] <= far * 1.2
        assert f"{labels[0]:.0e}"[0] in "125"


@pytest.mark.parametrize("flag", [flag for flag in Flag if flag not in (0, Flag.NO_RETURN)])
def test_every_flag_has_its_mark(flag):
    """The one flagged reading is drawn in its colour; the table shows the same mark."""
    one = capture([0.0, 90.0, 180.0], [2.0, 2.0, 2.0], flag=[0, int(flag), 0])
    svg = drawing(one)
    mark = MARKS[flag]
    if mark.cross:
        (path,) = (p for p in svg.iter("path") if p.get("stroke") == mark.colour)
        assert "l36 36m0-36l-36 36" in path.get("d")
    else:
        assert len(dots(svg, mark.colour)) == 1
    assert len(dots(svg, INK)) == 2
    assert mark.colour in symbol(flag)
    assert WORD[flag] == flag.text


def test_lost_directions_are_at_the_rim():
    one = capture([0.0, 90.0, 180.0, 200.0], [2.0, 2.0, 2.0, 0.0])
    (path,) = (p for p in drawing(one).iter("path") if p.get("stroke") == SOFT)
    ((x, y),) = re.findall(r"M(\d+) (\d+)l", path.get("d"))
    assert int(y) == SIZE - RIM
    # 200 deg: to the left of straight down.
    assert RIM < int(x) < SIZE / 2


def test_a_far_flagged_reading_does_not_shrink_the_room():
    angle = np.arange(0.0, 360.0, 5.0).tolist()
    far = capture([*angle, 3.0], [2.0] * len(angle) + [900.0], flag=[0] * len(angle) + [3])
    usual = capture(angle, [2.0] * len(angle))
    assert dots(drawing(far), INK).tolist() == dots(drawing(usual), INK).tolist()
    assert "One flagged reading lies beyond." in polar_picture(far)


def test_north_is_named_where_there_is_a_compass():
    ring = ([0.0, 90.0, 180.0], [2.0, 2.0, 2.0])
    assert "zero direction" in polar_picture(capture(*ring))
    assert "magnetic north" in polar_picture(capture(*ring, "# magnetic_azimuth_deg: 7\n"))


@settings(max_examples=30)
@given(
    st.lists(
        st.tuples(
            st.floats(-360, 360),
            st.floats(0, 1e7),
            st.sampled_from([int(flag) for flag in Flag]),
            st.sampled_from([int(kind) for kind in Kind]),
            st.sampled_from(["T1", '<b>"&', "T" * 40, "Zielmarke ä"]),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_any_capture_is_a_drawing(rows):
    angle, distance, flag, kind, target = map(list, zip(*rows))
    one = capture(angle, distance, flag=flag, kind=kind, target=target)
    svg = drawing(one)
    assert svg.get("viewBox") == f"0 0 {SIZE} {SIZE}"
    numbers = re.findall(r"-?\d+(?:\.\d+)?(?:e[+-]\d+)?|nan|inf", polar_picture(one))
    assert "nan" not in numbers and "inf" not in numbers
    assert len(list(svg.iter("circle"))) < 20
