# SPDX-License-Identifier: GPL-2.0-or-later
"""A maintained GeoPackage or shapefile compared with new rooms, updated, and taken back."""

import hashlib
import json
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import pytest
import shapely
from building_layers import NEW, OLD, at_place, building_file, rooms_file, run_sql
from qgis.core import QgsFeature, QgsGeometry, QgsProcessingException, QgsVectorLayer
from shapely.geometry import Polygon

LEVELS = json.dumps(
    {"schema": "roomtie-building-layer", "version": 1, "level": "geschoss", "levels": {"EG": 0}}
)
FIELDS = {"ID_FIELD": "nummer", "PROFILE": LEVELS}


@pytest.fixture
def data(run, tmp_path):
    """Compares and updates the layers of a folder."""

    def compare(building, **more):
        rooms = more.pop("ROOMS", None) or rooms_file(tmp_path / "rooms.gpkg", more.pop("new", NEW))
        return run(
            "comparebuildinglayer",
            ROOMS=rooms,
            BUILDING=building,
            CHANGES=more.pop("CHANGES", str(tmp_path / "changes.gpkg")),
            OUTPUT_HTML=str(tmp_path / "compared.html"),
            **{**FIELDS, **more},
        )

    def update(building, **more):
        given = {
            "CHANGES": str(tmp_path / "changes.gpkg"),
            "DRY_RUN": False,
            "DATE": "2026-05-04",
            "UNDO": str(tmp_path / "undo.json"),
            "OUTPUT_HTML": str(tmp_path / "updated.html"),
            **FIELDS,
            **more,
        }
        return run("updatebuildinglayer", BUILDING=building, **given)

    return SimpleNamespace(compare=compare, update=update, folder=tmp_path)


def rows_of(uri):
    layer = QgsVectorLayer(uri, "rows", "ogr")
    assert layer.isValid()
    return {
        f["nummer"]: (
            f["nutzung"],
            f["kosten"],
            f["geschoss"],
            shapely.from_wkb(bytes(f.geometry().asWkb())),
        )
        for f in layer.getFeatures()
    }


def content(path, table="raeume"):
    with sqlite3.connect(path) as database:
        return database.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()


def area_of(rows, name):
    return rows[name][3].area


def test_each_room_is_told_by_what_became_of_it(data):
    result = data.compare(building_file(data.folder / "b.gpkg"), COMPLETE=True)
    rows = [
        (f["change"], f["old_id"], f["new_room"], f["assigned_id"])
        for f in QgsVectorLayer(result["CHANGES"]).getFeatures()
    ]
    null = QgsVectorLayer(result["CHANGES"]).getFeatures().__next__()["assigned_id"]
    told = {(c, o if o != null else None, n if n != null else None) for c, o, n, _ in rows}
    assert told == {
        ("reshaped", "101", "a"),
        ("reshaped", "102", "b"),
        ("split", "103", "c"),
        ("split", "103", "d"),
        ("merged", "104", "e"),
        ("merged", "105", "e"),
        ("unchanged", "106", "f"),
        ("unchanged", "107", "h"),
        ("unchanged", "108", "i"),
        ("new", None, "g"),
    }
    assert {a for *_, a in rows if a != null} == {"103-2", "Room g"}
    text = (data.folder / "compared.html").read_text("utf-8")
    assert "<svg" in text and "no common shift" in text
    assert result["CHANGED"] == 7 and result["UNRESOLVED"] == 0


@pytest.mark.parametrize("epsg", [4326, 31467])
def test_the_layer_may_lie_in_any_coordinate_system(data, epsg):
    """Degrees, and another datum."""
    from qgis.core import (
        QgsCoordinateReferenceSystem,
        QgsCoordinateTransform,
        QgsCoordinateTransformContext,
        QgsGeometry,
    )

    change = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:32632"),
        QgsCoordinateReferenceSystem(f"EPSG:{epsg}"),
        QgsCoordinateTransformContext(),
    )

    def there(shape):
        geometry = QgsGeometry.fromWkt(at_place(shape).wkt)
        geometry.transform(change)
        return shapely.from_wkb(bytes(geometry.asWkb()))

    moved = {name: there(shape) for name, shape in OLD.items()}
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    # Written by hand, so that the coordinates are those of the other system.
    from building_layers import _layer
    from osgeo import ogr

    path.unlink()
    source, layer = _layer(path, "raeume", epsg, ogr.wkbPolygon)
    layer.CreateField(ogr.FieldDefn("nummer", ogr.OFTString))
    for name, shape in moved.items():
        feature = ogr.Feature(layer.GetLayerDefn())
        feature["nummer"] = name
        feature.SetGeometry(ogr.CreateGeometryFromWkb(shapely.to_wkb(shape)))
        layer.CreateFeature(feature)
    del layer, source
    data.compare(uri, PROFILE="")
    data.update(uri, PROFILE="")
    found = QgsVectorLayer(uri)
    (first,) = (f for f in found.getFeatures() if f["nummer"] == "101")
    expected = there(NEW["a"])
    got = shapely.from_wkb(bytes(first.geometry().asWkb()))
    unit = 1e-7 if epsg == 4326 else 0.01
    assert shapely.hausdorff_distance(got, expected) < unit


def test_an_update_keeps_identifiers_and_attributes_and_is_taken_back_bit_by_bit(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    before, whole = rows_of(uri), content(path)
    dry = data.update(uri, DRY_RUN=True)
    assert content(path) == whole and not Path(data.folder / "undo.json").exists()
    assert dry["CHANGED"] == 7
    data.update(uri)
    after = rows_of(uri)
    assert set(after) == (set(before) - {"105"}) | {"103-2", "Room g"}
    for name in set(before) & set(after):
        assert after[name][:3] == before[name][:3]
    assert after["103-2"][0] == before["103"][0]
    sizes = {"101": 25.0, "102": 15.0, "103": 17.5, "103-2": 12.5, "104": 24.0, "Room g": 12.0}
    for name, size in sizes.items():
        assert area_of(after, name) == pytest.approx(size, abs=1e-6)
    for name in ("106", "107", "108"):
        assert shapely.equals_exact(after[name][3], before[name][3], 0.0)
    (old,) = content(path, "raeume_history")
    assert "105" in old and "2026-05-04" in old
    # GDAL sees a layer that is whole: the index agrees with the table.
    ((indexed,),) = run_sql(path, "SELECT count(*) FROM rtree_raeume_geom")
    assert indexed == len(after)
    data.update(uri, CHANGES=None, INVERSE=str(data.folder / "undo.json"), UNDO=None)
    assert content(path) == whole
    assert content(path, "raeume_history") == []
    with pytest.raises(QgsProcessingException, match="not as the update left it"):
        data.update(uri, CHANGES=None, INVERSE=str(data.folder / "undo.json"), UNDO=None)
    assert content(path) == whole


def test_rooms_that_end_keep_their_row_where_the_schema_has_dates(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path, dated=True)
    dated = {"VALID_TO_FIELD": "gueltig"}
    data.compare(uri, **dated)
    data.update(uri, **dated)
    ended = run_sql(path, "SELECT nummer, gueltig FROM raeume WHERE gueltig IS NOT NULL")
    assert ended == [("105", "2026-05-04")]
    # What has ended is not compared again, and everything else now agrees.
    result = data.compare(uri, CHANGES="memory:", **dated)
    assert {f["change"] for f in result["CHANGES"].getFeatures()} == {"unchanged"}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE raeume SET kosten = 99 WHERE nummer = '102'",
        "UPDATE raeume SET nutzung = NULL WHERE nummer = '105'",
        "DELETE FROM raeume WHERE nummer = '101'",
    ],
)
def test_what_someone_else_changed_meanwhile_stops_the_update(data, statement):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    run_sql(path, statement)
    theirs = content(path)
    with pytest.raises(QgsProcessingException, match=r"since it was compared, (someone|there is)"):
        data.update(uri)
    assert content(path) == theirs and not (data.folder / "undo.json").exists()


def test_a_change_of_a_room_that_is_not_updated_does_not_matter(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    run_sql(path, "UPDATE raeume SET kosten = 99 WHERE nummer = '106'")
    data.update(uri)
    assert rows_of(uri)["106"][1] == 99.0


def test_what_changed_after_an_update_is_not_lost_by_taking_it_back(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    data.update(uri)
    run_sql(path, "UPDATE raeume SET kosten = 7 WHERE nummer = '103-2'")
    theirs = content(path)
    with pytest.raises(QgsProcessingException, match="room 103-2: it is not as the update left it"):
        data.update(uri, CHANGES=None, INVERSE=str(data.folder / "undo.json"), UNDO=None)
    assert content(path) == theirs


def test_another_writer_holds_the_file(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    whole = content(path)
    from osgeo import gdal

    with sqlite3.connect(path, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        gdal.SetConfigOption("SQLITE_BUSY_TIMEOUT", "200")
        try:
            with pytest.raises(QgsProcessingException, match="another program is writing to it"):
                data.update(uri)
        finally:
            gdal.SetConfigOption("SQLITE_BUSY_TIMEOUT", None)
            other.execute("ROLLBACK")
    assert content(path) == whole


def test_a_trigger_and_a_foreign_key_are_respected(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    run_sql(
        path,
        "CREATE TABLE moebel (id INTEGER PRIMARY KEY, raum INTEGER REFERENCES raeume(fid) "
        "ON DELETE CASCADE)",
        "INSERT INTO moebel (raum) SELECT fid FROM raeume WHERE nummer = '105'",
        "CREATE TABLE spur (was TEXT)",
        "CREATE TRIGGER spur_t AFTER UPDATE OF geom ON raeume BEGIN "
        "INSERT INTO spur VALUES (NEW.nummer); END",
    )
    data.compare(uri)
    whole = content(path)
    with pytest.raises(QgsProcessingException, match=r"room 105: 1 row\(s\) of moebel hang on it"):
        data.update(uri)
    assert content(path) == whole and content(path, "spur") == []
    run_sql(path, "UPDATE moebel SET raum = (SELECT fid FROM raeume WHERE nummer = '104')")
    data.update(uri)
    assert sorted(content(path, "spur")) == [("101",), ("102",), ("103",), ("104",)]
    assert len(content(path, "moebel")) == 1


def test_a_refusing_trigger_leaves_everything_as_it_was(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    run_sql(
        path,
        "CREATE TRIGGER no_new BEFORE INSERT ON raeume BEGIN SELECT RAISE(ABORT, 'frozen'); END",
    )
    data.compare(uri)
    whole = content(path)
    with pytest.raises(QgsProcessingException, match=r"refused a change: .*frozen"):
        data.update(uri)
    assert content(path) == whole and not (data.folder / "undo.json").exists()


def test_an_update_that_fails_at_its_end_leaves_the_undo_file_of_another(data, monkeypatch):
    from roomtie.processing.errors import SurveyError
    from roomtie.processing.layers.maintained.geopackage import GeoPackageSession

    uri, undo = building_file(data.folder / "b.gpkg"), data.folder / "undo.json"
    data.compare(uri)

    def fails(session):
        assert "103-2" in undo.read_text("utf-8")
        session.rollback()
        raise SurveyError("The disk is full.")

    for before in (None, "the way back of another update"):
        if before is not None:
            undo.write_text(before)
        with monkeypatch.context() as patched:
            patched.setattr(GeoPackageSession, "commit", fails)
            with pytest.raises(QgsProcessingException, match="The disk is full"):
                data.update(uri)
        assert (undo.read_text("utf-8") if undo.is_file() else None) == before
        assert [one.name for one in data.folder.glob(".undo*")] == []
    data.update(uri)
    assert "103-2" in undo.read_text("utf-8")


def test_a_room_without_area_is_named(data):
    rooms = {**OLD, "flat": Polygon([(0, 0), (2, 2), (4, 4)])}
    uri = building_file(data.folder / "b.gpkg", rooms)
    with pytest.raises(QgsProcessingException, match=r"room flat\): its outline encloses no area"):
        data.compare(uri)


def test_a_room_with_arcs_is_named(data):
    fields = "&".join(f"field={name}:string(20)" for name in ("nummer", "nutzung", "geschoss"))
    layer = QgsVectorLayer(f"CurvePolygon?crs=EPSG:32632&{fields}", "raeume", "memory")
    feature = QgsFeature(layer.fields())
    feature.setAttributes(["apse", "", "EG"])
    arc = "CurvePolygon (CircularString (0 0, 1 1, 2 0, 1 -1, 0 0))"
    feature.setGeometry(QgsGeometry.fromWkt(arc))
    layer.dataProvider().addFeatures([feature])
    with pytest.raises(QgsProcessingException, match=r"room apse\): it has arcs \(CurvePolygon\)"):
        data.compare(layer)


def test_a_room_that_crosses_itself_is_repaired_for_the_comparison_and_told(data):
    bow = Polygon([(0, 12), (4, 16), (4, 12), (0, 16), (0, 14), (-1, 14), (0, 14)])
    uri = building_file(data.folder / "b.gpkg", {**OLD, "bow": bow})
    result = data.compare(uri, CHANGES="memory:", FINDINGS="memory:")
    (found,) = [f for f in result["FINDINGS"].getFeatures() if f["check_name"] == "invalid"]
    assert found["rooms"] == "bow" and found.geometry().area() == pytest.approx(8.0)
    (change,) = [f for f in result["CHANGES"].getFeatures() if f["old_id"] == "bow"]
    assert change["change"] == "unresolved"


def test_a_shift_of_the_layer_is_told_as_one(data):
    moved = {n: shapely.transform(s, lambda xy: xy + [0.8, -0.3]) for n, s in OLD.items()}
    new = dict(OLD)
    uri = building_file(data.folder / "b.gpkg", moved)
    result = data.compare(uri, new=new, CHANGES="memory:")
    assert {f["change"] for f in result["CHANGES"].getFeatures()} == {"unchanged"}
    text = (data.folder / "compared.html").read_text("utf-8")
    assert "-800 mm in x" in text and "+300 mm in y" in text


def test_of_a_shapefile_a_copy_is_changed(data):
    path = data.folder / "b.shp"
    uri = building_file(path, driver="ESRI Shapefile", table="b")
    digest = {p.name: hashlib.sha256(p.read_bytes()).digest() for p in data.folder.glob("b.*")}
    data.compare(uri)
    with pytest.raises(QgsProcessingException, match=r"has no transactions.*expected COPY"):
        data.update(uri)
    data.update(uri, COPY=str(data.folder / "neu.shp"))
    for name, was in digest.items():
        assert hashlib.sha256((data.folder / name).read_bytes()).digest() == was
    before, after = rows_of(uri), rows_of(str(data.folder / "neu.shp"))
    assert set(after) == (set(before) - {"105"}) | {"103-2", "Room g"}
    assert all(after[n][:3] == before[n][:3] for n in set(before) & set(after))
    assert set(rows_of(str(data.folder / "neu_history.shp"))) == {"105"}
    with pytest.raises(QgsProcessingException, match="it is there already"):
        data.update(uri, COPY=str(data.folder / "neu.shp"))


def test_fields_are_mapped_once_and_kept(run, data):
    from qgis.core import QgsSettings
    from roomtie.processing.algorithms.building_fields import KEY

    QgsSettings().remove(KEY)
    try:
        uri = building_file(data.folder / "b.gpkg")
        data.compare(uri, KEEP_PROFILE="town hall")
        result = data.compare(uri, PROFILE="town hall", CHANGES="memory:")
        assert result["CHANGES"].featureCount() == 10
        with pytest.raises(QgsProcessingException, match="no profile 'x'; kept are: town hall"):
            data.compare(uri, PROFILE="x")
    finally:
        QgsSettings().remove(KEY)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"PROFILE": '{"schema": 3}'}, "PROFILE is no profile"),
        ({"LEVEL_FIELD": "etage"}, "no field 'etage'"),
        ({"PROFILE": "", "LEVEL_FIELD": "geschoss"}, r"room 101\): the storey is 'EG'"),
        ({"LEVEL": 7}, "no rooms on storey 7"),
    ],
)
def test_bad_input_of_a_comparison_is_one_sentence(data, more, said):
    with pytest.raises(QgsProcessingException, match=said):
        data.compare(building_file(data.folder / "b.gpkg"), **more)


def test_bad_input_of_an_update_is_one_sentence(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    whole = content(path)
    changes = data.folder / "changes.gpkg"
    for statement, said in (
        ("UPDATE changes SET accepted = 0 WHERE assigned_id = '103-2'", "some of its rows"),
        ("UPDATE changes SET assigned_id = '101'", "'101' is taken"),
        ("UPDATE changes SET change = 'gone'", r"row 1 \(gone\): expected one of"),
    ):
        kept = changes.read_bytes()
        run_sql(changes, statement)
        with pytest.raises(QgsProcessingException, match=said):
            data.update(uri)
        changes.write_bytes(kept)
    for text, said in (("{}", "no undo file"), ("[", "no JSON")):
        (data.folder / "x.json").write_text(text)
        with pytest.raises(QgsProcessingException, match=said):
            data.update(uri, CHANGES=None, INVERSE=str(data.folder / "x.json"))
    with pytest.raises(QgsProcessingException, match="found neither"):
        data.update(uri, CHANGES=None)
    with pytest.raises(QgsProcessingException, match="DATE: found 'May', expected a date such as"):
        data.update(uri, DATE="May")
    assert content(path) == whole


def test_a_report_that_cannot_be_written_does_not_hide_the_update(data):
    uri = building_file(data.folder / "b.gpkg")
    data.compare(uri)
    (data.folder / "file").write_text("")
    said = r"could not be written: .*This is the report alone: 7 row\(s\) changed"
    with pytest.raises(QgsProcessingException, match=said):
        data.update(uri, OUTPUT_HTML=str(data.folder / "file" / "updated.html"))
    assert (data.folder / "undo.json").exists()


def test_an_undo_file_that_was_tampered_with_is_refused(data):
    path = data.folder / "b.gpkg"
    uri = building_file(path)
    data.compare(uri)
    data.update(uri)
    undo = json.loads((data.folder / "undo.json").read_text("utf-8"))
    undo["steps"][0]["key"] = "1; DROP TABLE raeume"
    (data.folder / "undo.json").write_text(json.dumps(undo))
    whole = content(path)
    with pytest.raises(QgsProcessingException, match="step 1: it was not written by an update"):
        data.update(uri, CHANGES=None, INVERSE=str(data.folder / "undo.json"), UNDO=None)
    assert content(path) == whole
