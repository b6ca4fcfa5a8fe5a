# SPDX-License-Identifier: GPL-2.0-or-later
"""Folders that take nothing, files that others hold, and projects and layers that are not as they
should be: a sentence, and nothing changed."""

import subprocess

import pytest
from in_the_host import Asked, tried
from jobs import WRITING, contents
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeatureRequest,
    QgsProcessingContext,
    QgsProject,
    QgsVectorLayer,
)
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


def outputs_of(name, jobs, place):
    """The job with every layer as a layer of the host, and these layers."""
    given = jobs.parameters(name, place)
    layers = {}
    for key, value in given.items():
        made = isinstance(value, str) and str(jobs.folder / "made") in value
        if made and value.endswith(".gpkg") and key != "INPUT":
            layers[key] = QgsVectorLayer(value, key, "ogr")
            assert layers[key].isValid()
    return {**given, **layers}, layers


@pytest.mark.parametrize("name", ["adjuststations", "extractwalls", "buildrooms"])
def test_a_layer_that_was_emptied_between_steps_is_named(roomtie, jobs, tmp_path, name):
    given, layers = outputs_of(name, jobs, tmp_path)
    for key, layer in layers.items():
        emptied = layer.materialize(QgsFeatureRequest().setFilterExpression("false"))
        if key == "NETWORK_COVARIANCE":
            continue
        said = tried(roomtie, name, {**given, key: emptied})
        assert said["ended"] in ("done", "refused"), (key, said)
        assert "Traceback" not in said["sentence"] and "\n" not in said["sentence"].strip()


@pytest.mark.parametrize("name", ["adjuststations", "extractwalls", "buildrooms"])
def test_a_file_that_was_deleted_between_steps_is_named(roomtie, jobs, tmp_path, name):
    given, layers = outputs_of(name, jobs, tmp_path)
    for key in layers:
        said = tried(roomtie, name, {**given, key: str(tmp_path / "gone.gpkg")})
        assert said["ended"] == "refused"
        assert "Traceback" not in said["sentence"], said["sentence"]
        assert contents(tmp_path) == {}


EDITS = {
    "a station is deleted": ("STATIONS", "station = 'S02'"),
    "readings of a station are deleted": ("READINGS", "station = 'S02'"),
    "walls are deleted": ("WALL_FACES", "$id % 2 = 0"),
}


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("name", ["adjuststations", "extractwalls", "buildrooms"])
def test_features_that_were_deleted_between_steps_do_not_stop_it_without_a_word(
    roomtie, jobs, tmp_path, name, edit
):
    key, which = EDITS[edit]
    given, layers = outputs_of(name, jobs, tmp_path)
    if key not in layers:
        pytest.skip(f"{name} has no {key}")
    rest = layers[key].materialize(QgsFeatureRequest().setFilterExpression(f"not ({which})"))
    assert 0 < rest.featureCount() < layers[key].featureCount()
    said = tried(roomtie, name, {**given, key: rest})
    assert said["ended"] in ("done", "refused"), said
    assert "Traceback" not in said["sentence"] and "\n" not in said["sentence"].strip()
    if said["ended"] == "refused":
        assert "S02" in said["sentence"] or key in said["sentence"], said["sentence"]
        assert contents(tmp_path) == {}
