# SPDX-License-Identifier: GPL-2.0-or-later
"""Folders that take nothing, files that others hold, and projects and layers that are not as they
should be: a sentence, and nothing changed."""

import subprocess

import pytest
from in_the_host import Asked, tried
from jobs import WRITING, contents
from qgis.core import QgsCoordinateReferenceSystem, QgsProcessingContext, QgsProject, QgsVectorLayer
from test_full_disk import PAGE, small_disk


@pytest.mark.parametrize("name", WRITING)
def test_a_folder_that_takes_nothing_is_named(roomtie, jobs, tmp_path, name):
    with small_disk(tmp_path / "disk", 1024 * PAGE, lazy=name == "updatebuildinglayer") as disk:
        before = jobs.lay(name, disk)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        said = tried(roomtie, name, jobs.parameters(name, disk))
        assert said["ended"] == "refused", said
        sentence = said["sentence"].strip()
        assert str(disk) in sentence or "building.gpkg" in sentence
        assert "\n" not in sentence and "Traceback" not in sentence
        assert "ead-only" in sentence or "writ" in sentence
        assert contents(disk) == before


UNHEARD_OF = (
    'PROJCS["of my own",GEOGCS["x",DATUM["x",SPHEROID["x",6378137,298]],PRIMEM["Greenwich",0],'
    'UNIT["degree",0.0174532925199433]],PROJECTION["Unheard_Of"],PARAMETER["a",1],UNIT["metre",1]]'
)
"""The host takes it for valid; PROJ knows no such projection."""


@pytest.mark.parametrize("which", ["none", "unheard of"])
def test_a_project_whose_system_does_not_do_gives_way_to_the_zone(roomtie, jobs, tmp_path, which):
    project = QgsProject()
    if which != "none":
        project.setCrs(QgsCoordinateReferenceSystem.fromWkt(UNHEARD_OF))
        assert project.crs().isValid()
    context = QgsProcessingContext()
    context.setProject(project)
    given = {**jobs.parameters("planfromcaptures", tmp_path), "TARGET_CRS": None}
    results, good = (
        roomtie.algorithm("planfromcaptures").create().run(given, context, Asked(), {}, False)
    )
    assert good
    rooms = QgsVectorLayer(f"{results['OUTPUT']}|layername=rooms", "rooms", "ogr")
    assert rooms.crs().authid() == "EPSG:32631"


def test_a_target_that_proj_cannot_compute_is_refused(roomtie, jobs, tmp_path):
    crs = QgsCoordinateReferenceSystem.fromWkt(UNHEARD_OF)
    given = {**jobs.parameters("planfromcaptures", tmp_path), "TARGET_CRS": crs}
    said = tried(roomtie, "planfromcaptures", given)
    assert said["ended"] == "refused" and "PROJ cannot compute" in said["sentence"]
    assert contents(tmp_path) == {}


def test_a_maintained_layer_in_such_a_system_is_refused(roomtie, jobs, tmp_path):
    given = jobs.parameters("comparebuildinglayer", tmp_path)
    layer = QgsVectorLayer(given["BUILDING"], "building", "ogr")
    layer.setCrs(QgsCoordinateReferenceSystem.fromWkt(UNHEARD_OF))
    said = tried(roomtie, "comparebuildinglayer", {**given, "BUILDING": layer})
    assert said["ended"] == "refused" and "PROJ cannot compute" in said["sentence"]
    assert contents(tmp_path) == {}
