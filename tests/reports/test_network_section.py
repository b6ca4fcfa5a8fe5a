# SPDX-License-Identifier: GPL-2.0-or-later
"""The report of an adjustment says what a surveyor signs, readable by one who was not there."""

import json
import re
from dataclasses import fields, replace
from html.parser import HTMLParser

import numpy as np
import pytest
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Kind, Survey
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import tie_stations
from roomtie.processing.reports.network_json import network_json
from roomtie.processing.reports.network_names import in_words
from roomtie.processing.reports.network_section import network_section_html
from roomtie.processing.reports.network_stations import ellipse_cells
from roomtie.processing.stations.choices import Choices, Start
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions


class Tables(HTMLParser):
    """The tables of a page as lists of rows of cells, by caption."""

    def __init__(self, html):
        super().__init__()
        self.tables, self.rows, self.caption, self.cell = {}, [], "", None
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        if tag == "table":
            self.rows, self.caption = [], ""
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th", "caption"):
            self.cell = ""

    def handle_data(self, data):
        if self.cell is not None:
            self.cell += data

    def handle_endtag(self, tag):
        if tag == "caption":
            self.caption, self.cell = self.cell, None
        elif tag in ("td", "th"):
            self.rows[-1].append(self.cell)
            self.cell = None
        elif tag == "table":
            self.tables[self.caption or self.rows[0][0]] = self.rows

    def __getitem__(self, begin):
        return next(rows for caption, rows in self.tables.items() if caption.startswith(begin))


@pytest.fixture(scope="module")
def first(example_survey):
    return tie_stations(import_captures(example_survey / "captures"), NetworkOptions())


@pytest.fixture(scope="module")
def decided(example_survey, first):
    choices = Choices(
        held=("S01", "S02"),
        left_out=("S03",),
        ties_left_out=frozenset(["compass of S04"]),
        sigma_factor={"S13 to T1": 3.0},
    )
    start = Start.of(first.network.station, first.network)
    survey = import_captures(example_survey / "captures")
    return tie_stations(survey, NetworkOptions(choices=choices, start=start))


def html_of(tied):
    return network_section_html(tied.survey, tied.network)


def test_the_sections_follow_each_other(first):
    titles = re.findall(r"<h2>([^<]*)</h2>", html_of(first))
    assert titles == [
        "Adjustment", "Network", "Storeys", "Decisions", "Stations", "Targets", "Ties",
        "Reliability", "Loops", "Instrument",
    ]  # fmt: skip


def test_the_verdict_stands_first_in_words(first):
    lead = re.search(r'<p class="lead">(.*?)</p>', html_of(first)).group(1)
    assert "18 of 18 stations are tied, in 1 connected group." in lead
    assert "chi-square test, 95 %" in lead and "The least certain position is that of S" in lead


def test_the_datum_says_which_stations_it_is_of(first, decided):
    free = "free network, inner constraints over the stations"
    assert f">{free}<" in html_of(first)
    later = replace(first, network=replace(first.network, joined_since=("S05", "S17")))
    assert f">{free} that were connected before: all but S05, S17<" in html_of(later)
    assert network_json(later.network)["joined_since"] == ["S05", "S17"]
    assert ">S01, S02 held<" in html_of(decided)


def test_observations_and_unknowns_make_the_degrees_of_freedom(first):
    s = first.network.statistics
    used = sum(used for _, _, used in s.observations)
    unknowns = dict(s.unknowns)
    # A pose has three values, a target two, a wall direction and distance (the surface of a target
    # has a direction only), the compass offset one; the three motions of a free network are open.
    free = 3 * unknowns["station pose"] + 2 * unknowns["target"] + unknowns["compass offset"] - 3
    left = used - free - s.degrees_of_freedom
    assert unknowns["wall or surface"] <= left <= 2 * unknowns["wall or surface"]


def test_decisions_are_told_with_what_they_do(decided):
    rows = Tables(html_of(decided))["Decided by a person"][1:]
    told = {row[0]: row[1:] for row in rows}
    assert told["station S01"] == [
        "hold",
        "keeps its pose to the last digit; the datum, without error",
    ]
    assert "its own error goes on" in told["station S02"][1]
    assert told["station S03"] == ["leave out", "takes no part; its readings stay"]
    assert told["tie compass of S04"][0] == "leave out"
    assert told["tie S13 to T1"] == ["sigma factor 3", "its standard errors are multiplied by 3"]


def test_where_nothing_was_decided_it_says_so(first):
    assert "Decided by a person, not by the adjustment" not in html_of(first)


def test_the_bumped_station_is_proposed_with_its_evidence(first):
    rows = Tables(html_of(first))["Proposed to a person"][1:]
    assert [row[0] for row in rows] == ["S08"]
    assert "chi-square" in rows[0][1] and "T13" in rows[0][1]


def test_residuals_are_adjusted_less_observed(first):
    header, *rows = Tables(html_of(first))["Sightings of targets"]
    network = first.network
    for row in rows[:20]:
        cells = dict(zip(header[:2] + ["direction", "turn", "distance", "shift"], row))
        station = network.station.index(cells["From"])
        target = network.targets.xy_m[network.targets.name.index(cells["To"])]
        away = np.hypot(*(target - network.xy_m[station]))
        observed = float(cells["distance"]) + float(cells["shift"]) / 1e3
        assert observed == pytest.approx(away, abs=1.1e-4)


def test_a_target_sighted_twice_has_both_observations(first):
    """The sightings of one capture alone, one of them read again 1 mm and 0.02 deg off."""
    capture = next(c for c in first.survey.captures if (c.kind == Kind.TARGET).sum() > 1)
    row = int(np.flatnonzero(capture.kind == Kind.TARGET)[0])
    change = {"angle_deg": 0.02, "distance_m": 0.001, "slope_distance_m": 0.001}
    columns = {
        field.name: np.append(value, value[row] + change.get(field.name, 0))
        for field in fields(capture)
        if isinstance(value := getattr(capture, field.name), np.ndarray) and field.name != "target"
    }
    columns["target"] = np.append(capture.target, capture.target[row])
    twice = replace(capture, **columns)
    survey = Survey(tuple(twice if c is capture else c for c in first.survey.captures))
    faces = [fit_faces(c) for c in survey.captures]
    tables = Tables(network_section_html(survey, adjust_survey(survey, faces)))
    found = [
        (float(r[2]), float(r[4]))
        for r in tables["Sightings of targets"][1:]
        if r[:2] == [twice.station, str(twice.target[row])]
    ]
    expected = [(twice.angle_deg[k] % 360.0, twice.distance_m[k]) for k in (row, -1)]
    assert np.array(found) == pytest.approx(np.array(expected), abs=6e-5)


def test_a_sighting_that_nothing_controls_has_no_limit(first):
    rows = Tables(html_of(first))["Sightings of targets"][1:]
    alone = [row for row in rows if row[7] == "0.00"]
    assert alone and all(row[8:] == ["∞", "∞"] for row in alone)


def test_ellipses_have_axes_and_azimuth():
    """Errors of 3 mm along an azimuth of 30 degrees and 1 mm across it."""
    along, across = np.array([0.5, np.sqrt(0.75)]), np.array([np.sqrt(0.75), -0.5])
    covariance = 9e-6 * np.outer(along, along) + 1e-6 * np.outer(across, across)
    assert ellipse_cells(covariance) == [("7.3 × 2.4", "30")]


def test_loops_are_in_mm_and_of_the_length(first):
    header, *rows = Tables(html_of(first))["The largest misclosures"]
    assert header[-1] == "Of the length"
    for _, length, misclosure, _, share in rows:
        if float(misclosure) > 1.0:
            n = float(share.removeprefix("1:"))
            # Both are rounded to a tenth.
            assert n == pytest.approx(1e3 * float(length) / float(misclosure), rel=0.06)


def test_what_stations_rest_on_is_said(first):
    rows = Tables(html_of(first))["Stations that rest on one observation"][1:]
    assert [row[0] for row in rows if "T1" in row[1]] == ["S14, S15, S16, S17, S18"]


def test_sketches_have_a_scale_and_north(first):
    figures = re.findall(r"<figure>.*?</figure>", html_of(first), flags=re.DOTALL)
    assert len(figures) == 2
    for one in figures:
        assert ">N</text>" in one and re.search(r">\d+ m</text>", one)
        assert "up is plan north" in one


def test_no_line_is_drawn_to_a_station_sketched_apart(decided):
    one = re.findall(r"<figure>.*?</figure>", html_of(decided), flags=re.DOTALL)[0]
    assert one.count("stroke-dasharray") <= 1


@pytest.mark.parametrize(
    ("observation", "words"),
    [
        ("surface offset S7-surface S6/3", "distance of wall face 3 of S6, seen from S7"),
        ("surface direction S7-surface T-2/3", "direction of wall face 3 of T-2, seen from S7"),
        ("direction S13-T2", "direction S13-T2"),
    ],
)
def test_observations_in_words(observation, words):
    assert in_words(observation) == words


def test_the_json_tells_what_the_page_does(decided):
    found = network_json(decided.network)
    assert found["choices"] == {
        "hold": ["S01", "S02"],
        "leave_out": ["S03"],
        "ties_left_out": ["compass of S04"],
        "sigma_factor": {"S13 to T1": 3.0},
    }
    assert "S08" in found["proposals"]
    assert len(found["loops"]) == len(decided.network.loops)
    assert json.dumps(found)
