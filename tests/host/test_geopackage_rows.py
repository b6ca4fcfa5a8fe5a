# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows and index put into a layer that the host made, held against what the host reads back."""

import sqlite3

import numpy as np
import pytest
from qgis.core import QgsFeatureRequest, QgsRectangle, QgsVectorLayer
from roomtie.processing.algorithms.crs import plan_crs
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.layers.features import write_geopackage
from roomtie.processing.layers.geopackage_rows import fill_points
from roomtie.processing.layers.schema import REAL, TEXT, LayerSchema
from roomtie.processing.layers.table import TableParts, make_table, points
from roomtie.processing.progress import SILENT, Progress

SCHEMA = LayerSchema("spots", "Spots", "Point", (("name", TEXT), ("value", REAL)))


def table(xy):
    xy = np.asarray(xy, dtype=float).reshape(-1, 2)
    values = {"name": [f"ä{k}" for k in range(len(xy))], "value": xy[:, 0]}
    return make_table(SCHEMA, values, points(xy), [0] * len(xy))


def empty_layer(path, schema=SCHEMA):
    columns = {name: [] for name, _ in schema.fields}
    none = make_table(schema, columns, points(np.empty((0, 2))), [])
    write_geopackage(path, [none], plan_crs("test"))
    return path


def filled(path, groups):
    tables = [table(xy) for xy in groups]
    parts = TableParts(SCHEMA, sum(len(one) for one in tables), iter(tables))
    fill_points(path, parts, "TEST", SILENT)
    return QgsVectorLayer(str(path), "spots", "ogr")


# One leaf, two, a full node of leaves and one more (51 cells a node), groups of one, three levels.
@pytest.mark.parametrize("sizes", [[1], [51], [52], [51 * 51], [2602], [1] * 60, [1600] * 40])
def test_the_host_finds_every_point_and_the_index_is_sound(roomtie, tmp_path, sizes):
    rng = np.random.default_rng(len(sizes) + sizes[0])
    groups = [rng.uniform(-5.0, 5.0, (size, 2)) + 8.0 * k for k, size in enumerate(sizes)]
    path = empty_layer(tmp_path / "spots.gpkg")
    layer = filled(path, groups)
    xy = np.concatenate(groups)
    assert layer.featureCount() == len(xy)
    box = layer.extent()
    # The host may take the extent from the index, whose single floats are 1e-7 apart.
    assert [box.xMinimum(), box.yMinimum()] == pytest.approx(xy.min(axis=0), rel=1e-6)
    assert [box.xMaximum(), box.yMaximum()] == pytest.approx(xy.max(axis=0), rel=1e-6)
    with sqlite3.connect(path) as database:
        assert database.execute("SELECT rtreecheck('rtree_spots_geom')").fetchall() == [("ok",)]
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        # The triggers are back: what is added later is indexed too.
        names = database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
    assert {"rtree_spots_geom_insert", "rtree_spots_geom_delete"} <= {name for (name,) in names}
    part = QgsRectangle(-1.0, -2.0, 9.5, 11.0)
    found = {f.id() for f in layer.getFeatures(QgsFeatureRequest().setFilterRect(part))}
    inside = (xy[:, 0] >= -1) & (xy[:, 0] <= 9.5) & (xy[:, 1] >= -2) & (xy[:, 1] <= 11)
    assert found == set((np.flatnonzero(inside) + 1).tolist())


def test_values_arrive_and_a_point_without_coordinates_has_no_geometry(roomtie, tmp_path):
    layer = filled(empty_layer(tmp_path / "a.gpkg"), [[(1.25, 2.5), (np.nan, np.nan), (3.0, 4.0)]])
    rows = list(layer.getFeatures())
    assert [row["name"] for row in rows] == ["ä0", "ä1", "ä2"]
    assert [row.hasGeometry() for row in rows] == [True, False, True]
    assert rows[0].geometry().asPoint().toString(2) == "1.25,2.50"
    assert layer.crs().isValid()
    assert layer.extent().xMaximum() == 3.0


@pytest.mark.parametrize("name", ["it's", 'a"b?', "a\0b", "", None])
@pytest.mark.parametrize("value", [0.1 + 0.2, 1e-300, -3.0, None])
def test_values_that_all_rows_have_arrive_to_the_last_bit(roomtie, tmp_path, name, value):
    same = {"name": [name] * 3, "value": [value] * 3}
    part = make_table(SCHEMA, same, points(np.zeros((3, 2))), [0] * 3)
    path = empty_layer(tmp_path / "a.gpkg")
    fill_points(path, TableParts(SCHEMA, 3, [part]), "TEST", SILENT)
    with sqlite3.connect(path) as database:
        rows = database.execute("SELECT name, value FROM spots").fetchall()
    assert rows == [(name, value)] * 3


def test_no_rows_leave_a_sound_layer(roomtie, tmp_path):
    layer = filled(empty_layer(tmp_path / "a.gpkg"), [])
    assert layer.isValid()
    assert layer.featureCount() == 0


def test_the_host_can_go_on_editing(roomtie, tmp_path):
    layer = filled(empty_layer(tmp_path / "a.gpkg"), [[(k, k) for k in range(200)]])
    assert layer.startEditing()
    assert layer.deleteFeature(7)
    assert layer.commitChanges()
    with sqlite3.connect(tmp_path / "a.gpkg") as database:
        assert database.execute("SELECT rtreecheck('rtree_spots_geom')").fetchall() == [("ok",)]
        assert database.execute("SELECT count(*) FROM rtree_spots_geom").fetchall() == [(199,)]


def test_other_fields_are_an_error(roomtie, tmp_path):
    other = LayerSchema("spots", "Spots", "Point", (("title", TEXT),))
    path = empty_layer(tmp_path / "a.gpkg", other)
    with pytest.raises(SurveyError, match=r"TEST: the host made a layer of other fields; expected"):
        filled(path, [[(1, 2)]])


def test_cancelling_keeps_no_row(roomtie, tmp_path):
    path = empty_layer(tmp_path / "a.gpkg")
    stops = iter([False, True])

    def parts():
        yield from (table([(k, k)]) for k in range(5))

    with pytest.raises(Cancelled):
        fill_points(
            path, TableParts(SCHEMA, 5, parts()), "TEST", Progress(cancelled=lambda: next(stops))
        )
    assert QgsVectorLayer(str(path), "spots", "ogr").featureCount() == 0
