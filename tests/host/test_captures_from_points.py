# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures from layers of the host: units, coordinate systems, heights, bad features."""

from pathlib import Path

import numpy as np
import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsFeature,
    QgsGeometry,
    QgsPointXY,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)

FOOT = 1200 / 3937  # the US survey foot, NIST SP 811


def layer(title, crs, wkts, kind="Point", **fields):
    """A memory layer; fields hold texts or numbers."""
    kinds = {
        key: "double" if isinstance(values[0], float) else "string"
        for key, values in fields.items()
    }
    described = "".join(f"&field={key}:{type_}" for key, type_ in kinds.items())
    made = QgsVectorLayer(f"{kind}?{f'crs={crs}' if crs else ''}{described}", title, "memory")
    if not crs:
        made.setCrs(QgsCoordinateReferenceSystem())
    rows = []
    for index, wkt in enumerate(wkts):
        feature = QgsFeature(made.fields())
        if wkt:
            feature.setGeometry(QgsGeometry.fromWkt(wkt))
        feature.setAttributes([values[index] for values in fields.values()])
        rows.append(feature)
    assert made.dataProvider().addFeatures(rows)[0]
    return made


def at(east, north, *rows):
    return [f"Point ({east + x:.6f} {north + y:.6f})" for x, y in rows]


ROWS = [(0.0, 3.0), (2.0, 2.0), (4.0, 0.0), (-1.0, -5.0)]


def polar(result):
    """Angles and distances by distance."""
    return sorted((f["distance_m"], f["angle_deg"]) for f in result["READINGS"].getFeatures())


@pytest.fixture
def make(roomtie, run, tmp_path):
    def make(points, stations, **more):
        report = tmp_path / "report.html"
        outputs = {"STATIONS": "memory:", "READINGS": "memory:", "OUTPUT_HTML": str(report)}
        result = run(
            "capturesfrompoints",
            **{"POINTS": points, "STATION_POINTS": stations, **outputs, **more},
        )
        return {**result, "text": report.read_text("utf-8")}

    return make


def test_angles_and_distances_are_those_of_the_host(make):
    points = layer("drawn", "EPSG:32631", at(500000, 6350000, *ROWS))
    stations = layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0)), name=["A"])
    result = make(points, stations, STATION_NAME_FIELD="name")
    origin = QgsPointXY(500000, 6350000)
    ends = [feature.geometry().asPoint() for feature in points.getFeatures()]
    expected = sorted((origin.distance(end), origin.azimuth(end) % 360.0) for end in ends)
    assert np.array(polar(result)) == pytest.approx(np.array(expected), abs=1e-6)
    (station,) = result["STATIONS"].getFeatures()
    assert (station["station"], station["readings"], station["level"]) == ("A", 4, 0)
    assert "true north is at 0.000 deg" in result["text"]


def test_stations_and_readings_come_out_where_the_layers_lie(make):
    points = layer("drawn", "EPSG:2263", at(980000, 200000, *ROWS))
    stations = layer("stood", "EPSG:2263", at(980000, 200000, (0, 0)))
    result = make(points, stations)
    assert result["READINGS"].crs().authid() == "EPSG:2263"
    out = [f.geometry().asPoint() for f in result["READINGS"].getFeatures()]
    there = [f.geometry().asPoint() for f in points.getFeatures()]
    key = lambda p: (round(p.x(), 3), round(p.y(), 3))  # noqa: E731
    for one, other in zip(sorted(out, key=key), sorted(there, key=key)):
        assert one.distance(other) < 1e-6


def test_feet_become_metres_and_the_report_says_so(make):
    points = layer("drawn", "EPSG:2263", at(980000, 200000, *ROWS))
    stations = layer("stood", "EPSG:2263", at(980000, 200000, (0, 0)))
    result = make(points, stations)
    assert [d for d, _ in polar(result)] == pytest.approx(
        sorted(np.hypot(*np.array(ROWS).T) * FOOT), abs=1e-9
    )
    assert "lengths were converted to metres" in result["text"]
    assert "0.304800" in result["text"]


def test_the_scale_of_the_grid_is_told_and_may_be_taken_out(make):
    points = layer("drawn", "EPSG:32631", at(500000, 6350000, (0, 30)))
    stations = layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0)))
    result = make(points, stations)
    assert "give SCALE_FACTOR 0.999600" in result["text"]  # on the central meridian (UTM)
    assert "12.0 mm over the longest distance of 30.0 m" in result["text"]
    result = make(points, stations, SCALE_FACTOR=0.9996)
    assert polar(result)[0][0] == pytest.approx(30.0 / 0.9996, abs=1e-9)
    (reading,) = result["READINGS"].getFeatures()
    assert reading.geometry().asPoint().distance(QgsPointXY(500000, 6350030)) < 1e-6
    assert "give SCALE_FACTOR" not in result["text"]


@pytest.mark.parametrize("which", ["POINTS", "STATION_POINTS"])
def test_degrees_are_refused_with_a_proposal(make, which):
    layers = {
        "POINTS": layer("drawn", "EPSG:32631", at(500000, 6350000, *ROWS)),
        "STATION_POINTS": layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0))),
    }
    layers[which] = layer("in degrees", "EPSG:4326", ["Point (4.6 50.3)"])
    with pytest.raises(QgsProcessingException) as error:
        make(layers["POINTS"], layers["STATION_POINTS"])
    assert "Layer in degrees: its coordinates are degrees (EPSG:4326 (WGS 84))" in str(error.value)
    assert "for instance EPSG:32631 (WGS 84 / UTM zone 31N)" in str(error.value)


@pytest.mark.parametrize(
    ("crs", "lon_lat", "words"),
    [
        ("EPSG:3857", (4.6, 57.3), "is not conformal here"),
        ("EPSG:5513", (15.0, 50.0), "left-handed axes"),
    ],
)
def test_grids_that_distort_or_mirror_are_refused(make, crs, lon_lat, words):
    there = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateReferenceSystem(crs),
        QgsProject.instance(),
    ).transform(*lon_lat)
    points = layer("drawn", crs, at(there.x(), there.y(), *ROWS))
    with pytest.raises(QgsProcessingException, match=words):
        make(points, layer("stood", crs, at(there.x(), there.y(), (0, 0))))


@pytest.mark.parametrize(
    ("crs", "lon_lat", "north"),
    [("EPSG:2193", (173.0, -41.0), 0.0), ("EPSG:2048", (19.0, -34.0), 180.0)],
)
def test_true_north_is_told_for_axes_in_another_order(make, crs, lon_lat, north):
    """Northing first, and west and south (half a turn, not mirrored)."""
    to_crs = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateReferenceSystem(crs),
        QgsProject.instance(),
    )
    start = to_crs.transform(*lon_lat)
    steps = [
        to_crs.transform(lon_lat[0] + dx, lon_lat[1] + dy) for dx, dy in ((0, 1e-4), (1e-4, 0))
    ]
    wkts = [f"Point ({p.x():.9f} {p.y():.9f})" for p in steps]
    points = layer("drawn", crs, wkts, what=["north", "east"])
    stations = layer("stood", crs, [f"Point ({start.x():.9f} {start.y():.9f})"])
    result = make(points, stations, TARGET_FIELD="what")
    angle = {f["target"]: f["angle_deg"] for f in result["READINGS"].getFeatures()}
    turned = (angle["north"] - north + 180.0) % 360.0 - 180.0
    assert abs(turned) < 0.01
    assert (angle["east"] - angle["north"]) % 360.0 == pytest.approx(90.0, abs=0.01)
    told = result["text"].split("true north is at ")[1].split(" deg")[0]
    assert (float(told) - angle["north"] + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.01)


def test_the_points_are_transformed_to_the_stations(make):
    utm = QgsCoordinateReferenceSystem("EPSG:32631")
    other = QgsCoordinateReferenceSystem("EPSG:25832")
    to_other = QgsCoordinateTransform(utm, other, QgsProject.instance())
    moved = [to_other.transform(500000 + x, 6350000 + y) for x, y in ROWS]
    points = layer("drawn", "EPSG:25832", [f"Point ({p.x():.9f} {p.y():.9f})" for p in moved])
    result = make(points, layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0))))
    assert [d for d, _ in polar(result)] == pytest.approx(
        sorted(np.hypot(*np.array(ROWS).T)), abs=1e-8
    )
    assert "Layer drawn was transformed from EPSG:25832" in result["text"]


def test_a_drawing_without_a_coordinate_system_needs_its_unit(make):
    points = layer("drawn", "", at(0, 0, *ROWS))
    stations = layer("stood", "", at(0, 0, (0, 0)))
    with pytest.raises(QgsProcessingException, match="no coordinate system, and so no unit"):
        make(points, stations)
    result = make(points, stations, DISTANCE_UNIT="cm", MIN_DISTANCE=0)
    assert polar(result)[0][0] == pytest.approx(0.0282842712474619, abs=1e-12)
    assert result["READINGS"].crs().isValid()


def test_multipoints_heights_and_fields(make):
    points = layer(
        "drawn",
        "EPSG:32631",
        [
            "MultiPointZ ((500000 6350004 15.5), (500003 6350000 7.5))",
            "PointZ (500000 6349998 11.5)",
        ],
        kind="MultiPointZ",
        of=["S 1", "S 1"],
    )
    stations = layer(
        "stood",
        "EPSG:32631",
        ["PointZ (500000 6350000 10)"],
        kind="PointZ",
        name=["S 1"],
        storey=[2.0],
        height=[1.5],
    )
    result = make(
        points,
        stations,
        STATION_FIELD="of",
        STATION_NAME_FIELD="name",
        STATION_LEVEL_FIELD="storey",
        INSTRUMENT_HEIGHT_FIELD="height",
    )
    rows = {f["seq"]: f for f in result["READINGS"].getFeatures()}
    assert rows[1]["slope_distance_m"] == pytest.approx(np.hypot(4, 4))
    assert rows[1]["zenith_deg"] == pytest.approx(45.0)
    assert rows[3]["zenith_deg"] == 90.0
    assert [f["level"] for f in result["STATIONS"].getFeatures()] == [2]


def test_a_bad_feature_is_named_or_skipped(make, tmp_path):
    points = layer("drawn", "EPSG:32631", [*at(500000, 6350000, *ROWS), None], of=["A"] * 4 + ["B"])
    stations = layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0)), name=["A"])
    fields = {"STATION_FIELD": "of", "STATION_NAME_FIELD": "name"}
    with pytest.raises(QgsProcessingException) as error:
        make(points, stations, **fields)
    assert str(error.value) == "Layer drawn: feature 5 has no point; expected one."
    assert not any(tmp_path.iterdir())
    result = make(points, stations, SKIP_UNREADABLE=True, **fields)
    assert len(polar(result)) == 4
    assert "feature 5 has no point" in result["text"]


def test_a_field_that_is_not_there_is_named(make):
    points = layer("drawn", "EPSG:32631", at(500000, 6350000, *ROWS), of=["A"] * 4)
    stations = layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0)))
    with pytest.raises(QgsProcessingException, match="there is no field 'off'; found of"):
        make(points, stations, STATION_FIELD="off")


def test_the_example_makes_the_round_trip(roomtie, run, make, example_survey):
    """Readings as imported, drawn at their stations, and back."""
    imported = run(
        "importcaptures",
        INPUT=str(example_survey / "captures"),
        STATIONS="memory:",
        READINGS="memory:",
    )
    back = make(
        imported["READINGS"],
        imported["STATIONS"],
        STATION_NAME_FIELD="station",
        STATION_LEVEL_FIELD="level",
        STATION_FIELD="station",
        TARGET_FIELD="target",
        KIND_FIELD="kind",
        ORDER_FIELD="seq",
        SKIP_UNREADABLE=True,
    )
    turned = {f["station"]: f["orientation_deg"] for f in imported["STATIONS"].getFeatures()}
    was = {}
    for f in imported["READINGS"].getFeatures():
        if f.hasGeometry() and not f.geometry().isEmpty():
            was.setdefault(f["station"], []).append((f["seq"], f["angle_deg"], f["distance_m"]))
    now = {}
    for f in back["READINGS"].getFeatures():
        now.setdefault(f["station"], []).append((f["seq"], f["angle_deg"], f["distance_m"]))
    assert was.keys() == now.keys()
    for name, rows in was.items():
        before, after = np.array(sorted(rows)), np.array(sorted(now[name]))
        angle = (before[:, 1] + turned[name] - after[:, 1] + 180.0) % 360.0 - 180.0
        assert np.abs(np.radians(angle) * before[:, 2]).max() < 1e-9
        assert after[:, 2] == pytest.approx(before[:, 2], abs=1e-9)


def test_cancelling_writes_nothing(roomtie, run, tmp_path):
    points = layer("drawn", "EPSG:32631", at(500000, 6350000, *ROWS))
    stations = layer("stood", "EPSG:32631", at(500000, 6350000, (0, 0)))
    feedback = QgsProcessingFeedback()
    feedback.cancel()
    target = tmp_path / "stations.gpkg"
    outputs = {"STATIONS": str(target), "READINGS": "memory:"}
    result = run(
        "capturesfrompoints",
        feedback=feedback,
        POINTS=points,
        STATION_POINTS=stations,
        **outputs,
    )
    assert result == {}
    assert not Path(target).exists()


def test_station_points_become_geotags_where_their_error_is_given(make):
    points = layer("drawn", "EPSG:2263", at(980000, 200000, *ROWS))
    stations = layer("stood", "EPSG:2263", at(980000, 200000, (0, 0)))
    (bare,) = make(points, stations)["STATIONS"].getFeatures()
    (tagged,) = make(points, stations, STATION_SIGMA=0.02)["STATIONS"].getFeatures()
    assert not bare["longitude_deg"]
    back = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateReferenceSystem("EPSG:2263"),
        QgsProject.instance(),
    ).transform(tagged["longitude_deg"], tagged["latitude_deg"])
    # The host may choose another change of datum (NAD 83 to WGS 84), metres apart.
    assert back.distance(QgsPointXY(980000, 200000)) < 10
    assert tagged["geotag_sigma_m"] == 0.02
    with pytest.raises(QgsProcessingException, match="tied to the earth"):
        make(points, stations, STATION_SIGMA=0.02, DISTANCE_UNIT="mm")


def test_a_compound_system_is_taken_by_its_horizontal_part(make):
    points = layer("drawn", "EPSG:5555", at(500000, 5600000, *ROWS))
    text = make(points, layer("stood", "EPSG:5555", at(500000, 5600000, (0, 0))))["text"]
    assert "true north is at 0.000 deg" in text
    assert "SCALE_FACTOR 0.999600" in text


def test_a_drawing_about_its_own_origin_tells_nothing_of_the_grid(make):
    """Somebody chose a coordinate system for it; the place is not in it."""
    points = layer("drawn", "EPSG:32631", at(0, 0, *ROWS))
    stations = layer("stood", "EPSG:32631", at(0, 0, (0, 0)))
    text = make(points, stations)["text"]
    assert "lies outside the area" in text
    assert "say nothing of north or of the scale" in text
    assert "SCALE_FACTOR" not in text


def test_a_drawing_file_is_read(make, tmp_path):
    """Points of a DXF drawing in millimetres, as the host lists them: mixed geometries, no CRS."""
    entities = "".join(
        f"0\nPOINT\n8\nsurvey\n10\n{1000 * x}\n20\n{1000 * y}\n30\n0\n" for x, y in ROWS
    )
    line = "0\nLINE\n8\nwalls\n10\n0\n20\n0\n30\n0\n11\n1\n21\n1\n31\n0\n"
    drawing = tmp_path / "Zeichnung 'ä'.dxf"
    drawing.write_text(f"0\nSECTION\n2\nENTITIES\n{entities}{line}0\nENDSEC\n0\nEOF\n")
    points = QgsVectorLayer(f"{drawing}|layername=entities|geometrytype=Point25D", "drawing", "ogr")
    assert points.isValid()
    points.setCrs(QgsCoordinateReferenceSystem())
    result = make(points, layer("stood", "", ["Point (0 0)"]), DISTANCE_UNIT="mm")
    assert [d for d, _ in polar(result)] == pytest.approx(sorted(np.hypot(*np.array(ROWS).T)))
