# SPDX-License-Identifier: GPL-2.0-or-later
"""Taped distances against a plan in its own axes and on the site."""

import json

import numpy as np
import pytest
from qgis.core import QgsProcessingException, QgsVectorLayer


@pytest.fixture(scope="module")
def plans(roomtie, example_survey, tmp_path_factory):
    """The example on the site, and its walls by name in plan coordinates."""
    import processing

    folder = tmp_path_factory.mktemp("plans")
    placed = processing.run(
        "roomtie:planfromcaptures",
        {
            "INPUT": str(example_survey / "captures"),
            "CONTROL": str(example_survey / "control.csv"),
            "CONTROL_NAME": "target",
            "PLOT_SCALES": ["1:20"],
            "OUTPUT": str(folder / "plan.gpkg"),
            "REPORT": str(folder / "plan.html"),
        },
    )
    return placed["OUTPUT"], json.loads((folder / "plan.json").read_text("utf-8"))


def layer(path, name):
    found = QgsVectorLayer(f"{path}|layername={name}")
    assert found.isValid()
    return found


def inputs(path):
    return {
        "WALL_FACES": layer(path, "wall_faces"),
        "STATIONS": layer(path, "stations"),
        "READINGS": layer(path, "readings"),
        "TARGETS": layer(path, "targets"),
        "NETWORK_COVARIANCE": layer(path, "network_covariance"),
    }


def opposite(path):
    """Two long walls of one storey that face each other, and the ground distance between them by
    the stored lines and the scale of the report: the independent value."""
    walls = [
        (f["wall"], f["azimuth_deg"], f["length_m"], (f["network"], f["level"]), f.geometry())
        for f in layer(path, "wall_faces").getFeatures()
        if f["length_m"] > 3.0 and f["bounds_room"]
    ]
    for first in walls:
        for second in walls:
            turned = abs((second[1] - first[1]) % 360.0 - 180.0) < 0.05
            gap = first[4].distance(second[4])
            if turned and first[3] == second[3] and 2.0 < gap < 8.0:
                middle = first[4].interpolate(first[4].length() / 2)
                if abs(middle.distance(second[4]) - gap) < 0.002:
                    return first[0], second[0], gap
    raise AssertionError("the example has rooms with walls that face each other")


def table_of(path, rows, header="from_ref,to_ref,taped_m,sigma_taped_mm"):
    path.write_text(header + "\n" + "".join(f"{row}\n" for row in rows))
    found = QgsVectorLayer(str(path), "taped", "ogr")
    assert found.isValid()
    return found


def test_distances_on_the_site_are_those_on_the_ground(run, plans, tmp_path):
    path, report = plans
    first, second, on_grid = opposite(path)
    ground = on_grid / report["site"]["combined_scale_factor"]
    taped = table_of(
        tmp_path / "taped.csv", [f"{first},{second},{ground:.4f},2", f"{second},{first},9.5,"]
    )
    result = run(
        "comparedistances",
        TAPED=taped,
        **inputs(path),
        ACCURACY=5.0,
        TAPED_DISTANCES=str(tmp_path / "compared.gpkg"),
        OUTPUT_HTML=str(tmp_path / "compared.html"),
    )
    found = QgsVectorLayer(result["TAPED_DISTANCES"])
    good, bad = sorted(found.getFeatures(), key=lambda f: f["taped_m"])
    assert good["plan_m"] == pytest.approx(ground, abs=0.002)
    assert good["verdict"] == "within tolerance" and bad["verdict"] == "plan too short"
    assert bad["sigma_taped_mm"] == 2.0
    assert 0.0 < good["sigma_plan_mm"] < 5.0
    # The line lies on the site, as long there as the grid makes it.
    assert good.geometry().length() == pytest.approx(on_grid, abs=0.002)
    assert found.crs().authid() == report["site"]["target_crs"]
    assert (result["DISTANCES"], result["BEYOND_TOLERANCE"]) == (2, 1)
    text = (tmp_path / "compared.html").read_text("utf-8")
    assert "not decided" in text and first in text


def test_targets_and_corners_are_compared_too(run, plans, tmp_path):
    path, _ = plans
    points = {f["target"]: f for f in layer(path, "targets").getFeatures()}
    names = sorted(points)
    a, b = next(
        (points[p], points[q])
        for p in names
        for q in names
        if p < q and points[p]["network"] == points[q]["network"]
    )
    length = float(np.hypot(a["x_m"] - b["x_m"], a["y_m"] - b["y_m"]))
    taped = table_of(tmp_path / "taped.csv", [f"{a['target']},{b['target']},{length:.5f},1"])
    result = run("comparedistances", TAPED=taped, **inputs(path), TAPED_DISTANCES="memory:")
    (row,) = result["TAPED_DISTANCES"].getFeatures()
    assert row["difference_mm"] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("W001,W999,4.0,2", r"Layer taped, row 1: 'W999' is no wall"),
        ("W001,,4.0,2", r"Layer taped, row 1: to_ref is empty"),
        ("W001,W002,long,2", r"Layer taped, row 1: taped_m is 'long', expected a number above 0"),
        ("W001,W002,4.0,-1", r"sigma_taped_mm is '?-1'?, expected a number above 0"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_written(run, plans, tmp_path, row, said):
    path, _ = plans
    taped = table_of(tmp_path / "taped.csv", [row])
    with pytest.raises(QgsProcessingException, match=said):
        run(
            "comparedistances",
            TAPED=taped,
            **inputs(path),
            TAPED_DISTANCES=str(tmp_path / "out.gpkg"),
            OUTPUT_HTML=str(tmp_path / "out.html"),
        )
    assert sorted(p.name for p in tmp_path.iterdir()) == ["taped.csv"]


def test_a_plot_scale_that_is_not_there_is_told(run, plans, tmp_path):
    path, _ = plans
    taped = table_of(tmp_path / "taped.csv", ["W001,W002,4.0,2"])
    with pytest.raises(QgsProcessingException, match="not drawn at 1:200; expected one of 1:20"):
        run(
            "comparedistances",
            TAPED=taped,
            **inputs(path),
            PLOT_SCALE=200,
            TAPED_DISTANCES="memory:",
        )


def test_of_the_example_s_taped_distances_only_the_misread_one_is_beyond_tolerance(
    run, plans, example_survey, tmp_path
):
    """The crew misread one distance by 10 cm, as the example's notes tell; at 1:20 every other one
    lies within tolerance."""
    path, _ = plans
    taped = QgsVectorLayer(str(example_survey / "taped_distances.csv"), "taped", "ogr")
    result = run("comparedistances", TAPED=taped, **inputs(path), TAPED_DISTANCES="memory:")
    beyond = [
        (f["from_ref"], f["to_ref"])
        for f in result["TAPED_DISTANCES"].getFeatures()
        if f["verdict"] != "within tolerance"
    ]
    assert beyond == [("T18", "T20")]
    assert result["DISTANCES"] == 14
