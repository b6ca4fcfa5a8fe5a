# SPDX-License-Identifier: GPL-2.0-or-later
"""The site section says what the fit holds, and nothing else."""

import math
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from roomtie.processing.reports.html import page
from roomtie.processing.reports.site_section import site_section_html
from roomtie.processing.site.fit import Control, far_corner_sigma, fit_site
from roomtie.tests.site.site_surveys import network_of, survey_of, truth


class Cells(HTMLParser):
    """The rows of all tables as lists of their cells' text; fails where elements do not nest."""

    def __init__(self, html):
        super().__init__()
        self.rows, self.open = [], []
        self.feed(html)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data

    def row(self, start):
        return next(row for row in self.rows if row[0].startswith(start))


@pytest.fixture(scope="module")
def fit():
    true = truth()
    errors = np.array([[3.0, -2.0], [-4.0, 1.0], [2.0, 5.0], [0.0, -3.0], [1.0, 1.0]])
    survey = survey_of(true, geotag_errors=errors, compass_errors_deg=[1.0, -2.0, 35.0, 2.0, -1.0])
    return fit_site(survey, network_of(true), target_crs="EPSG:32632")[0]


def test_north_adds_up(fit):
    cells = Cells(site_section_html([fit]))
    magnetic = float(cells.row("Magnetic azimuth")[1])
    declination = float(cells.row("Declination")[1])
    true = float(cells.row("True azimuth")[1])
    convergence = float(cells.row("Convergence")[1])
    grid = float(cells.row("Grid azimuth")[1])
    assert magnetic + declination == pytest.approx(true, abs=2e-4)
    assert true - convergence == pytest.approx(grid, abs=2e-4)
    assert grid == pytest.approx(math.degrees(fit.rotation_rad), abs=1e-4)
    assert cells.row("Declination")[3] == "WMM2025, 2026-03-18"


def test_a_grid_with_turned_axes_still_names_the_grid_azimuth():
    """Axes west, south: the azimuth in the map's x, y is half a turn from the grid azimuth."""
    true = truth("EPSG:2048", (18.6, -34.0), rotation_deg=200.0)
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    fit = fit_site(survey, network_of(true), target_crs="EPSG:2048")[0]
    cells = Cells(site_section_html([fit]))
    assert float(cells.row("Grid azimuth")[1]) == pytest.approx(20.0, abs=1e-3)
    assert float(cells.row("Azimuth of plan north in the map")[1]) == pytest.approx(200.0, abs=1e-3)


def test_what_was_rejected_stands_first_with_its_reason(fit):
    cells = Cells(site_section_html([fit]))
    head = next(i for i, row in enumerate(cells.rows) if row[0] == "Kind")
    kind, station, *_, used, reason = cells.rows[head + 1]
    assert (kind, station, used) == ("Compass", "S03", "not used")
    assert "local attraction" in reason
    assert len(cells.rows) - head - 1 == len(fit.evidence)


def test_the_far_corner_is_the_worst_point_of_the_outline(fit):
    corners = np.array([[0.0, 0.0], [40.0, 5.0], [-90.0, 20.0], [3.0, 60.0]])
    html = site_section_html([fit], {fit.network: corners})
    assert "x -90.00 m, y 20.00 m" in html
    stated = re.search(r"worth ([\d.]+) m in east and ([\d.]+) m in north", html)
    expected = far_corner_sigma(fit, corners[2])
    assert [float(v) for v in stated.groups()] == pytest.approx(list(expected), abs=0.05)


def test_errors_grow_with_the_distance_where_no_outline_is_given(fit):
    cells = Cells(site_section_html([fit]))
    head = next(i for i, row in enumerate(cells.rows) if row[0].startswith("From the plan"))
    metres = [float(row[1].split()[0]) for row in cells.rows[head + 1 : head + 5]]
    assert metres == sorted(metres)
    assert metres[-1] > metres[0]


def test_a_fit_without_a_compass_says_nothing_of_declination():
    true = truth()
    targets = {"T1": [-10.0, 4.0], "T2": [12.0, -8.0]}
    xy = true.host_m(np.array(list(targets.values())))
    fit = fit_site(
        survey_of(true),
        network_of(true, targets=targets),
        target_crs="EPSG:32632",
        control=Control(tuple(targets), xy),
    )[0]
    html = site_section_html([fit])
    assert "Declination" not in html
    assert "nan" not in html.lower()
    assert "control points (2 used)" in html


def test_lengths_on_the_grid_are_those_of_the_scale(fit):
    html = site_section_html([fit])
    stated = float(re.search(r"ground are ([\d.]+) m on the\s+grid", html)[1])
    assert stated == pytest.approx(100 * fit.scale, abs=1e-4)
    area = float(re.search(r"([\d.]+) m² for 100 m²", html)[1])
    assert area == pytest.approx(100 * fit.scale**2, abs=1e-4)


def test_names_are_escaped_and_the_page_nests(fit):
    true = truth(stations=2)
    survey = survey_of(true, geotag_errors=np.zeros((2, 2)), compass_errors_deg=np.zeros(2))
    network = network_of(true)
    captures = tuple(replace(c, station=f"<b>{c.station}") for c in survey.captures)
    named = replace(network, station=tuple(c.station for c in captures))
    fits = fit_site(replace(survey, captures=captures), named, target_crs="EPSG:32632")
    html = page("Site", site_section_html(fits))
    assert "<b>" not in html
    assert "&lt;b&gt;S01" in html


def test_no_fit_says_why():
    html = site_section_html([])
    assert "own coordinates" in html
