# SPDX-License-Identifier: GPL-2.0-or-later
"""What the report of a plan tells of its run."""

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
