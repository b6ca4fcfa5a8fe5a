# SPDX-License-Identifier: GPL-2.0-or-later
"""A total station's file in the host: its coordinates place the plan, unless control is given."""

import json
import sys
from pathlib import Path

import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "captures"))

from landxml_files import Shot, Stand, cg_point, landxml

EAST, NORTH = 544_600.0, 5_338_700.0
TARGETS = {"T1": (4.0, 4.0), "T2": (1.0, 6.0), "T3": (8.0, 1.0)}
STATIONS = {"A": (0.0, 0.0), "B": (9.0, 6.0)}


def write(folder, east=EAST, north=NORTH, system='epsgCode="25832"', marked=("T1", "T3")):
    """Two set-ups sight three targets; two of them have coordinates."""
    import numpy as np

    stands = []
    for name, (x, y) in STATIONS.items():
        shots = []
        for target, (tx, ty) in TARGETS.items():
            circle = np.degrees(np.arctan2(tx - x, ty - y)) % 360
            shots.append(Shot(target, circle, 90.0, float(np.hypot(tx - x, ty - y))))
        stands.append(Stand(name, name, tuple(shots)))
    points = "".join(
        cg_point(name, north + TARGETS[name][1], east + TARGETS[name][0]) for name in marked
    )
    head = f'<CoordinateSystem name="grid" {system}/>' if system else ""
    captures = folder / "captures"
    captures.mkdir()
    (captures / "ts.xml").write_text(landxml(stands, points=points, head=head), "utf-8")
    return str(captures)


@pytest.fixture
def plan(roomtie, tmp_path):
    """``plan(INPUT, project CRS, ...)``: the result, the warnings of its report and the stations by
    name."""

    def run(captures, project_crs="", **more):
        project = QgsProject()
        if project_crs:
            project.setCrs(QgsCoordinateReferenceSystem(project_crs))
        context = QgsProcessingContext()
        context.setProject(project)
        parameters = {
            "INPUT": captures,
            "HEIGHT": 0.0,
            "OUTPUT": str(tmp_path / "plan.gpkg"),
            "REPORT": str(tmp_path / "plan.html"),
            **more,
        }
        algorithm = roomtie.algorithm("planfromcaptures").create()
        result, ok = algorithm.run(parameters, context, QgsProcessingFeedback())
        assert ok
        layer = QgsVectorLayer(f"{result['OUTPUT']}|layername=stations")
        places = {f["station"]: f.geometry().asPoint() for f in layer.getFeatures()}
        report = json.loads((tmp_path / "plan.json").read_text("utf-8"))
        return result, report["warnings"], places, layer.crs()

    return run


def grid_scale():
    from roomtie.processing.site.grid import grid_at

    return grid_at("EPSG:25832", 9.6, 48.2, 0.0).scale


def test_the_files_coordinates_place_the_plan_in_their_own_system(plan, tmp_path):
    _, told, places, crs = plan(write(tmp_path))
    assert crs.authid() == "EPSG:25832"
    assert any("coordinates in the files of T1 and T3 are control." in word for word in told)
    # The middle of the two control points is held; the rest follows at the scale of the grid.
    middle = (TARGETS["T1"][0] + TARGETS["T3"][0]) / 2, (TARGETS["T1"][1] + TARGETS["T3"][1]) / 2
    for name, (x, y) in STATIONS.items():
        east = EAST + middle[0] + grid_scale() * (x - middle[0])
        north = NORTH + middle[1] + grid_scale() * (y - middle[1])
        assert places[name].x() == pytest.approx(east, abs=1e-4)
        assert places[name].y() == pytest.approx(north, abs=1e-4)


def test_the_projects_crs_comes_first_where_it_does(plan, tmp_path):
    _, told, _, crs = plan(write(tmp_path), "EPSG:32632")
    assert crs.authid() == "EPSG:32632"
    assert any("transformed from ETRS89 / UTM zone 32N" in word for word in told)


def test_a_web_map_gives_way(plan, tmp_path):
    _, told, _, crs = plan(write(tmp_path), "EPSG:3857")
    assert crs.authid() == "EPSG:25832"
    assert any("The plan lies in ETRS89 / UTM zone 32N instead." in word for word in told)


def test_without_a_system_they_are_taken_in_the_target_crs(plan, tmp_path):
    captures = write(tmp_path, system="")
    _, told, places, crs = plan(captures, TARGET_CRS=QgsCoordinateReferenceSystem("EPSG:25832"))
    assert crs.authid() == "EPSG:25832"
    assert any("taken as coordinates of ETRS89 / UTM zone 32N" in word for word in told)
    assert places["A"].x() == pytest.approx(EAST, abs=0.01)


def test_without_any_system_the_plan_stays_where_it_is(plan, tmp_path):
    result, told, _, _ = plan(write(tmp_path, system=""))
    assert "ROTATION" not in result
    assert any("give TARGET_CRS to place the plan by them" in word for word in told)


def test_a_local_system_does_not_place_the_plan(plan, tmp_path):
    result, told, _, _ = plan(write(tmp_path, 1000.0, 2000.0, ""), "EPSG:25832")
    assert "ROTATION" not in result
    assert any("they belong to a local system" in word for word in told)


def test_control_that_is_given_wins(plan, tmp_path):
    captures = write(tmp_path)
    table = tmp_path / "control.csv"
    table.write_text(
        "target,east_m,north_m\n"
        + "".join(f"{n},{EAST + 100 + x},{NORTH + y}\n" for n, (x, y) in TARGETS.items())
    )
    _, told, places, _ = plan(captures, CONTROL=str(table), TARGET_CRS="EPSG:25832")
    assert any("the coordinates in the capture files are not used" in word for word in told)
    assert places["A"].x() == pytest.approx(EAST + 100, abs=0.01)


def test_an_import_says_what_becomes_of_the_coordinates(run, tmp_path):
    result = run(
        "importcaptures",
        INPUT=write(tmp_path),
        STATIONS="memory:",
        READINGS="memory:",
        OUTPUT_HTML=str(tmp_path / "report.html"),
    )
    page = (tmp_path / "report.html").read_text("utf-8")
    assert "marks as control (T1 and T3), in EPSG:25832" in page
    readings = [(f["station"], f["kind"], f["target"]) for f in result["READINGS"].getFeatures()]
    assert readings[0] == ("A", "target", "T1") and len(readings) == 6


def test_the_single_steps_take_stations_without_a_ring(run, tmp_path):
    imported = run("importcaptures", INPUT=write(tmp_path), STATIONS="memory:", READINGS="memory:")
    layers = {name: imported[name] for name in ("STATIONS", "READINGS")}
    adjusted = run(
        "adjuststations",
        **layers,
        ADJUSTED_STATIONS="memory:",
        ADJUSTED_READINGS="memory:",
        TIES="memory:",
        TARGETS="memory:",
    )
    assert {f["status"] for f in adjusted["ADJUSTED_STATIONS"].getFeatures()} == {"adjusted"}
    assert sorted(f["target"] for f in adjusted["TARGETS"].getFeatures()) == ["T1", "T2", "T3"]
    layers = {
        "STATIONS": adjusted["ADJUSTED_STATIONS"],
        "READINGS": adjusted["ADJUSTED_READINGS"],
    }
    walls = run("extractwalls", **layers, WALL_FACES="memory:", FLAGGED_READINGS="memory:")
    assert walls["WALL_FACES"].featureCount() == 0
