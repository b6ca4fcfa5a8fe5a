# SPDX-License-Identifier: GPL-2.0-or-later
import html
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from cancelling import CancelsAt
from qgis.core import QgsProcessingException, QgsProcessingFeedback, QgsVectorLayer

CAPTURE = """# station: A
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
angle,distance,kind,target
0,2.0,ring,
90,,ring,
180,2.1,ring,
270,0.05,ring,
45,3.0,target,T1
"""


def test_stations_readings_and_a_report_are_written(roomtie, run, tmp_path):
    (tmp_path / "a.csv").write_text(CAPTURE)
    result = run(
        "importcaptures",
        INPUT=str(tmp_path),
        STATIONS=str(tmp_path / "stations.gpkg"),
        READINGS="memory:",
        OUTPUT_HTML=str(tmp_path / "report.html"),
    )
    stations = QgsVectorLayer(result["STATIONS"])
    assert stations.isValid()
    assert stations.crs().isValid()
    assert [f["station"] for f in stations.getFeatures()] == ["A"]
    readings = result["READINGS"]
    flags = {f["seq"]: f["flag"] for f in readings.getFeatures()}
    assert flags == {1: "", 2: "no return", 3: "", 4: "too near", 5: ""}
    assert [f["seq"] for f in readings.getFeatures() if not f.hasGeometry()] == [2]
    assert "<h1>" in Path(result["OUTPUT_HTML"]).read_text("utf-8")


def test_a_bad_line_is_named_and_nothing_is_left_behind(roomtie, run, tmp_path):
    captures = tmp_path / "in"
    captures.mkdir()
    (captures / "a.csv").write_text(CAPTURE.replace("180,2.1", "180,wide"))
    target = tmp_path / "stations.gpkg"
    with pytest.raises(QgsProcessingException, match=r"a\.csv.*line 8.*wide"):
        run(
            "importcaptures",
            INPUT=str(captures),
            STATIONS=str(target),
            READINGS="memory:",
            OUTPUT_HTML=str(tmp_path / "report.html"),
        )
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in"]


def test_a_skipped_sink_is_in_order(roomtie, run, tmp_path):
    (tmp_path / "a.csv").write_text(CAPTURE)
    result = run("importcaptures", INPUT=str(tmp_path / "a.csv"), STATIONS="memory:", READINGS=None)
    assert result["STATIONS"].featureCount() == 1


def test_cancelling_writes_nothing(roomtie, run, tmp_path):
    (tmp_path / "a.csv").write_text(CAPTURE)
    feedback = QgsProcessingFeedback()
    feedback.cancel()
    target = tmp_path / "out" / "stations.gpkg"
    result = run(
        "importcaptures",
        feedback=feedback,
        INPUT=str(tmp_path / "a.csv"),
        STATIONS=str(target),
        READINGS="memory:",
    )
    assert result == {}
    assert not target.exists()


# Odd files


def several(folder, count=3):
    """Captures that differ, each of a few readings."""
    folder.mkdir()
    for number in range(count):
        text = CAPTURE.replace("station: A", f"station: S{number}").replace("2.0", f"2.{number}5")
        (folder / f"{number}.csv").write_text(text)
    return folder


@pytest.mark.skipif(os.name == "nt", reason="such names are not allowed there")
def test_names_that_are_no_text_reach_layers_log_and_report(roomtie, run, tmp_path):
    captures = several(tmp_path / "in")
    unnamed = CAPTURE.replace("# station: A\n", "")
    for number, name in enumerate(
        (b"caf\xe9.csv", b"line\nbreak.csv", "部屋 \"1\" 'a'.csv".encode())
    ):
        (captures / os.fsdecode(name)).write_text(unnamed.replace("2.0", f"3.{number}"))
    (captures / os.fsdecode(b"\xff empty.csv")).write_text("")
    os.mkfifo(captures / "pipe.csv")
    feedback = QgsProcessingFeedback()
    result = run(
        "importcaptures",
        feedback=feedback,
        INPUT=str(captures),
        SKIP_UNREADABLE=True,
        STATIONS=str(tmp_path / "stations.gpkg"),
        READINGS=str(tmp_path / "readings.gpkg"),
        OUTPUT_HTML=str(tmp_path / "report.html"),
    )
    names = {"S0", "S1", "S2", "caf\\xe9", "line\\nbreak", "部屋 \"1\" 'a'"}
    for output in ("STATIONS", "READINGS"):
        layer = QgsVectorLayer(result[output])
        assert {feature["station"] for feature in layer.getFeatures()} == names
    report = html.unescape(Path(result["OUTPUT_HTML"]).read_text("utf-8"))
    for sentence in (
        "\\xff empty.csv: the file is empty; expected a capture.",
        "pipe.csv: this is a pipe; expected a file.",
    ):
        assert sentence in report
        assert sentence in feedback.textLog()


# Whole or not at all


@pytest.mark.parametrize("percent", [1, 20, 45, 55, 62, 80, 88])
def test_a_cancelled_import_leaves_no_file_and_the_former_ones_as_they_were(
    roomtie, run, tmp_path, percent
):
    captures = several(tmp_path / "in")
    former = tmp_path / "stations.gpkg"
    former.write_bytes(b"what stood here before")
    result = run(
        "importcaptures",
        feedback=CancelsAt(percent),
        INPUT=str(captures),
        STATIONS=str(former),
        READINGS=str(tmp_path / "readings.gpkg"),
        OUTPUT_HTML=str(tmp_path / "report.html"),
    )
    assert result == {}
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "stations.gpkg"]
    assert former.read_bytes() == b"what stood here before"


@pytest.mark.parametrize("percent", [20, 80])
def test_a_cancelled_import_leaves_a_former_shapefile_with_all_its_files(
    roomtie, run, tmp_path, percent
):
    captures, path = several(tmp_path / "in"), tmp_path / "stations.shp"
    run("importcaptures", INPUT=str(captures), STATIONS=str(path), READINGS=None)
    before = {one.name: one.read_bytes() for one in tmp_path.glob("stations.*")}
    assert {"stations.shp", "stations.dbf", "stations.shx"} <= before.keys()
    cancelled = CancelsAt(percent)
    run("importcaptures", cancelled, INPUT=str(captures), STATIONS=str(path), READINGS="memory:")
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir() if one.is_file()} == before


def test_a_cancelled_import_leaves_what_is_in_the_journal_of_a_former_geopackage(
    roomtie, run, tmp_path
):
    captures, made = several(tmp_path / "in"), tmp_path / "made" / "stations.gpkg"
    made.parent.mkdir()
    run("importcaptures", INPUT=str(captures), STATIONS=str(made), READINGS=None)
    path = tmp_path / made.name
    with closing(sqlite3.connect(made)) as database:
        database.execute("PRAGMA journal_mode = WAL").fetchall()
        database.execute("PRAGMA wal_autocheckpoint = 0").fetchall()
        database.execute("CREATE TABLE notes (note TEXT)")
        database.execute("INSERT INTO notes VALUES ('written just now')")
        database.commit()
        # As a process that was killed leaves them.
        for ending in ("", "-wal"):
            shutil.copyfile(f"{made}{ending}", f"{path}{ending}")
    outputs = {"STATIONS": str(path), "READINGS": "memory:"}
    assert run("importcaptures", CancelsAt(80), INPUT=str(captures), **outputs) == {}
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("SELECT note FROM notes").fetchall() == [("written just now",)]


def test_a_cancelled_import_leaves_nothing_under_a_name_with_a_point_in_it(roomtie, run, tmp_path):
    captures, outputs = several(tmp_path / "in"), {"READINGS": "memory:"}
    outputs["STATIONS"] = str(tmp_path / "survey of 2.4")
    assert run("importcaptures", CancelsAt(80), INPUT=str(captures), **outputs) == {}
    assert [one.name for one in tmp_path.iterdir()] == ["in"]
    result = run("importcaptures", INPUT=str(captures), **outputs)
    assert Path(result["STATIONS"]) == tmp_path / "survey of 2.4.gpkg"


def names_in(path):
    layer = QgsVectorLayer(str(path), "", "ogr")
    return [sub.split("!!::!!")[1] for sub in layer.dataProvider().subLayers()]


def test_two_outputs_in_one_file_are_refused(roomtie, run, tmp_path):
    captures = several(tmp_path / "in")
    both = str(tmp_path / "both.gpkg")
    with pytest.raises(QgsProcessingException, match=r"both\.gpkg: several outputs name this file"):
        run("importcaptures", INPUT=str(captures), STATIONS=both, READINGS=both)
    assert not Path(both).exists()


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "shp"])
def test_readings_in_a_file_of_any_kind_are_the_same(roomtie, run, tmp_path, ending):
    captures = several(tmp_path / "in")
    result = run(
        "importcaptures",
        INPUT=str(captures),
        STATIONS=None,
        READINGS=str(tmp_path / f"readings.{ending}"),
    )
    kept = QgsVectorLayer(result["READINGS"])
    held = run("importcaptures", INPUT=str(captures), STATIONS=None, READINGS="memory:")["READINGS"]
    rows = [
        [
            (f["station"], f["seq"], f["flag"] or "", f.geometry().asWkt(3))
            for f in layer.getFeatures()
        ]
        for layer in (kept, held)
    ]
    assert len(rows[0]) == 15
    assert [r[:3] for r in rows[0]] == [r[:3] for r in rows[1]]
    assert [r[3].replace(" EMPTY", "") for r in rows[0] if "(" in r[3]] == [
        r[3] for r in rows[1] if "(" in r[3]
    ]


def test_temporary_outputs_are_filled_too(roomtie, run, tmp_path):
    captures = several(tmp_path / "in")
    outputs = dict.fromkeys(("STATIONS", "READINGS", "OUTPUT_HTML"), "TEMPORARY_OUTPUT")
    result = run("importcaptures", INPUT=str(captures), **outputs)
    assert result["READINGS"].featureCount() == 15
    assert Path(result["OUTPUT_HTML"]).is_file()
