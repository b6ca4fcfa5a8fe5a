# SPDX-License-Identifier: GPL-2.0-or-later
"""The summary of an import says what was read and what to measure again."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.checks import check_capture
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.captures.noise import noise_in
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.captures.spool import Spool
from roomtie.processing.reports.capture_summary import PICTURES, capture_summary_parts
from roomtie.processing.reports.flag_marks import MARKS

VOID = {"meta", "br"}


def capture_summary_html(survey):
    return "".join(capture_summary_parts(survey, "Import of polar captures"))


class Page(HTMLParser):
    """The text of a page and its tables; every element must be closed in order."""

    def __init__(self, html):
        super().__init__()
        self.open, self.words, self.tables, self.tags = [], [], [], set()
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)
        if "td" in self.open or "th" in self.open:
            self.tables[-1][-1][-1] += data

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())

    def table(self, first):
        return next(table for table in self.tables if table[0][0] == first)


def survey(header="", rows="", **more):
    """One full turn of 400 readings, 2 m all round, flagged and checked."""
    ring = "".join(f"{0.9 * k:.1f},2,ring,\n" for k in range(400))
    text = (
        "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
        f"{header}angle,distance,kind,target\n{more.pop('ring', ring)}{rows}"
    )
    part = flag_readings(read_capture_text(text, name=more.pop("name", "A.csv"), **more))
    (capture,) = part.captures
    return replace(part, captures=(check_capture(capture, *noise_in([capture])),))


def page_of(*surveys):
    joined = Survey(
        tuple(capture for part in surveys for capture in part.captures),
        tuple(sentence for part in surveys for sentence in part.skipped),
        tuple(sentence for part in surveys for sentence in part.warnings),
        {name: digest for part in surveys for name, digest in part.digests.items()},
    )
    return Page(capture_summary_html(joined))


def test_stations_and_counts():
    header = "# captured_at: 2026-03-18T09:00+01:00\n# level: 2\n# magnetic_azimuth_deg: 12.3\n"
    page = page_of(survey(header, "1.5,0.05,ring,\n2.5,,ring,\n3,2,target,T1\n"))
    headings, row = page.table("Station")[:2]
    assert dict(zip(headings, row)) == {
        "Station": "A",
        "File": "A.csv",
        "Level": "2",
        "Captured at (+01:00)": "2026-03-18 09:00",
        "Readings": "403",
        "Usable, %": "99.5",
        "Distances, m": "2.00 to 2.00",
        "Targets": "1",
        "Magnetic azimuth, deg": "12.3",
    }
    flags = next(table for table in page.tables if " too near" in table[0])
    assert flags[1] == ["A", "1", "1"]
    assert "1 capture from 1 file: 403 readings, 99.5 % of them usable." in page.text


def test_missing_header_values_are_listed():
    page = page_of(survey("# instrument_height_m: 1.2\n"), survey(name="B.csv"))
    assert page.table("Header value")[1:] == [
        ["captured_at", "all stations"],
        ["instrument_height_m", "B"],
        ["magnetic_azimuth_deg", "all stations"],
        ["longitude_deg, latitude_deg", "all stations"],
    ]


TIED = "# magnetic_azimuth_deg: 1\n"
LOST = "".join(f"{0.9 * k:.1f},{'' if k % 2 else 2},ring,\n" for k in range(400))
HALF = "".join(f"{0.45 * k:.2f},2,ring,\n" for k in range(400))
SMALL = "".join(f"{0.9 * k:.1f},0.15,ring,\n" for k in range(400))


MOVED = survey("# moved: yes\n")


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (MOVED, "Measure again: the instrument did not stand still."),
        (MOVED, "the instrument reports that it was moved"),
        (survey("# tilt_deg: -2\n"), "Measure again: the instrument was not level."),
        (survey("# tilt_deg: -2\n"), "tilted by 2 deg: at 10 m a distance may be 6 mm too long"),
        (
            survey("# tilt_deg: -2\n# moved: yes\n"),
            "Measure again: the instrument did not stand still and was not level.",
        ),
        (survey(ring=LOST), "A : Set up once more near by: much of what the beam met sent nothing"),
        (survey(ring=LOST), "50 % of the readings brought no return."),
        (survey(ring=HALF), "Nothing was measured from"),
        (survey(ring="0,2,ring,\n", rows="90,2,ring,\n"), "Only 2 ring readings are usable"),
        (
            survey(ring="0,2,ring,\n", rows="90,2,ring,\n"),
            "Measure again: too few readings are usable.",
        ),
        (survey(ring=SMALL), "check the units and import again"),
        (survey("# compass_calibrated: no\n"), "The compass was not calibrated"),
        (survey(), "No station has a compass bearing"),
        (survey(), "Nothing to measure again."),
    ],
)
def test_advice_where_something_should_be_measured_again(part, words):
    assert words.lower() in page_of(part).text.lower()


def test_the_worst_station_is_told_first():
    parts = [
        survey(name="A.csv"),
        survey("# tilt_deg: 2\n", name="B.csv"),
        survey("# tilt_deg: 2\n# moved: yes\n", name="C.csv"),
        survey("# tilt_deg: 2\n", "".join(f"{k + 0.4},,ring,\n" for k in range(90)), name="D.csv"),
    ]
    text = page_of(*parts).text
    assert "Measure 3 stations again, the worst first:" in text
    places = [text.index(f"{name} (level 0") for name in "CDB"]
    assert places == sorted(places)
    assert "A (level 0" not in text
    advice = {row[0]: row[-1] for row in page_of(*parts).table("Station")[1:5]}
    assert advice["A"] == ""
    assert advice["B"] == "Measure again: the instrument was not level."


def test_a_capture_of_targets_alone_is_no_thin_ring():
    page = page_of(survey(ring="0,2,target,T1\n"))
    assert "Nothing to measure again." in page.text
    assert "Height of the cut" not in page.text


def test_flags_are_drawn_by_colour_and_shape():
    part = survey(rows="1.5,0.05,ring,\n2.5,,ring,\n")
    html = capture_summary_html(part)
    assert html.count(MARKS[Flag.TOO_NEAR].colour) == 3  # picture, its table, the table of flags
    assert len({(mark.colour, mark.cross) for mark in MARKS.values()}) == len(Flag)


def test_the_height_of_the_cut():
    ring = "".join(f"{0.9 * k:.1f},2,ring,{90 - (k % 3) * 3}\n" for k in range(400))
    header = "# instrument_height_m: 1.5\n"
    text = (
        f"# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n{header}"
        f"angle,distance,kind,zenith\n{ring}"
    )
    inclined = flag_readings(read_capture_text(text, name="Z.csv"))
    page = page_of(survey("# instrument_height_m: 1.2\n"), inclined, survey(name="B.csv"))
    high = f"{1.5 + 2 * np.cos(np.radians(84)):.2f}"
    assert page.table("Level")[1] == ["0", "3", "1.20 to 1.50", f"1.20 to {high}", "266"]
    assert "Level 0 is cut at 1.20 m (A) and 1.50 m (Z)" in page.text
    assert "no instrument height is given for B" in page.text
    assert f"between 1.50 and {high} m above the station point, 0.21 m apart" in page.text
    assert "the files do not say" in page_of(survey()).text


def many(count, again):
    """Captures that share their arrays; every so many has something to measure again."""
    few = "".join(f"{3 * k},2,ring,\n" for k in range(120))
    (good,), (bad,) = survey(ring=few).captures, MOVED.captures
    return Survey(
        tuple(
            replace(bad if number in again else good, station=f"S{number:04d}")
            for number in range(count)
        )
    )


def test_of_many_stations_only_those_to_measure_again_are_drawn():
    html = capture_summary_html(many(PICTURES, ()))
    assert html.count('class="station"') == PICTURES
    html = capture_summary_html(many(PICTURES + 1, (7, 80)))
    assert html.count('class="station"') == 2
    text = Page(html).text
    assert "Of more than 200 stations only those to measure again are drawn: 2 of 201." in text
    assert "S0007 (level 0" in text


def test_captures_are_fetched_one_at_a_time(tmp_path):
    """With readings on disk the page asks for one capture after the other and keeps none."""
    with Spool() as spool:
        stored = replace(many(30, (3,)), captures=tuple(map(spool.put, many(30, (3,)).captures)))
        assert capture_summary_html(stored) == capture_summary_html(many(30, (3,)))


def test_links_lead_to_pictures():
    html = capture_summary_html(many(3, (1,)))
    anchors = set(re.findall(r'id="(\w+)"', html))
    assert set(re.findall(r'href="#(\w+)"', html)) == anchors
    assert len(anchors) == 3


def test_advice_about_targets():
    seen = "10,2,target,T1\n"
    a, b = survey(TIED, seen), survey(TIED, seen + "20,2,target,T2\n", name="B.csv")
    c = survey(TIED, name="C.csv")
    text = page_of(a, b, c).text
    assert "was sighted from C: only overlap can tie" in text
    assert "tying nothing: T2 (B)." in text
    assert "No target was sighted" in page_of(a.__class__(a.captures[:0]), c, survey(TIED)).text
    assert "Nothing to measure again." in page_of(a, survey(TIED, seen, name="B.csv")).text


def test_user_text_is_escaped():
    nasty = survey(
        '# station: <script>alert("1")</script>\n',
        '4,2,target,"<b>T&1"\n',
        name="<i>a.csv",
    )
    html = capture_summary_html(nasty)
    page = Page(html)
    assert "script" not in page.tags
    assert "i" not in page.tags
    assert '<script>alert("1")</script>' in page.text
    assert "<b>T&1" in page.text


def test_skipped_lines_and_warnings_are_told():
    part = survey(rows="5,wide,ring,\n", header="# longitude_deg: 3\n", skip_unreadable=True)
    text = page_of(part).text
    assert "Left out (1)" in text
    assert "A.csv, line 406: distance is 'wide'" in text
    assert "half a geotag is not used" in text


def test_the_page_stands_alone_and_warns():
    html = capture_summary_html(survey())
    assert not re.search(r'src=|href="(?!#)|url\(|@import', html)
    assert "laser class on the instrument's label" in Page(html).text
    assert "no boundary document" in Page(html).text


def test_a_survey_without_captures_is_no_trouble():
    assert "0 captures from 0 files" in Page(capture_summary_html(Survey(()))).text


@pytest.mark.parametrize("name", ["flat-six-stations", "duplex-level-1"])
def test_real_surveys(shared_data, name):
    result = import_captures(shared_data(name))
    page = Page(capture_summary_html(result))
    stations = page.table("Station")
    assert [row[0] for row in stations[1:]] == list(result.names)
    share = stations[0].index("Usable, %")
    assert [row[share] for row in stations[1:]] == [
        f"{100 * c.usable.sum() / len(c):.1f}" for c in result.captures
    ]
    flags = next(table for table in page.tables if " isolated" in table[0])
    column = flags[0].index(" isolated")
    total = sum(int((c.flag == Flag.ISOLATED).sum()) for c in result.captures)
    assert flags[-1][column] == str(total)


def test_keys_that_mean_nothing_here_are_listed():
    text = (
        "# station: A\n# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
        "# weather: <rain>\nangle,distance\n0,1\n90,1\n"
    )
    page = capture_summary_html(read_capture_text(text, name="a.csv"))
    assert "Further keys, kept as text" in page
    assert "weather" in page and "&lt;rain&gt;" in page
