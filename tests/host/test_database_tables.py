# SPDX-License-Identifier: GPL-2.0-or-later
"""Outputs that are tables of a database file which is there: its other tables stay, and the old
table does until the new one is whole."""

import os
import shutil
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from cancelling import CancelsAt
from osgeo import ogr
from qgis.core import (
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsProcessingOutputLayerDefinition,
    QgsProject,
    QgsVectorLayer,
)
from roomtie.processing.errors import Cancelled
from roomtie.processing.layers.put_table import put_table
from roomtie.processing.progress import Progress

CAPTURE = """# station: {name}
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
angle,distance
0,2.0
90,1.5
180,2.1
270,1.2
"""


@pytest.fixture
def captures(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    for name in "ABC":
        (folder / f"{name}.csv").write_text(CAPTURE.format(name=name))
    return folder


@pytest.fixture
def project(run, captures, tmp_path):
    """A GeoPackage with the table `stations` of three features."""
    path = tmp_path / "project.gpkg"
    run("importcaptures", INPUT=str(captures), STATIONS=table_of(path, "stations"), READINGS=None)
    return path


def table_of(path, table):
    return f"ogr:dbname='{path}' table=\"{table}\" (geom)"


def rows(path, table):
    """All rows; None where there is no such table."""
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        names = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
        if table not in names:
            return None
        return database.execute(f'SELECT * FROM "{table}" ORDER BY fid').fetchall()


def test_a_table_is_put_beside_the_others(run, captures, project, tmp_path):
    stations = rows(project, "stations")
    results = run(
        "importcaptures",
        INPUT=str(captures),
        STATIONS="memory:",
        READINGS=table_of(project, "readings"),
    )
    layer = QgsVectorLayer(results["READINGS"], "readings", "ogr")
    assert layer.isValid()
    assert layer.featureCount() == len(rows(project, "readings")) == 12
    with closing(sqlite3.connect(project)) as database:
        asked = "SELECT table_name, column_name FROM gpkg_geometry_columns ORDER BY 1"
        assert database.execute(asked).fetchall() == [("readings", "geom"), ("stations", "geom")]
    assert layer.hasSpatialIndex() == layer.SpatialIndexPresence.SpatialIndexPresent
    assert layer.crs().isValid()
    assert rows(project, "stations") == stations
    assert {one.name for one in tmp_path.iterdir()} == {"in", "project.gpkg"}


def test_two_tables_make_a_new_database(run, captures, tmp_path):
    path = tmp_path / "new.gpkg"
    run(
        "importcaptures",
        INPUT=str(captures),
        STATIONS=table_of(path, "stations"),
        READINGS=table_of(path, "readings"),
    )
    assert (len(rows(path, "stations")), len(rows(path, "readings"))) == (3, 12)


def test_a_table_is_written_over_and_only_when_all_is_well(run, captures, project):
    before = rows(project, "stations"), rows(project, "readings")
    (captures / "C.csv").unlink()
    into = {
        "STATIONS": table_of(project, "stations"),
        "READINGS": table_of(project, "readings"),
    }
    for percent in (1, 50, 80):
        assert run("importcaptures", CancelsAt(percent), INPUT=str(captures), **into) == {}
        assert (rows(project, "stations"), rows(project, "readings")) == before
    run("importcaptures", INPUT=str(captures), **into)
    assert (len(rows(project, "stations")), len(rows(project, "readings"))) == (2, 8)


def test_a_database_that_is_locked_stays_as_it_is(run, captures, project, monkeypatch):
    monkeypatch.setattr("roomtie.processing.databases.PATIENCE_S", 0.2)
    before = rows(project, "stations")
    with closing(sqlite3.connect(project)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(QgsProcessingException, match=r"project\.gpkg.*locked"):
            run(
                "importcaptures",
                INPUT=str(captures),
                STATIONS=None,
                READINGS=table_of(project, "readings"),
            )
    assert rows(project, "stations") == before
    assert rows(project, "readings") is None


def test_a_table_goes_into_no_other_file(run, captures, tmp_path):
    path = tmp_path / "notes.gpkg"
    path.write_text("Not a database.")
    with pytest.raises(QgsProcessingException, match=r"notes\.gpkg: .*expected a database"):
        run("importcaptures", INPUT=str(captures), STATIONS=table_of(path, "s"), READINGS=None)
    assert path.read_text() == "Not a database."


def test_two_outputs_may_not_be_one_table(run, captures, project):
    before = rows(project, "stations")
    one = table_of(project, "stations")
    for other in (one, str(project)):
        with pytest.raises(QgsProcessingException, match="several outputs name this file"):
            run("importcaptures", INPUT=str(captures), STATIONS=one, READINGS=other)
    assert rows(project, "stations") == before


def test_the_host_loads_the_table_from_its_place(roomtie, captures, project):
    context = QgsProcessingContext()
    algorithm = roomtie.algorithm("importcaptures").create()
    at = table_of(project, "readings")
    sink = QgsProcessingOutputLayerDefinition(at, QgsProject.instance())
    _, well = algorithm.run(
        {"INPUT": str(captures), "STATIONS": None, "READINGS": sink},
        context,
        QgsProcessingFeedback(),
    )
    assert well
    (wanted,) = context.layersToLoadOnCompletion()
    assert str(project) in wanted
    assert QgsVectorLayer(wanted, "", "ogr").featureCount() == 12


def test_of_a_format_of_several_files_all_are_put_in_place(run, captures, tmp_path):
    path = tmp_path / "readings.tab"
    for _ in range(2):  # new, and written over
        run("importcaptures", INPUT=str(captures), STATIONS=None, READINGS=str(path))
        assert QgsVectorLayer(str(path), "", "ogr").featureCount() == 12


@pytest.fixture
def draft(tmp_path):
    """A GeoPackage with a table `stations` of 5000 points."""
    path = tmp_path / "draft.gpkg"
    source = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = source.CreateLayer("stations", None, ogr.wkbPoint)
    source.StartTransaction()
    for number in range(5000):
        feature = ogr.Feature(layer.GetLayerDefn())
        feature.SetGeometry(ogr.CreateGeometryFromWkt(f"POINT ({number} 0)"))
        layer.CreateFeature(feature)
    source.CommitTransaction()
    return path


def test_a_cancel_while_the_table_is_put_leaves_the_database(project, draft):
    before = rows(project, "stations")
    asked = []

    def cancelled():
        asked.append(1)
        return len(asked) == 3

    with pytest.raises(Cancelled):
        put_table(draft, project, "stations", Progress(cancelled=cancelled))
    assert rows(project, "stations") == before
    put_table(draft, project, "stations")
    assert rows(project, "stations") == rows(draft, "stations")


def test_killed_at_any_instant_it_holds_the_old_table_or_the_new_one(project, draft, tmp_path):
    old, new = rows(project, "stations"), rows(draft, "stations")
    kept = shutil.copy(project, tmp_path / "kept.gpkg")
    seen = set()
    for wait in range(0, 100, 5):
        shutil.copy(kept, project)
        child = os.fork()
        if child == 0:
            put_table(draft, project, "stations")
            os._exit(0)
        time.sleep(wait / 1000)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        found = rows(project, "stations")
        assert found in (old, new)
        seen.add(len(found))
        Path(f"{project}-journal").unlink(missing_ok=True)
    assert len(old) in seen
