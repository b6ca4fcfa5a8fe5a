# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures of one, two and three readings, and a perfectly round room, through the whole chain."""

import json

import pytest
from qgis.core import QgsVectorLayer

HEAD = """# station: {station}
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
angle,distance
"""


@pytest.fixture
def plan_of(run, tmp_path):
    def plan_of(**captures):
        folder = tmp_path / "captures"
        folder.mkdir()
        for station, rows in captures.items():
            text = "".join(f"{angle},{distance}\n" for angle, distance in rows)
            (folder / f"{station}.csv").write_text(HEAD.format(station=station) + text)
        result = run(
            "planfromcaptures",
            INPUT=str(folder),
            PLOT_SCALES=["1:50"],
            OUTPUT=str(tmp_path / "plan.gpkg"),
            REPORT=str(tmp_path / "plan.html"),
        )
        report = json.loads((tmp_path / "plan.json").read_text("utf-8"))
        return result["OUTPUT"], report["warnings"]

    return plan_of


def features(path, layer):
    return [*QgsVectorLayer(f"{path}|layername={layer}", layer, "ogr").getFeatures()]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_so_few_readings_are_kept_and_no_wall_is_made_of_them(plan_of, count):
    rows = [(10 + 80 * i, 2 + 0.1 * i) for i in range(count)]
    path, warnings = plan_of(A=rows, B=rows)
    assert len(features(path, "readings")) == 2 * count
    assert len(features(path, "stations")) == 2
    assert not features(path, "wall_faces") and not features(path, "rooms")
    assert any(said.startswith("No wall was found: ") for said in warnings)


def test_a_round_room_has_its_radius_in_the_layer(plan_of):
    path, warnings = plan_of(A=[(i * 0.45, 3.0) for i in range(800)])
    faces = features(path, "wall_faces")
    assert faces and {f["curve"] for f in faces} != {""}
    assert [f["radius_m"] for f in faces] == pytest.approx([3.0] * len(faces), abs=1e-3)
    assert len(features(path, "rooms")) == 1
    assert not any("No wall" in said or "No room" in said for said in warnings)
