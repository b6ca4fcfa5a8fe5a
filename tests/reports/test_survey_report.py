# SPDX-License-Identifier: GPL-2.0-or-later
"""The report of a run, on the example survey."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from types import SimpleNamespace

import numpy as np
import pytest
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, tie_stations
from roomtie.processing.reports.network_section import network_section_html
from roomtie.processing.reports.plan_section import plan_section_html
from roomtie.processing.reports.rooms_section import NICHES, rooms_section_html
from roomtie.processing.reports.sketch import Sketch, ellipse_outline
from roomtie.processing.reports.survey_report import Run, survey_report_html, survey_report_json
from roomtie.processing.reports.walls_section import walls_section_html
from roomtie.processing.site.model import Evidence, North, SiteFit
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.walls.thickness import wall_thicknesses


@pytest.fixture(scope="module")
def example(example_survey):
    """A part of the example, the bumped tripod S08 in it: `tied`, `drawn`."""
    survey = import_captures(example_survey / "captures")
    names = ("S01", "S02", "S04", "S08", "S09", "S10")
    part = replace(survey, captures=tuple(c for c in survey.captures if c.station in names))
    tied = tie_stations(part, NetworkOptions())
    return SimpleNamespace(tied=tied, drawn=draw_plans(tied, (50, 200)))


@pytest.fixture(scope="module")
def fit():
    return SiteFit(
        network=1,
        target_crs="EPSG:32631",
        unit_m=1.0,
        east_m=601_602.9,
        north_m=6_129_362.7,
        rotation_rad=np.radians(337.43),
        scale=0.99972,
        covariance=np.diag([0.004, 0.005, 0.0004]) ** 2,
        north=North(np.radians(2.53), np.radians(0.4), "WMM-2025", None, np.radians(1.32)),
        evidence=(
            Evidence("control", "C1", 0.001, -0.002, float("nan"), 0.4, True, ""),
            Evidence("compass", "S05", np.nan, np.nan, np.radians(28.9), 9.2, False, "steel <b>"),
        ),
        decides_position="control points (2 used)",
        decides_rotation="control points (2 used)",
    )


def run_of(example, fits, site_grid_crs=""):
    return Run(
        example.tied.survey,
        example.tied.network,
        example.drawn.plans,
        fits,
        {"Roomtie": "0.1.0"},
        {"INPUT": "captures & <co>"},
        ["steel <b>"],
        site_grid_crs,
    )


def report(example, fits, site_grid_crs=""):
    return json.loads(survey_report_json(run_of(example, fits, site_grid_crs)))


def test_the_json_has_what_the_contract_names(example, fit):
    found = report(example, (fit,), site_grid_crs="DERIVEDPROJCRS[...]")
    assert list(found) == [
        "versions",
        "inputs",
        "parameters",
        "readings",
        "network",
        "stations",
        "site",
        "areas",
        "warnings",
    ]
    assert set(found["stations"][0]) >= {
        "station",
        "x",
        "y",
        "orientation_deg",
        "sigma_x_mm",
        "sigma_y_mm",
        "sigma_orientation_deg",
        "network",
        "status",
    }
    assert found["site"]["rotation_deg"] == pytest.approx(337.43)
    assert found["site"]["site_grid_crs"] == "DERIVEDPROJCRS[...]"
    assert found["site"]["evidence"][0]["residual_deg"] is None
    assert sum(found["readings"].values()) == sum(len(c) for c in example.tied.survey.captures)
    assert {area["plot_scale"] for area in found["areas"]} == {50, 200}


def test_a_plan_without_a_place_has_no_site(example):
    assert report(example, ())["site"] is None


def test_other_groups_stand_inside_the_first(example, fit):
    second = replace(fit, network=2)
    found = report(example, (fit, second))["site"]
    assert found["network"] == 1
    assert [other["network"] for other in found["other_networks"]] == [2]


class Tags(HTMLParser):
    """Checks that tags close in order."""

    VOID = ("meta", "br", "circle", "path", "rect", "line", "link", "hr")

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attrs):
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_page_is_whole_escapes_what_people_wrote_and_loads_nothing(example, fit):
    page = survey_report_html("Plan <x>", run_of(example, (fit,)))
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    assert "<x>" not in page and "Plan &lt;x&gt;" in page
    assert "steel <b>" not in page and "captures &amp; &lt;co&gt;" in page
    assert not re.search(r"(src|href)=", page)
    assert "nan" not in re.sub(r"<[^>]*>", "", page).lower().split()


def test_rejected_ties_stand_before_the_used_ones(example):
    html = network_section_html(example.tied.survey, example.tied.network)
    assert html.index("Rejected or left out") < html.index("Sightings of targets")
    reasons = [
        r
        for r, used in zip(example.tied.network.ties.reason, example.tied.network.ties.used)
        if not used
    ]
    assert reasons and all(reasons)


def test_the_plan_section_lists_rooms_doorways_and_walls_out_of_square(example):
    plan = example.drawn.plans[0]
    html = plan_section_html([plan])
    for name in plan.rooms.name:
        assert f"<td>{name}</td>" in html
    assert html.count("<td>doorway</td>") == plan.openings.kind.count("doorway")
    assert "Left as measured" in html
    assert plan_section_html([]) == ""


def test_the_walls_section_lists_each_face_once_turned_or_left(example):
    """Without rooms, all faces: every one that was turned with its turn, every other one with its
    angle and standard error."""
    walls = example.drawn.plans[0].walls
    html = walls_section_html([(walls, 0.004)])
    turned = html.index("Turned to an axis")
    for k, name in enumerate(walls.wall):
        at = html.find(f"<td>{name}</td>")
        assert (at > turned) == bool(walls.squared_by_rad[k] != 0.0) or walls.curves.curved[k]
        assert html.count(f"<td>{name}</td>") == 1 or walls.curves.curved[k]
    assert "faces that bound a room" not in html
    assert walls_section_html([]) == ""


@pytest.mark.parametrize("niches", [True, False])
def test_the_rooms_section_says_what_was_counted(example, niches):
    rooms = replace(example.drawn.plans[0].rooms, niches=niches)
    html = rooms_section_html(rooms)
    assert NICHES[niches] in html and NICHES[not niches] not in html
    assert "inside the wall faces at the height of the instrument" in html
    assert "defer to the local one" in html


def test_a_sketch_keeps_its_extent_inside_and_y_up():
    picture = Sketch(np.array([[0.0, 0.0], [10.0, 5.0], [np.nan, 1.0]]), 400, 300)
    low, high = picture.at(np.array([[0.0, 0.0], [10.0, 5.0]]))
    assert 0 <= low[0] < high[0] <= picture.width
    assert 0 <= high[1] < low[1] <= picture.height


def test_an_ellipse_has_the_axes_of_its_covariance():
    covariance = np.array([[4.0, 1.5], [1.5, 1.0]])
    outline = ellipse_outline(np.array([3.0, 4.0]), covariance, 2.448, 720) - [3.0, 4.0]
    # Every point of the k-sigma ellipse has Mahalanobis distance k.
    distance = np.einsum("ni,ij,nj->n", outline, np.linalg.inv(covariance), outline)
    np.testing.assert_allclose(distance, 2.448**2)


def test_a_place_whose_errors_are_not_known_is_told_without_them(example, fit):
    html = survey_report_html(
        "x", run_of(example, (replace(fit, covariance=fit.covariance * np.nan),))
    )
    assert not re.search(r"\bnan\b", html)
    assert "337.4300 deg, standard error not known" in html


def test_the_walls_section_tells_thicknesses_of_the_example(example):
    """Walls of the example are 0.1 to 0.4 m thick; doorways between two rooms have told theirs."""
    plan, measured = example.drawn.plans[0], example.drawn.measured
    html = plan_section_html([plan], measured)
    told = html.split("Thickness of walls seen on both sides, as measured")[1].split("</table>")[0]
    rows = re.findall(r"<td[^>]*>([\d.]+)</td><td[^>]*>([\d.]+)</td></tr>", told)
    found = wall_thicknesses(measured)
    assert 5 < len(rows) <= len(found.faces)
    doors = plan.openings.wall_thickness_m[[k == "doorway" for k in plan.openings.kind]]
    doors = doors[np.isfinite(doors)]
    apart = np.abs(found.thickness_m[:, None] - doors).min(axis=0)
    assert np.median(apart) < 0.01
