# SPDX-License-Identifier: GPL-2.0-or-later
"""Stations, targets, comments, files and rooms with hostile names: they stay names, in the plan,
its reports, what is drawn of it and in questions to its layers; nothing is written elsewhere."""

import itertools
import json
import re
import sqlite3
import sys
import zipfile
from pathlib import Path

import ezdxf
import pytest
from qgis.core import QgsExpression, QgsFeatureRequest, QgsVectorLayer
from roomtie.plugin.panel_parts import plain
from roomtie.plugin.review_plans import equals, is_one_of

sys.path.append(str(Path(__file__).resolve().parents[1]))
from hostile import NAMES, check_page

STATIONS = ("S01", "S02", "S03", "S04")


def renamed(name: str) -> str:
    """A name that a capture file can hold: in a table, a separator within quotes."""
    return '"' + name.replace('"', '""') + '"'


@pytest.fixture(scope="module")
def survey(example_survey, tmp_path_factory):
    """Part of the example with other names; the file names are hostile as far as files can be."""
    folder = tmp_path_factory.mktemp("hostile") / "captures"
    folder.mkdir()
    others = iter(itertools.cycle(NAMES))
    targets: dict[str, str] = {}
    names = {}
    for number, station in enumerate(STATIONS):
        text = (example_survey / "captures" / f"{station}.csv").read_text()
        names[station] = NAMES[number]
        text = text.replace(f"# station: {station}", f"# station: {NAMES[number]}")
        comment = "".join(NAMES[:14])
        text = re.sub("# comment: .*", lambda _, own=comment: f"# comment: {own}", text)
        for found in sorted(set(re.findall(r",(?:target|surface),(\w+)$", text, re.M))):
            if found not in targets:
                targets[found] = f"{next(others)} {len(targets)}"
            text = re.sub(
                rf",(target|surface),{found}$",
                lambda m, own=targets[found]: f",{m[1]},{renamed(own)}",
                text,
                flags=re.M,
            )
        (folder / f"<b>{number}'; --.csv").write_text(text)
    return folder, names, targets


@pytest.fixture(scope="module")
def made(survey, roomtie, tmp_path_factory):
    """The plan and its reports, in a folder that has a neighbour."""
    import processing

    place = tmp_path_factory.mktemp("made")
    (place / "own").mkdir()
    plan, report = place / "own" / "plan.gpkg", place / "own" / "plan.html"
    processing.run(
        "roomtie:planfromcaptures",
        {
            "INPUT": str(survey[0]),
            "TARGET_CRS": "EPSG:32631",
            "PLOT_SCALES": ["1:50"],
            "OUTPUT": str(plan),
            "REPORT": str(report),
        },
    )
    assert sorted(p.name for p in place.iterdir()) == ["own"]
    assert sorted(p.name for p in plan.parent.iterdir()) == ["plan.gpkg", "plan.html", "plan.json"]
    return plan, report


def column(plan, table, name):
    with sqlite3.connect(plan) as database:
        return {value for (value,) in database.execute(f'SELECT "{name}" FROM "{table}"')}


def test_names_stay_names(made, survey):
    plan, _ = made
    _, names, targets = survey
    assert column(plan, "stations", "station") == set(names.values())
    assert column(plan, "targets", "target") <= set(targets.values())
    assert len(column(plan, "targets", "target")) > 3
    assert any("DROP TABLE" in tie for tie in column(plan, "ties", "tie"))


def test_reports_hold_them_as_text(made, survey):
    _, report = made
    page = check_page(report.read_text("utf-8"))
    numbers = json.loads(report.with_suffix(".json").read_text("utf-8"))
    for name in survey[1].values():
        assert name in page.text
        assert name in {station["station"] for station in numbers["stations"]}


@pytest.mark.parametrize("name", NAMES)
def test_conditions_mean_the_value(made, name):
    """A name picks its own features, of a layer of the host and of the file."""
    plan, _ = made
    stations = column(plan, "stations", "station")
    layer = QgsVectorLayer(f"{plan}|layername=stations", "stations", "ogr")
    for condition in (equals("station", name), is_one_of("station", [name])):
        assert not QgsExpression(condition).hasParserError()
        request = QgsFeatureRequest().setFilterExpression(condition)
        assert {f["station"] for f in layer.getFeatures(request)} == {name} & stations
        assert layer.setSubsetString(condition)
        assert {f["station"] for f in layer.getFeatures()} == {name} & stations
        assert layer.setSubsetString("")


@pytest.fixture(scope="module")
def named_rooms(made, tmp_path_factory):
    """The plan with hostile names of rooms, as a person could give them."""
    import shutil

    plan = tmp_path_factory.mktemp("rooms") / "plan.gpkg"
    shutil.copy(made[0], plan)
    layer = QgsVectorLayer(f"{plan}|layername=rooms", "rooms", "ogr")
    place = layer.fields().indexOf("name")
    short = [name for name in NAMES if len(name) < 100]
    given = {f.id(): {place: short[n % len(short)]} for n, f in enumerate(layer.getFeatures())}
    assert given
    assert layer.dataProvider().changeAttributeValues(given)
    return plan, {name for own in given.values() for name in own.values()}


def test_a_drawing_holds_them_as_words(run, named_rooms, tmp_path):
    plan, _ = named_rooms
    path = tmp_path / "own" / "plan.dxf"
    path.parent.mkdir()
    run("exportdrawing", INPUT=str(plan), PLOT_SCALES=["1:50"], OUTPUT=str(path))
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors and not audit.fixes
    kinds = {entity.dxftype() for entity in document.modelspace()}
    assert kinds <= {"LWPOLYLINE", "TEXT", "POINT", "CIRCLE", "LINE"}
    assert [p.name for p in tmp_path.iterdir()] == ["own"]


def test_an_indoor_map_has_its_own_names_of_files_alone(run, named_rooms, tmp_path):
    plan, names = named_rooms
    path = tmp_path / "own" / "map.zip"
    path.parent.mkdir()
    run(
        "exportindoor",
        INPUT=str(plan),
        OUTPUT=str(path),
        OUTPUT_HTML=str(path.with_suffix(".html")),
        VENUE_NAME=NAMES[0],
    )
    with zipfile.ZipFile(path) as archive:
        listed = archive.namelist()
        units = archive.read("unit.geojson").decode("utf-8")
    assert all(re.fullmatch(r"[a-z]+\.(geojson|json)", name) for name in listed)
    found = {
        text
        for unit in json.loads(units)["features"]
        for text in (unit["properties"]["name"] or {}).values()
    }
    assert found & names
    check_page(path.with_suffix(".html").read_text("utf-8"))


def test_a_sheet_works_nothing_out(run, named_rooms, tmp_path):
    """The host would work out what stands between [% and %] in a label."""
    import os

    plan, _ = named_rooms
    path = tmp_path / "sheet.pdf"
    run("plansheet", INPUT=str(plan), PLOT_SCALE="1:50", OUTPUT=str(path))
    assert path.stat().st_size > 1000
    assert os.environ["HOME"].encode() not in path.read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_a_tool_tip_shows_the_name(name):
    from qgis.PyQt.QtGui import QTextDocument

    document = QTextDocument()
    if "<" in name:
        document.setHtml(plain(name))
        assert document.toPlainText() == name.strip()
    else:
        assert plain(name) == name
