# SPDX-License-Identifier: GPL-2.0-or-later
"""Results of single steps that the host loads look as the layers of a plan do."""

import pytest
import qgis.gui
from qgis.core import QgsProject


@pytest.fixture
def loaded(roomtie, example_survey, monkeypatch):
    from processing.gui import Postprocessing

    import processing

    # Newer hosts hand the layer tree's view of their window on, which a stand-in for it has not.
    if hasattr(qgis.gui, "QgsProcessingGuiUtils"):
        monkeypatch.setattr(Postprocessing, "iface", None)
    processing.runAndLoadResults(
        "roomtie:importcaptures",
        {
            "INPUT": str(example_survey / "captures"),
            "STATIONS": "memory:",
            "READINGS": "TEMPORARY_OUTPUT",
        },
    )
    yield QgsProject.instance()
    QgsProject.instance().clear()


def test_imported_layers_have_the_plan_s_symbols(loaded):
    looks = {
        layer.name(): [rule.label() for rule in layer.renderer().rootRule().children()]
        for layer in loaded.mapLayers().values()
    }
    assert looks["Stations"][1] == "Station as recorded"
    assert looks["Readings"] == ["Reading", "Flagged reading"]
    assert len(looks) == 2
