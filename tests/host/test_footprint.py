# SPDX-License-Identifier: GPL-2.0-or-later
"""The building's outline on a site map as evidence, through both algorithms that place a plan."""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsFeature,
    QgsGeometry,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
    QgsWkbTypes,
)

FEET = "PROJ:+proj=tmerc +lat_0=55 +lon_0=4 +k=1 +datum=WGS84 +units=us-ft +no_defs"
LAYERS = ("rooms", "wall_faces", "stations")


@pytest.fixture(scope="module")
def truth(example_survey):
    return json.loads((example_survey.parent / "example_truth.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def buildings(example_survey):
    return str(example_survey / "site_buildings.geojson")


@pytest.fixture(scope="module")
def chain(roomtie, example_survey, buildings, tmp_path_factory):
    """The example placed by geotags, bearings and the site map (longitudes and latitudes)."""
    import processing

    folder = tmp_path_factory.mktemp("footprint")
    return processing.run(
        "roomtie:planfromcaptures",
        {
            "INPUT": str(example_survey / "captures"),
            "PLOT_SCALES": ["1:50"],
            "TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32631"),
            "FOOTPRINT": buildings,
            "SIGMA_FOOTPRINT": 50.0,
            "OUTPUT": str(folder / "plan.gpkg"),
            "REPORT": str(folder / "plan.html"),
        },
    )


def layer_of(result, name):
    layer = QgsVectorLayer(f"{result['OUTPUT']}|layername={name}", name)
    assert layer.isValid()
    return layer


def again(run, result, path, **parameters):
    layers = [layer_of(result, name) for name in LAYERS]
    return run(
        "georeferenceplan",
        LAYERS=layers,
        STATIONS=layers[-1],
        NETWORK_COVARIANCE=layer_of(result, "network_covariance"),
        OUTPUT=str(path),
        **parameters,
    )


def stations_at(result):
    """Names and points ``(n, 2)`` of the stations in the result's own coordinates."""
    features = list(layer_of(result, "stations").getFeatures())
    points = shapely.from_wkb([bytes(f.geometry().asWkb()) for f in features])
    return [f["station"] for f in features], shapely.get_coordinates(points)


def off_truth(result, truth):
    """Distances (m) of the stations from where they truly stood."""
    site = truth["site"]
    names, found = stations_at(result)
    crs = layer_of(result, "stations").crs()
    change = QgsCoordinateTransform(
        crs, QgsCoordinateReferenceSystem(site["target_crs"]), QgsProject.instance()
    )
    geometries = [QgsGeometry.fromWkt(f"POINT({x:.9f} {y:.9f})") for x, y in found]
    for geometry in geometries:
        geometry.transform(change)
    found = np.array([[g.asPoint().x(), g.asPoint().y()] for g in geometries])
    place = {s["station"]: (s["x"], s["y"]) for s in truth["stations"]}
    x, y = np.array([place[name] for name in names]).T
    r, k = np.radians(site["rotation_deg"]), site["scale"]
    true = np.stack(
        [
            site["east_m"] + k * (x * np.cos(r) + y * np.sin(r)),
            site["north_m"] + k * (-x * np.sin(r) + y * np.cos(r)),
        ],
        axis=-1,
    )
    return np.hypot(*(found - true).T)


def test_the_site_map_places_the_plan_to_centimetres(chain, truth):
    """Corners of 5 cm, against geotags of 5 m: four times the standard error told, and a third of
    a metre at most."""
    assert off_truth(chain, truth).max() < 0.3
    turned = (chain["ROTATION"] - truth["site"]["rotation_deg"] + 180) % 360 - 180
    assert abs(turned) < 4 * chain["SIGMA_ROTATION"] < 2.0
    assert max(chain["SIGMA_EAST"], chain["SIGMA_NORTH"]) < 0.15
    report = json.loads(Path(chain["REPORT"]).with_suffix(".json").read_text("utf-8"))
    ends = [e for e in report["site"]["evidence"] if e["kind"] == "footprint"]
    assert len(ends) == 2 and all(e["used"] for e in ends)
    assert report["site"]["decides_position"].startswith("footprint")
    # The compass that stood beside steel is found against the map too.
    bent = [b["station"] for b in report["site"]["bearings"] if not b["used"]]
    assert "S05" in bent
    assert report["parameters"]["FOOTPRINT"] == "site_buildings"


def test_the_band_about_the_plan_reaches_the_outline_of_the_map_only_in_part(chain, buildings):
    """The map's outline lies a wall's thickness out; the band is as wide as the place is vague."""
    (feature,) = layer_of(chain, "error_band").getFeatures()
    assert 0.05 < feature["least_width_m"] <= feature["greatest_width_m"] < 0.6


@pytest.mark.parametrize("crs", ["EPSG:32632", "EPSG:3413", FEET])
def test_a_placed_plan_is_fitted_to_the_map_in_another_crs(
    run, chain, truth, buildings, tmp_path, crs
):
    """A zone further east, along the meridians of a polar grid, in feet: the map is longitude and
    latitude, the layers come from the first run."""
    result = again(
        run, chain, tmp_path / "plan.gpkg", FOOTPRINT=buildings, SIGMA_FOOTPRINT=50.0,
        TARGET_CRS=QgsCoordinateReferenceSystem(crs),
    )  # fmt: skip
    assert off_truth(result, truth).max() < 0.3
    assert result["SIGMA_EAST"] < 0.15


def test_a_map_in_feet_gives_what_the_one_in_degrees_gives(run, chain, buildings, tmp_path):
    source = QgsVectorLayer(buildings, "buildings")
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = "GPKG"
    feet = QgsCoordinateReferenceSystem(FEET)
    options.ct = QgsCoordinateTransform(source.crs(), feet, QgsProject.instance())
    path = str(tmp_path / "feet.gpkg")
    context = QgsProject.instance().transformContext()
    QgsVectorFileWriter.writeAsVectorFormatV3(source, path, context, options)
    results = [
        again(run, chain, tmp_path / f"{name}.gpkg", FOOTPRINT=footprint,
              TARGET_CRS=QgsCoordinateReferenceSystem("EPSG:32631"))
        for name, footprint in (("degrees", buildings), ("in_feet", path))
    ]  # fmt: skip
    (_, one), (_, other) = (stations_at(result) for result in results)
    np.testing.assert_allclose(one, other, atol=1e-3)


def map_of(*wkt, crs="EPSG:32631"):
    shapes = [QgsGeometry.fromWkt(text) for text in wkt]
    curved = any(QgsWkbTypes.isCurvedType(shape.wkbType()) for shape in shapes)
    kind = "CurvePolygon" if curved else "Polygon"
    layer = QgsVectorLayer(f"{kind}?crs={crs}", "town plan", "memory")
    for shape in shapes:
        feature = QgsFeature()
        feature.setGeometry(shape)
        layer.dataProvider().addFeatures([feature])
    return layer


ARC = "CurvePolygon (CircularString (0 0, 1 1, 2 0, 1 -1, 0 0))"
BOW_TIE = "POLYGON((0 0, 10 10, 10 0, 0 10, 0 0))"


@pytest.mark.parametrize(
    ("layer", "said"),
    [
        (lambda: map_of(BOW_TIE), r"no valid polygons: feature 1 \(Polygon: Self-intersection"),
        (lambda: map_of(), "town plan: it has no polygons"),
        (lambda: map_of(ARC), r"no valid polygons: feature 1 \(CurvePolygon: it has arcs"),
        (lambda: map_of("POLYGON((0 0, 9 0, 9 9, 0 0))", crs=""), "has no coordinate system"),
    ],
)
def test_a_map_that_cannot_be_used_is_told(run, chain, tmp_path, layer, said):
    with pytest.raises(QgsProcessingException, match=said):
        again(run, chain, tmp_path / "plan.gpkg", FOOTPRINT=layer())
    assert list(tmp_path.iterdir()) == []


def test_an_invalid_outline_elsewhere_on_the_map_does_no_harm(run, chain, buildings, tmp_path):
    whole = [f.geometry().asWkt(10) for f in QgsVectorLayer(buildings, "map").getFeatures()]
    common = {"TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32631")}
    report = tmp_path / "plan.html"
    plain = again(run, chain, tmp_path / "a.gpkg", FOOTPRINT=buildings, **common)
    result = again(
        run, chain, tmp_path / "b.gpkg", FOOTPRINT=map_of(BOW_TIE, *whole, crs="EPSG:4326"),
        OUTPUT_HTML=str(report), **common,
    )  # fmt: skip
    np.testing.assert_allclose(stations_at(result)[1], stations_at(plain)[1], atol=1e-3)
    assert "outlines that are not valid are left out: feature 1" in report.read_text("utf-8")


def test_a_map_without_this_building_is_left_out_and_said(run, chain, tmp_path):
    far = map_of("POLYGON((0 0, 20 0, 20 9, 0 9, 0 0))")
    result = again(
        run, chain, tmp_path / "plan.gpkg", FOOTPRINT=far, OUTPUT_HTML=str(tmp_path / "plan.html"),
        TARGET_CRS=QgsCoordinateReferenceSystem("EPSG:32631"),
    )  # fmt: skip
    assert result["SIGMA_EAST"] > 0.5
    assert "The footprint is not used: " in (tmp_path / "plan.html").read_text("utf-8")
