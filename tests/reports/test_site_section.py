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
from roomtie.processing.walls.model import Rooms
from roomtie.tests.site.site_surveys import network_of, survey_of, truth
from shapely.geometry import box


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


def bearings(fit):
    """The rows of the north table by column, the fitted one under its name."""
    cells = Cells(site_section_html([fit]))
    head = next(i for i, row in enumerate(cells.rows) if row[0] == "Station")
    rows = cells.rows[head + 1 : head + 2 + len(fit.bearings)]
    return {row[0]: dict(zip(cells.rows[head], row)) for row in rows}


def test_north_adds_up_for_every_station_and_for_the_plan(fit):
    rows = bearings(fit)
    assert [*rows] == ["S01", "S02", "S03", "S04", "S05", "Plan, fitted"]
    for name, row in rows.items():
        number = {
            key: float(row[key])
            for key in (
                "Magnetic", "Declination", "True", "Convergence", "Grid",
                "Orientation", "Plan north",
            )
        }  # fmt: skip
        # Each figure is rounded to its last digit.
        close = {"abs": 3e-4 if name.startswith("Plan") else 0.03}
        true = number["Magnetic"] + number["Declination"]
        assert (true - number["True"] + 1) % 360 == pytest.approx(1, **close)
        grid = number["True"] - number["Convergence"]
        assert (grid - number["Grid"] + 1) % 360 == pytest.approx(1, **close)
        plan = number["Grid"] - number["Orientation"]
        assert (plan - number["Plan north"] + 1) % 360 == pytest.approx(1, **close)
    fitted = float(rows["Plan, fitted"]["Plan north"])
    assert fitted == pytest.approx(math.degrees(fit.rotation_rad), abs=1e-4)


def test_each_bearing_is_told_against_the_others(fit):
    """The errors are 1, -2, 35, 2 and -1 degrees: S03 is 35 from the mean of the others,
    which is 0; S02 is -2 against the mean 0.67 of the three others that are used."""
    rows = bearings(fit)
    off = {name: row["Off the others"] for name, row in rows.items()}
    bent, remark = off["S03"].split(", ")
    assert float(bent) == pytest.approx(35.0, abs=0.3) and remark == "not used"
    assert float(off["S02"]) == pytest.approx(-2.67, abs=0.3)
    assert {row["Compass"] for row in rows.values()} == {"not stated", ""}


def test_declination_is_told_with_model_date_place_and_what_it_is_worth(fit):
    html = site_section_html([fit])
    sigma = math.degrees(fit.north.sigma_declination_rad)
    assert f"± {sigma:.2f} deg" in html and "on 2026-03-18" in html
    assert "WMM2025, epoch 2025.0, for dates to 2029-12-31" in html
    # The middle of geotags that are metres off.
    assert re.search(r"longitude 9\.60\d+, latitude 48\.(?:19|20)\d+ deg, 300 m", html)
    assert f"{fit.north.horizontal_nt:.0f} nT: outside the model" in html


@pytest.mark.parametrize(
    ("lonlat", "zone"), [((-96.0, 80.0), "caution zone"), ((-121.0, 86.0), "blackout zone")]
)
def test_zones_where_compasses_are_weak_are_named(lonlat, zone):
    """Published test values: 2164 nT at 80 N 96 W, 1504 nT at 89 N 121 W."""
    true = truth("EPSG:5041" if lonlat[1] > 84 else "EPSG:32614", lonlat)
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    fit = fit_site(survey, network_of(true), target_crs=true.crs)[0]
    html = site_section_html([fit])
    assert f"nT: {zone} of the model" in html
    assert any(zone in warning for warning in fit.warnings)


def arrows(fit):
    """The angles of the figure's arrows, clockwise from up, by the words at their tips."""
    html = site_section_html([fit])
    lines = re.findall(r'<line x1="0" y1="0" x2="([-\d.]+)" y2="([-\d.]+)"', html)
    words = re.findall(r'fill="#\w+">([^<]+)</text>', html)
    ends = np.array(lines, dtype=float)
    return dict(zip(words, np.degrees(np.arctan2(ends[:, 0], -ends[:, 1]))))


def test_the_figure_has_the_norths_in_their_order(fit):
    found = arrows(fit)
    true, grid, magnetic, plan = (
        next(v for k, v in found.items() if k.startswith(f"{name} north"))
        for name in ("true", "grid", "magnetic", "plan")
    )
    assert true == pytest.approx(0.0, abs=0.1)
    # Convergence 0.45, declination 4 and plan north 23 degrees east: set apart by 18 at least.
    assert 17 < grid < magnetic - 17 < plan - 34
    assert f"magnetic north, {math.degrees(fit.north.declination_rad):+.2f}°" in found


def test_a_grid_with_turned_axes_still_names_the_grid_azimuth():
    """Axes west, south: the azimuth in the map's x, y is half a turn from the grid azimuth."""
    true = truth("EPSG:2048", (18.6, -34.0), rotation_deg=200.0)
    survey = survey_of(true, geotag_errors=np.zeros((5, 2)), compass_errors_deg=np.zeros(5))
    fit = fit_site(survey, network_of(true), target_crs="EPSG:2048")[0]
    grid = bearings(fit)["Plan, fitted"]["Grid"]
    assert float(grid) == pytest.approx(20.0, abs=1e-3)
    stated = re.search(r"in the map&#x27;s x, y: ([\d.]+) deg", site_section_html([fit]))
    assert float(stated[1]) == pytest.approx(200.0, abs=1e-3)


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


def test_rooms_are_told_on_the_ground_and_on_the_grid(fit):
    rooms = Rooms(
        ("a", "b"), ("Hall", "Elsewhere"), 50, np.zeros(2, int), np.array([fit.network, 9]),
        (box(0, 0, 30, 20), box(0, 0, 1, 1)), np.array([600.0, 1.0]), np.zeros(2), np.zeros(2),
        np.array([100.0, 4.0]), np.zeros(2), np.ones(2), ((), ()),
    )  # fmt: skip
    row = Cells(site_section_html([fit], None, rooms)).row("Hall")
    ground, grid, around, around_grid = (float(cell) for cell in row[2:])
    assert (ground, around) == (600.0, 100.0)
    assert grid == pytest.approx(600.0 * fit.scale**2, abs=6e-4)
    assert around_grid == pytest.approx(100.0 * fit.scale, abs=6e-4)
    assert "Elsewhere" not in site_section_html([fit], None, rooms)


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


def test_a_rotation_just_short_of_a_full_turn_is_written_as_none(fit):
    html = site_section_html([replace(fit, rotation_rad=-1e-8)])
    assert "0.0000 ± " in html
    assert "360.0000" not in html


def test_a_place_whose_errors_are_not_known_says_so(fit):
    """A plan of an earlier version that kept its place: nothing tells how it was fitted."""
    unknown = replace(fit, covariance=np.full((3, 3), np.nan))
    for one in (unknown, replace(unknown, bearings=())):
        html = site_section_html([one])
        assert not re.search(r"\bnan\b", html)
        assert html.count("standard error not known") == 3
        assert "What the fit is worth is not known." in html
