# SPDX-License-Identifier: GPL-2.0-or-later
"""Importing a folder of captures, against the host's own import of the same rows as delimited text.

The peer is given a text file of the very rows that the import wrote, with the same columns, its
coordinates ready to use, and only moves them into a GeoPackage: no header to read, no flag to find,
no report. Both write a file with a spatial index. Times are CPU seconds of this process, as both
work in one thread and other work on the machine must not count.
"""

import csv
import sys
import time
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("qgis", reason="needs the host")
pytestmark = pytest.mark.host

HERE = Path(__file__).resolve().parent
CAPTURES, READINGS = 200, 1600
HEADER = "# level: 0\n# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """L-shaped rooms with noise, outliers and mixed returns."""
    sys.path.insert(0, str(HERE.parent / "captures"))
    from simulated import capture_of, loop

    rng = np.random.default_rng(7)
    made = tmp_path_factory.mktemp("captures")
    for number in range(CAPTURES):
        w, d = rng.uniform(3.0, 8.0, 2)
        room = [(0, 0), (w, 0), (w, 0.6 * d), (0.6 * w, 0.6 * d), (0.6 * w, d), (0, d)]
        capture, _ = capture_of(
            loop(room),
            (0.3 * w, 0.3 * d),
            rng=rng,
            readings=READINGS,
            outliers=0.01,
            mixed=True,
        )
        rows = "".join(
            f"{angle:.3f},{distance:.4f},ring,\n"
            if distance == distance
            else f"{angle:.3f},,ring,\n"
            for angle, distance in zip(capture.angle_deg, capture.distance_m)
        )
        text = f"# station: S{number:03}\n{HEADER}angle,distance,kind,target\n{rows}"
        (made / f"S{number:03}.csv").write_text(text)
    return made


@pytest.fixture(scope="module")
def provider(qgis_app, qgis_processing):
    from qgis.core import QgsApplication
    from roomtie.processing.provider import RoomtieProvider

    registry = QgsApplication.processingRegistry()
    found = registry.providerById("roomtie")
    if found is None:
        found = RoomtieProvider(lambda _: None)
        registry.addProvider(found)
    return found


def rows_as_text(layer, path):
    names = [field.name() for field in layer.fields() if field.name() != "fid"]
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow([*names, "x", "y"])
        for feature in layer.getFeatures():
            place = ("", "")
            if feature.hasGeometry() and not feature.geometry().isEmpty():
                point = feature.geometry().asPoint()
                place = (repr(point.x()), repr(point.y()))
            values = (
                "" if value is None or str(value) == "NULL" else value
                for value in (feature[name] for name in names)
            )
            writer.writerow([*values, *place])


@pytest.mark.benchmark(timer=time.process_time)
def test_import_of_a_folder(benchmark, provider, folder, tmp_path):
    from qgis.core import QgsVectorLayer

    import processing

    outputs = {
        "STATIONS": str(tmp_path / "stations.gpkg"),
        "READINGS": str(tmp_path / "readings.gpkg"),
        "OUTPUT_HTML": str(tmp_path / "report.html"),
    }

    def ours():
        processing.run("roomtie:importcaptures", {"INPUT": str(folder), **outputs})

    def cleared():
        for path in [*outputs.values(), tmp_path / "peer.gpkg"]:
            Path(path).unlink(missing_ok=True)

    start = time.process_time()
    ours()  # makes the rows for the peer, and imports what is imported once
    first = time.process_time() - start
    layer = QgsVectorLayer(outputs["READINGS"], "readings", "ogr")
    assert layer.featureCount() == CAPTURES * READINGS
    text = tmp_path / "rows.csv"
    rows_as_text(layer, text)
    del layer

    def peer():
        address = f"{text.as_uri()}?type=csv&xField=x&yField=y&detectTypes=yes&spatialIndex=no"
        source = QgsVectorLayer(address, "rows", "delimitedtext")
        output = {"INPUT": source, "OUTPUT": str(tmp_path / "peer.gpkg")}
        processing.run("native:savefeatures", output)

    peers = []
    for _ in range(2):
        cleared()
        start = time.process_time()
        peer()
        peers.append(time.process_time() - start)
    written = QgsVectorLayer(str(tmp_path / "peer.gpkg"), "peer", "ogr")
    assert written.featureCount() == CAPTURES * READINGS
    del written
    benchmark.pedantic(ours, setup=cleared, rounds=2)
    benchmark.extra_info["delimited text, s"] = min(peers)
    ratio = benchmark.stats["min"] / min(peers)
    benchmark.extra_info["ratio to the host's delimited text"] = ratio
    benchmark.extra_info["ratio of the first import"] = first / min(peers)
    # Measured: 0.57 to 0.66, first imports as well. Other work on the machine moves either time by
    # a fifth.
    assert ratio <= 0.85
    assert first <= min(peers)
