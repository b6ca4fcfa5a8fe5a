# SPDX-License-Identifier: GPL-2.0-or-later
"""Files read on other threads while the window has them open."""

import subprocess
import sys
from pathlib import Path

import pytest
from qgis.core import QgsVectorLayer
from roomtie.processing.layers.apart import opened_apart

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def test_no_thread_waits_for_ever_while_the_window_reads_its_layers_again(plan):
    """The host's own way of opening a layer stops within the first round (QGIS 3.22)."""
    try:
        ended = subprocess.run(
            [sys.executable, str(HERE / "reload_in_a_process.py"), str(ROOT), str(plan)],
            capture_output=True,
            text=True,
            cwd="/",
            timeout=240,
        )
    except subprocess.TimeoutExpired:
        pytest.fail("the threads wait for each other")
    assert ended.returncode == 0, ended.stderr
    assert min(map(int, ended.stdout.split())) > 0


@pytest.mark.parametrize("condition", ["", '|subset="level" = 0'])
def test_the_same_features_are_read(plan, condition):
    source = f"{plan}|layername=rooms{condition}"
    usual, apart = QgsVectorLayer(source, "rooms", "ogr"), opened_apart(source, "rooms")
    assert [one.attributes() for one in apart.getFeatures()] == [
        one.attributes() for one in usual.getFeatures()
    ]
    assert apart.featureCount() > 0 and apart.source() != usual.source()


def test_a_source_that_shares_no_connection_stays_as_it_is(tmp_path):
    path = tmp_path / "rooms.geojson"
    path.write_text('{"type": "FeatureCollection", "features": []}', "utf-8")
    assert opened_apart(str(path), "rooms").source() == str(path)
    assert not opened_apart(str(tmp_path / "none.gpkg"), "rooms").isValid()
