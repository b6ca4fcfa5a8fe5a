# SPDX-License-Identifier: GPL-2.0-or-later
"""The summary of an import says what was read and what to measure again."""

import re
from html.parser import HTMLParser

import pytest
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.flags import flag_readings
from roomtie.processing.captures.model import Flag, Survey
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.reports.capture_summary import capture_summary_html

VOID = {"meta", "br"}


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
    """One full turn of 400 readings, 2 m all round."""
    ring = "".join(f"{0.9 * k:.1f},2,ring,\n" for k in range(400))
    text = (
        "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
        f"{header}angle,distance,kind,target\n{more.pop('ring', ring)}{rows}"
    )
    return flag_readings(read_capture_text(text, name=more.pop("name", "A.csv"), **more))


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
        "Captured at": "2026-03-18 09:00+01:00",
        "Readings": "403",
        "Usable": "401",
        "Distances, m": "2.00 to 2.00",
        "Targets": "1",
        "Magnetic azimuth, deg": "12.3",
    }
    flags = next(table for table in page.tables if "too near" in table[0])
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


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (survey("# moved: yes\n"), "moved during this capture: measure it again"),
        (survey("# tilt_deg: -2\n"), "tilted by 2 deg: at 10 m a distance may be 6 mm too long"),
        (survey(ring=LOST), "50 % of the readings brought no return: look for glass"),
        (survey(ring=HALF), "cover 180 deg of the full turn"),
        (survey(ring="0,2,ring,\n", rows="90,2,ring,\n"), "Only 2 ring readings are usable"),
        (survey(ring=SMALL), "check distance_unit"),
        (survey("# compass_calibrated: no\n"), "The compass was not calibrated"),
        (survey(), "No station has a compass bearing"),
    ],
)
def test_advice_where_something_should_be_measured_again(part, words):
    assert words in page_of(part).text


def test_advice_about_targets():
    seen = "10,2,target,T1\n"
    a, b = survey(TIED, seen), survey(TIED, seen + "20,2,target,T2\n", name="B.csv")
    c = survey(TIED, name="C.csv")
    text = page_of(a, b, c).text
    assert "was sighted from C: only overlap can tie" in text
    assert "tying nothing: T2 (B)." in text
    assert "No target was sighted" in page_of(a.__class__(a.captures[:0]), c, survey(TIED)).text
    assert (
        "Nothing needs to be measured again." in page_of(a, survey(TIED, seen, name="B.csv")).text
    )


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
    assert not re.search(r"(src|href)=|url\(|@import", html)
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
    assert [int(row[5]) for row in stations[1:]] == [int(c.usable.sum()) for c in result.captures]
    flags = next(table for table in page.tables if "isolated" in table[0])
    column = flags[0].index("isolated")
    total = sum(int((c.flag == Flag.ISOLATED).sum()) for c in result.captures)
    assert flags[-1][column] == str(total)


def test_keys_that_mean_nothing_here_are_listed():
    text = (
        "# station: A\n# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
        "# weather: <rain>\nangle,distance\n0,1\n90,1\n"
    )
    page = capture_summary_html(read_capture_text(text, name="a.csv"))
    assert "Keys without a meaning here" in page
    assert "weather" in page and "&lt;rain&gt;" in page
