# SPDX-License-Identifier: GPL-2.0-or-later
"""What the report of a plan tells of its run."""

import json
import os
import shutil

from qgis.core import QgsProcessingContext


def test_the_report_names_files_without_the_folders_they_lie_in(roomtie, tmp_path):
    from roomtie.processing.algorithms.plan_tell import told_parameters

    algorithm = roomtie.algorithm("planfromcaptures").create()
    mine = tmp_path / "home of somebody"
    given = {
        "INPUT": str(mine / "captures"),
        "EARLIER": f"{mine}/earlier.gpkg|layername=stations",
        "CALIBRATION": str(mine / "calibration"),
        "PROFILE": str(mine / "instrument.json"),
        "PLOT_SCALES": ["1:50"],
        "OUTPUT": str(mine / "plan.gpkg"),
    }
    told = told_parameters(algorithm, given, QgsProcessingContext())
    assert "somebody" not in str(told)
    assert told["INPUT"] == "captures" and told["CALIBRATION"] == "calibration"
    assert told["EARLIER"] == "earlier.gpkg" and told["PROFILE"] == "instrument.json"
    assert told["PLOT_SCALES"] == "['1:50']" and told["CONTROL"] is None


def test_a_profile_is_told_by_its_name_or_as_it_was_given(roomtie):
    from roomtie.processing.algorithms.plan_tell import told_parameters

    algorithm = roomtie.algorithm("planfromcaptures").create()
    for profile in ("The office's", '{"a": "b/c.json"}'):
        told = told_parameters(algorithm, {"PROFILE": profile}, QgsProcessingContext())
        assert told["PROFILE"] == profile


def test_a_folder_whose_name_is_no_text_keeps_no_report_from_being_written(
    run, example_survey, tmp_path
):
    folder = tmp_path / os.fsdecode(b"\xff captures")
    folder.mkdir()
    shutil.copy(example_survey / "captures" / "S01.csv", folder)
    report = tmp_path / "plan.html"
    files = {"INPUT": folder, "OUTPUT": tmp_path / "plan.gpkg", "REPORT": report}
    run("planfromcaptures", PLOT_SCALES=["1:100"], **{n: str(p) for n, p in files.items()})
    assert "\\udcff captures" in report.read_text("utf-8")
    told = json.loads(report.with_suffix(".json").read_text("utf-8"))
    assert told["parameters"]["INPUT"] == folder.name
