# SPDX-License-Identifier: GPL-2.0-or-later
"""Two storeys through the host: one plan, a layer's features by storey, a report of both."""

import json
import sys
from pathlib import Path

import pytest
from qgis.core import QgsProcessingFeedback, QgsVectorLayer

sys.path.append(str(Path(__file__).resolve().parents[1] / "stations"))
sys.path.append(str(Path(__file__).resolve().parents[1] / "captures"))
from simulated_buildings import simulated_building
from written_captures import write_captures


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("two storeys") / "captures"
    survey, truth = simulated_building(
        6, rooms=3, storeys=2, stair=2, targets=False, compass=True, readings=1200
    )
    write_captures(path, survey)
    return path, truth


@pytest.fixture(scope="module")
def plan(roomtie, folder, tmp_path_factory):
    import processing

    out = tmp_path_factory.mktemp("plan")
    processing.run(
        "roomtie:planfromcaptures",
        {
            "INPUT": str(folder[0]),
            "DATE": "2026-05-04",
            "PLOT_SCALES": ["1:50"],
            "OUTPUT": str(out / "plan.gpkg"),
            "REPORT": str(out / "plan.html"),
        },
    )
    return out


def rows(plan, name, *fields):
    layer = QgsVectorLayer(f"{plan / 'plan.gpkg'}|layername={name}", name, "ogr")
    assert layer.isValid()
    return [tuple(f[field] for field in fields) for f in layer.getFeatures()]


def test_every_layer_tells_the_storey(plan, folder):
    _, truth = folder
    stations = dict(rows(plan, "stations", "station", "level"))
    assert stations == {f"S{k + 1:03d}": level for k, level in enumerate(truth.level.tolist())}
    assert {network for (network,) in rows(plan, "stations", "network")} == {1}
    for name in ("rooms", "wall_faces", "openings"):
        assert {level for (level,) in rows(plan, name, "level")} == {0, 1}
    for level in (0, 1):
        of = [row for row in rows(plan, "rooms", "level") if row[0] == level]
        assert len(of) == len(truth.storeys[level].rooms)


def test_the_report_tells_how_the_storeys_hang_together(plan):
    html = (plan / "plan.html").read_text("utf-8")
    assert "<h2>Storeys</h2>" in html and "stair 10, stair 11" in html
    assert all(f"Level {level}: stations (dots" in html for level in (0, 1))
    told = json.loads((plan / "plan.json").read_text("utf-8"))
    assert {station["network"] for station in told["stations"]} == {1}


def test_a_sheet_of_the_upper_storey(run, plan, tmp_path):
    run(
        "plansheet",
        INPUT=str(plan / "plan.gpkg"),
        LEVEL=1,
        PLOT_SCALE="1:50",
        OUTPUT=str(tmp_path / "upper.pdf"),
    )
    assert (tmp_path / "upper.pdf").read_bytes().startswith(b"%PDF")


def test_limits_of_targets_are_heard_in_the_log_and_change_nothing_else(run, folder):
    """With limits that nothing keeps all are told; with ones that everything keeps none is."""
    imported = run("importcaptures", INPUT=str(folder[0]), STATIONS="memory:", READINGS="memory:")
    said, places = [], []
    for near, far, slant in ((3.0, 3.1, 1.0), (0.1, 50.0, 89.0)):
        listening = QgsProcessingFeedback()
        result = run(
            "adjuststations",
            listening,
            STATIONS=imported["STATIONS"],
            READINGS=imported["READINGS"],
            TARGET_NEAREST=near,
            TARGET_FARTHEST=far,
            TARGET_SLANT=slant,
            ADJUSTED_STATIONS="memory:",
            ADJUSTED_READINGS="memory:",
            TIES="memory:",
        )
        said.append(listening.textLog())
        places.append([f.geometry().asWkt(6) for f in result["ADJUSTED_STATIONS"].getFeatures()])
    assert "nearer than 3 m or farther than 3.1 m (common practice)" in said[0]
    assert "at more than 1 deg from square" in said[0]
    assert "common practice" not in said[1]
    assert places[0] == places[1]
