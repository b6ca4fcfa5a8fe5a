# SPDX-License-Identifier: GPL-2.0-or-later
"""Surveys that little or nothing places: where their plans lie, and that this is said."""

import json

import pytest
from plain_room import PLAIN, ring
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)


def planned(run, tmp_path, *captures):
    """The results and the report of the main job on the texts of captures."""
    folder = tmp_path / "captures"
    folder.mkdir()
    for number, text in enumerate(captures):
        (folder / f"{number}.csv").write_text(text)
    result = run(
        "planfromcaptures",
        INPUT=str(folder),
        OUTPUT=str(tmp_path / "plan.gpkg"),
        REPORT=str(tmp_path / "plan.html"),
    )
    return result, json.loads((tmp_path / "plan.json").read_text("utf-8"))


def rooms_of(result):
    layer = QgsVectorLayer(f"{result['OUTPUT']}|layername=rooms")
    assert layer.isValid()
    return layer


def test_a_lone_station_does_not_place_the_others(run, tmp_path):
    there = (
        "# longitude_deg: 4.6\n# latitude_deg: 55.3\n# magnetic_azimuth_deg: 20\n"
        "# captured_at: 2026-04-21T09:00:00+02:00\n"
    )
    other = PLAIN.format(more=there).replace(": A", ": B") + ring(3.1, 0.9)
    result, report = planned(run, tmp_path, PLAIN.format(more="") + ring(), other)
    assert report["site"] is None and "ROTATION" not in result
    assert any("Nothing says where the group of station A lies" in w for w in report["warnings"])


def test_a_project_crs_that_does_not_do_gives_way_to_the_zone(roomtie, example_survey, tmp_path):
    project = QgsProject()
    project.setCrs(QgsCoordinateReferenceSystem("EPSG:3857"))
    context = QgsProcessingContext()
    context.setProject(project)
    said = []

    class Listening(QgsProcessingFeedback):
        def pushInfo(self, text):  # noqa: N802 - the host's name
            said.append(text)

    algorithm = roomtie.algorithm("planfromcaptures").create()
    parameters = {
        "INPUT": str(example_survey / "captures"),
        "PLOT_SCALES": ["1:100"],
        "OUTPUT": str(tmp_path / "plan.gpkg"),
        "REPORT": str(tmp_path / "plan.html"),
    }
    result, ok = algorithm.run(parameters, context, Listening())
    assert ok
    assert any("The plan lies in WGS 84 / UTM zone 31N instead." in text for text in said)
    assert rooms_of(result).crs().authid() == "EPSG:32631"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("", "No station has a geotag and no control points were given"),
        ("# longitude_deg: 4.6\n# latitude_deg: 55.3\n", "is not georeferenced"),
    ],
)
def test_a_survey_without_place_or_direction_stays_in_plan_coordinates(run, tmp_path, more, said):
    result, report = planned(run, tmp_path, PLAIN.format(more=more) + ring())
    assert any(said in warning for warning in report["warnings"])
    assert report["site"] is None
    assert "ROTATION" not in result
    rooms = rooms_of(result)
    assert rooms.crs().isValid() and not rooms.crs().isGeographic()
    area = next(rooms.getFeatures())["area_m2"]
    assert area == pytest.approx(12.0, abs=0.02)
