# SPDX-License-Identifier: GPL-2.0-or-later
from pathlib import Path

import pytest
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
