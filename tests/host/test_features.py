# SPDX-License-Identifier: GPL-2.0-or-later
"""Tables into GeoPackages and back, in the host."""

import sqlite3
from dataclasses import replace

import numpy as np
import pytest
import shapely
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsFeatureSink,
    QgsFeatureStore,
    QgsGeometry,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QDate
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.files import all_or_nothing
from roomtie.processing.layers import features, schema
from roomtie.processing.layers.features import host_fields, write, write_geopackage
from roomtie.processing.layers.features_read import LayerCopy, read_columns, read_table
from roomtie.processing.layers.table import make_table, points
from roomtie.processing.progress import Progress

UTM31 = QgsCoordinateReferenceSystem("EPSG:32631")


def targets(n: int = 3):
    columns = {name: [None] * n for name in schema.TARGETS.field_names}
    columns |= {
        "target": [f"T{i}" for i in range(n)],
        "x_m": np.arange(n) + 0.1,
        "sightings": list(range(n)),
    }
    xy = np.column_stack([np.arange(n) + 500_000.0, np.full(n, 6e6)])
    xy[-1] = np.nan
    return make_table(schema.TARGETS, columns, points(xy), [1] * n)


def rooms():
    square = shapely.box(0, 0, 4, 3)
    columns = {name: [None] for name in schema.ROOMS.field_names} | {"name": ["Room «1»"]}
    return make_table(schema.ROOMS, columns, [square], [1])


def covariance():
    columns = {name: [] for name in schema.NETWORK_COVARIANCE.field_names}
    return make_table(schema.NETWORK_COVARIANCE, columns, [], [])


def content(path, name):
    with sqlite3.connect(path) as database:
        index = database.execute(f"SELECT rtreecheck('rtree_{name}_geom')").fetchone()
        # The host's writer turns a missing geometry into an empty one.
        columns = "iif(sightings < 8, geom, ''), *"
        rows = database.execute(f"SELECT {columns} FROM {name} ORDER BY fid").fetchall()
        rows = [row[:2] + row[3:] for row in rows]
        types = database.execute(f"SELECT typeof(role), typeof(sightings) FROM {name}").fetchall()
        about = database.execute(
            "SELECT table_name, data_type, min_x, max_y, srs_id FROM gpkg_contents ORDER BY 1"
        ).fetchall()
        counts = database.execute("SELECT * FROM gpkg_ogr_contents ORDER BY 1").fetchall()
    return index, rows, types, about, counts


def test_many_points_are_as_the_host_writes_them(qgis_app, tmp_path, monkeypatch):
    """Their rows are not written by the host, whose index is built in a piece."""
    paths = [tmp_path / "few.gpkg", tmp_path / "many.gpkg"]
    for path, batch in zip(paths, (1000, 4)):
        monkeypatch.setattr(features, "BATCH", batch)
        write_geopackage(path, [targets(11), rooms()], UTM31)
        # in the place of the layer that is there
        write_geopackage(path, [targets(9)], UTM31, into=True)
    assert content(paths[0], "targets") == content(paths[1], "targets")
    assert content(paths[1], "targets")[0] == ("ok",)
    assert len(content(paths[1], "targets")[1]) == 9


def test_many_points_with_fields_that_the_host_keeps_itself(qgis_app, tmp_path, monkeypatch):
    monkeypatch.setattr(features, "BATCH", 4)
    own = schema.LayerSchema("own", "Own", "Point", (("FID", schema.INTEGER), ("a", schema.TEXT)))
    values = {"FID": list(range(10, 17)), "a": [*"abcdefg"]}
    xy = np.arange(14.0).reshape(7, 2)
    write_geopackage(tmp_path / "a.gpkg", [make_table(own, values, points(xy), [1] * 7)], UTM31)
    found = list(QgsVectorLayer(f"{tmp_path / 'a.gpkg'}|layername=own").getFeatures())
    assert [feature["a"] for feature in found] == [*"abcdefg"]
    assert [feature.geometry().asPoint().y() for feature in found] == xy[:, 1].tolist()


def test_a_geopackage_holds_what_was_written(qgis_app, tmp_path):
    path = tmp_path / "größe 1" / "plan.gpkg"
    path.parent.mkdir()
    write_geopackage(path, [targets(), rooms(), covariance()], UTM31)
    assert [p.name for p in path.parent.iterdir()] == ["plan.gpkg"]
    layer = QgsVectorLayer(f"{path}|layername=targets")
    assert layer.crs() == UTM31
    columns, geometry = read_columns(layer, "targets", ("target", "x_m", "sightings", "role"))
    assert columns["target"] == ["T0", "T1", "T2"]
    assert columns["x_m"] == pytest.approx([0.1, 1.1, 2.1])
    assert columns["sightings"] == [0, 1, 2]
    assert columns["role"] == [None] * 3
    assert geometry[2] is None
    np.testing.assert_array_equal(shapely.get_coordinates(geometry[:2])[:, 0], [500_000, 500_001])
    room = QgsVectorLayer(f"{path}|layername=rooms")
    assert next(room.getFeatures()).geometry().area() == pytest.approx(12.0)
    assert QgsVectorLayer(f"{path}|layername=network_covariance").isValid()


def test_the_styles_are_kept_as_defaults(roomtie, tmp_path):
    path = tmp_path / "plan.gpkg"
    write_geopackage(path, [targets(), rooms()], UTM31, style=roomtie.style_layer)
    layer = QgsVectorLayer(f"{path}|layername=targets")
    assert layer.renderer().type() == "RuleRenderer"
    labels = {rule.label() for rule in layer.renderer().rootRule().children()}
    assert labels == {"Control", "Tie target", "Check target"}


def test_a_cancel_between_layers_is_heard(qgis_app, tmp_path):
    asked = iter([False, True, True, True])
    progress = Progress(cancelled=lambda: next(asked))
    with pytest.raises(Cancelled), all_or_nothing() as draft:
        write_geopackage(
            draft(tmp_path / "plan.gpkg"), [targets(), rooms()], UTM31, progress=progress
        )
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_named(qgis_app, tmp_path):
    with pytest.raises(SurveyError, match="nowhere, layer targets: could not be created"):
        write_geopackage(tmp_path / "nowhere" / "plan.gpkg", [targets()], UTM31)


def test_two_layers_of_one_name_are_refused(qgis_app, tmp_path):
    other = replace(rooms(), schema=replace(schema.ROOMS, name="Targets"))
    with pytest.raises(SurveyError, match="two layers are called targets"):
        write_geopackage(tmp_path / "plan.gpkg", [targets(), other], UTM31)


class Refuses(QgsFeatureSink):
    """A sink that takes one batch and refuses the next."""

    def addFeatures(self, features, flags=None):  # noqa: N802 - the host's name
        return False

    def lastError(self):  # noqa: N802 - the host's name
        return "disk full"


def test_features_that_the_sink_drops_are_not_lost_silently(qgis_app):
    with pytest.raises(SurveyError, match=r"here: features 1 to 3 of 3 .* disk full"):
        write(targets(), Refuses(), "here", host_fields(schema.TARGETS))


def test_a_layer_of_something_else_is_told_what_it_lacks(qgis_app):
    layer = QgsVectorLayer("Point?field=name:string", "shops", "memory")
    with pytest.raises(SurveyError, match="Layer shops: there is no field station, level"):
        read_columns(layer, "shops", ("station", "level"))


def test_a_cancel_is_heard_while_a_layer_is_read(qgis_app):
    layer = QgsVectorLayer("Point?field=name:string", "many", "memory")
    features = [QgsFeature(layer.fields()) for _ in range(5000)]
    layer.dataProvider().addFeatures(features)
    asked = []
    progress = Progress(cancelled=lambda: asked.append(1) or len(asked) > 1)
    with pytest.raises(Cancelled):
        read_columns(layer, "many", ("name",), progress=progress)
    assert len(asked) == 2


def test_any_layer_can_be_read_as_a_table(qgis_app):
    uri = "PointZ?field=name:string&field=n:int8&field=day:date&index=yes"
    layer = QgsVectorLayer(uri, "any", "memory")
    feature = QgsFeature(layer.fields())
    feature.setAttributes(["a", 2**40, QDate(2026, 3, 18)])
    feature.setGeometry(QgsGeometry.fromWkt("POINT Z (1 2 3)"))
    layer.dataProvider().addFeatures([feature])
    table = read_table(LayerCopy.of(layer), "any", lambda row: 7)
    assert table.schema.geometry == "Point"
    assert table.schema.fields == (("name", "text"), ("n", "long"), ("day", "text"))
    assert table.columns == (["a"], [2**40], ["2026-03-18"])
    assert table.geometry[0].wkt == "POINT (1 2)"
    assert table.network.tolist() == [7]
    curve = QgsVectorLayer("CompoundCurve?field=name:string", "bend", "memory")
    with pytest.raises(SurveyError, match="Layer bend: geometries of type CompoundCurve"):
        read_table(LayerCopy.of(curve), "bend", lambda row: 1)


ARC = "CurvePolygon (CircularString (0 0, 1 1, 2 0, 1 -1, 0 0))"


def test_a_feature_with_arcs_is_named_and_one_without_is_read(qgis_app):
    layer = QgsVectorLayer("CurvePolygon?field=name:string", "apse", "memory")
    for text in ("CurvePolygon ((0 0, 1 0, 1 1, 0 0))", "Polygon ((0 0, 2 0, 2 2, 0 0))", ARC):
        _, geometry = read_columns(layer, "apse", ("name",))
        feature = QgsFeature(layer.fields())
        feature.setGeometry(QgsGeometry.fromWkt(text))
        layer.dataProvider().addFeatures([feature])
    assert [shape.area for shape in geometry] == [0.5, 2.0]
    with pytest.raises(SurveyError, match=r"Layer apse, feature 3: .*CurvePolygon.*Segmentize"):
        read_columns(layer, "apse", ("name",))


def test_a_layer_without_fields_is_moved_as_well(qgis_app):
    layer = QgsVectorLayer("Point", "bare", "memory")
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt("POINT (1 2)"))
    layer.dataProvider().addFeatures([feature])
    table = read_table(LayerCopy.of(layer), "bare", lambda row: 7)
    moved = table.placed(lambda network, xy: xy + network)
    assert [point.wkt for point in moved.geometry] == ["POINT (8 9)"]
    assert list(_features_of(moved)) == ["Point (8 9)"]


def _features_of(table):
    sink = QgsFeatureStore(host_fields(table.schema), QgsCoordinateReferenceSystem())
    write(table, sink, "here", host_fields(table.schema))
    return (feature.geometry().asWkt() for feature in sink.features())
