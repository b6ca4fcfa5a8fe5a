# SPDX-License-Identifier: GPL-2.0-or-later
"""The worked example of the help: the example building surveyed twice."""

import subprocess
import sys
from pathlib import Path

import pytest
from qgis.core import QgsVectorLayer

ROOT = Path(__file__).resolve().parent.parent.parent


def test_the_second_survey_shows_the_shift_the_wall_and_the_split(run, example_survey, tmp_path):
    plan = run(
        "planfromcaptures",
        INPUT=str(example_survey / "captures"),
        TARGET_CRS="EPSG:32631",
        CONTROL=str(example_survey / "control.csv"),
        CONTROL_NAME="target",
        PLOT_SCALES=["1:50"],
        OUTPUT=str(tmp_path / "plan.gpkg"),
        REPORT=str(tmp_path / "plan.html"),
    )["OUTPUT"]
    script = ROOT / "testdata" / "second_survey.py"
    subprocess.run([sys.executable, script, plan, tmp_path], check=True)
    common = {
        "BUILDING": f"{tmp_path / 'register.gpkg'}|layername=register",
        "ID_FIELD": "room_no",
        "LEVEL_FIELD": "storey",
        "PROFILE": '{"schema":"roomtie-building-layer","version":1,"levels":{"GF":0,"UF":1}}',
    }
    result = run(
        "comparebuildinglayer",
        ROOMS=f"{tmp_path / 'second_survey.gpkg'}|layername=rooms",
        SIGMA_BUILDING=20,
        CHANGES=str(tmp_path / "changes.gpkg"),
        OUTPUT_HTML=str(tmp_path / "compared.html"),
        **common,
    )
    rows = [*QgsVectorLayer(result["CHANGES"]).getFeatures()]
    changed = {(f["change"], f["old_id"]) for f in rows if f["change"] != "unchanged"}
    assert changed == {("reshaped", "QR-004"), ("reshaped", "QR-005"), ("split", "QR-010")}
    assert len(rows) == 16
    # The wall of about 3.75 m moved by 0.60 m; the hall lost the area of a wall of 0.12 m.
    by_id = {f["old_id"]: f for f in rows}
    assert by_id["QR-004"]["difference_m2"] == pytest.approx(0.6 * 3.75, abs=0.1)
    assert by_id["QR-004"]["significant"] and by_id["QR-005"]["significant"]
    assert by_id["QR-004"]["offset_mm"] == pytest.approx(600.0, abs=20.0)
    assert "The whole layer is shifted" in Path(result["OUTPUT_HTML"]).read_text("utf-8")
    run(
        "updatebuildinglayer",
        CHANGES=result["CHANGES"],
        DRY_RUN=False,
        UNDO=str(tmp_path / "undo.json"),
        **common,
    )
    register = QgsVectorLayer(common["BUILDING"])
    numbers = {f["room_no"]: f["cost_centre"] for f in register.getFeatures()}
    assert len(numbers) == 16 and numbers["QR-010-2"] == numbers["QR-010"]
    # In the frame of the register another comparison finds nothing but the shift.
    again = run(
        "comparebuildinglayer",
        ROOMS=f"{tmp_path / 'second_survey.gpkg'}|layername=rooms",
        SIGMA_BUILDING=20,
        CHANGES="memory:",
        **common,
    )
    assert {f["change"] for f in again["CHANGES"].getFeatures()} == {"unchanged"}
