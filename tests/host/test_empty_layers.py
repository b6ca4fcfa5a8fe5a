# SPDX-License-Identifier: GPL-2.0-or-later
"""Layers without a feature, as a filter in a model may leave them."""

import pytest
from qgis.core import QgsFeatureRequest, QgsProcessingException


@pytest.fixture
def nothing(run, tmp_path):
    """Stations and readings of an import, none of them selected."""
    header = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n"
    path = tmp_path / "A.csv"
    path.write_text(header + "".join(f"{a},2\n" for a in range(360)), encoding="utf-8")
    imported = run("importcaptures", INPUT=str(path), STATIONS="memory:", READINGS="memory:")
    none = QgsFeatureRequest().setFilterFids([])
    return {name: imported[name].materialize(none) for name in ("STATIONS", "READINGS")}


def test_of_no_stations_there_are_no_walls_and_rooms_are_refused_in_words(run, nothing, tmp_path):
    adjusted = run(
        "adjuststations",
        **nothing,
        ADJUSTED_STATIONS="memory:",
        ADJUSTED_READINGS="memory:",
        TIES="memory:",
        OUTPUT_HTML=str(tmp_path / "adjusted.html"),
    )
    assert adjusted["ADJUSTED_STATIONS"].featureCount() == 0
    layers = {
        "STATIONS": adjusted["ADJUSTED_STATIONS"],
        "READINGS": adjusted["ADJUSTED_READINGS"],
    }
    walls = run("extractwalls", **layers, WALL_FACES="memory:", FLAGGED_READINGS="memory:")
    assert walls["WALL_FACES"].featureCount() == 0
    with pytest.raises(QgsProcessingException, match="WALL_FACES has no features; expected"):
        run(
            "buildrooms",
            **layers,
            WALL_FACES=walls["WALL_FACES"],
            ROOMS="memory:",
            OPENINGS="memory:",
        )
