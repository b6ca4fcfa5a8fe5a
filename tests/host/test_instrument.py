# SPDX-License-Identifier: GPL-2.0-or-later
"""The instrument's systematic errors through the algorithm: from the network, from calibration
captures of one room, and captures that are none."""

import numpy as np
import pytest

ROOM = np.array([(0, 0), (5.2, 0), (5.2, 3.9), (3.1, 3.9), (3.1, 4.6), (0, 4.6)], dtype=float)
POSITIONS = ((1.4, 1.2, 0.3), (4.1, 2.9, 2.0), (1.2, 3.8, -1.0), (3.6, 0.9, 3.0))
ZERO_M = 0.006


def ranges(origin, azimuth):
    """Distances to the room's walls along azimuths, by Cramer's rule."""
    a, e = ROOM - origin, np.roll(ROOM, -1, axis=0) - ROOM
    ray = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=-1)
    cross = ray[:, None, 0] * e[:, 1] - ray[:, None, 1] * e[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        r = (a[:, 0] * e[:, 1] - a[:, 1] * e[:, 0]) / cross
        s = (a[:, 0] * ray[:, None, 1] - a[:, 1] * ray[:, None, 0]) / cross
    return np.where((s >= 0) & (s <= 1) & (r > 0), r, np.inf).min(axis=1)


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """Captures of one room by an instrument that measures 6 mm too long."""
    folder = tmp_path_factory.mktemp("room")
    rng = np.random.default_rng(8)
    for number, (x, y, turn) in enumerate(POSITIONS, start=1):
        angle = np.arange(0.0, 360.0, 0.25)
        azimuth = np.radians(angle) + turn + np.radians(0.03) * rng.standard_normal(len(angle))
        distance = ranges(np.array([x, y]), azimuth) + ZERO_M
        distance += 0.002 * rng.standard_normal(len(angle))
        rows = "".join(f"{a:.2f},{d:.4f}\n" for a, d in zip(angle, distance))
        (folder / f"P{number}.csv").write_text(
            "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n" + rows
        )
    return folder


@pytest.fixture(scope="module")
def layers(room, roomtie):
    import processing

    parameters = {"INPUT": str(room), "STATIONS": "memory:", "READINGS": "memory:"}
    return processing.run("roomtie:importcaptures", {**parameters, "OUTPUT_HTML": None})


def readings_of(result):
    from qgis.core import QgsProcessingUtils

    layer = result["ADJUSTED_READINGS"]
    layer = QgsProcessingUtils.mapLayerFromString(layer, None) if isinstance(layer, str) else layer
    return np.array([f["slope_distance_m"] for f in layer.getFeatures() if f["flag"] in ("", None)])


@pytest.mark.parametrize("source", ["network", "calibration"])
def test_a_zero_error_is_found_and_taken_out(run, layers, room, tmp_path, source):
    more = {"CORRECT_INSTRUMENT": True} if source == "network" else {"CALIBRATION": str(room)}
    report = tmp_path / "report.html"
    common = {"STATIONS": layers["STATIONS"], "READINGS": layers["READINGS"]}
    sinks = {"ADJUSTED_STATIONS": "memory:", "ADJUSTED_READINGS": "memory:", "TIES": "memory:"}
    plain = run("adjuststations", **common, **sinks, OUTPUT_HTML=str(tmp_path / "plain.html"))
    freed = run("adjuststations", **common, **sinks, **more, OUTPUT_HTML=str(report))
    shorter = np.median(readings_of(plain)) - np.median(readings_of(freed))
    assert shorter == pytest.approx(ZERO_M, abs=0.001)
    assert "Taken out of all readings" in report.read_text("utf-8")
    text = (tmp_path / "plain.html").read_text("utf-8")
    assert "distance zero error" in text and "Taken out" not in text


def test_calibration_captures_that_do_not_tie_are_refused(run, layers, tmp_path):
    from qgis.core import QgsProcessingException

    folder = tmp_path / "two rooms"
    folder.mkdir()
    head = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n"
    for name, distance in (("A", 1.0), ("B", 2.5)):
        rows = "".join(f"{a},{distance}\n" for a in range(360))
        (folder / f"{name}.csv").write_text(head + rows)
    with pytest.raises(QgsProcessingException, match="two rooms do not tie to one another"):
        run(
            "adjuststations",
            STATIONS=layers["STATIONS"],
            READINGS=layers["READINGS"],
            CALIBRATION=str(folder),
            OUTPUT_HTML=None,
        )
