# SPDX-License-Identifier: GPL-2.0-or-later
"""Indoor maps of the example survey: against the published structure, and read back by GDAL."""

import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely
from cancelling import Cancelled
from osgeo import ogr
from placed_plan import FACTOR, write_plan
from qgis.core import QgsProcessingException, QgsVectorLayer

sys.path.append(str(Path(__file__).resolve().parent.parent / "building"))
from imdf_checks import check_archive, read_archive, shape_of

TOLD = {
    "VENUE_NAME": "Village library",
    "VENUE_CATEGORY": "communitycenter",
    "BUILDING_NAME": "Library",
    "ADDRESS": "1 Mill Lane",
    "POSTAL_CODE": "12345",
    "LOCALITY": "Quarrow",
    "COUNTRY": "NL",
    "LEVEL_NAMES": "0=Ground floor|G; 1=First floor|1",
}


@pytest.fixture(scope="module")
def placed(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("placed") / "plan.gpkg", example, True, ("図書館",))


@pytest.fixture(scope="module")
def local(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("local") / "plan.gpkg", example, False)


def exported(run, plan, tmp_path, **more):
    given = {"INPUT": str(plan.path), "OUTPUT": str(tmp_path / "map.zip"), **more}
    return run("exportindoor", OUTPUT_HTML=str(tmp_path / "map.html"), **given)


def test_the_example_is_as_published_and_says_what_is_left(run, placed, tmp_path):
    result = exported(run, placed, tmp_path, **TOLD)
    features = check_archive(read_archive(result["OUTPUT"]))
    rooms = placed.tables["rooms"]
    rows = [row for row, scale in enumerate(rooms.column("plot_scale")) if scale == 50]
    assert {one["id"] for one in features["unit"]} == {rooms.column("room")[row] for row in rows}
    assert result["UNITS"] == len(rows)
    openings = placed.tables["openings"]
    doors = [
        row
        for row, kind in enumerate(openings.column("kind"))
        if kind == "doorway" and openings.column("plot_scale")[row] == 50
    ]
    assert result["OPENINGS"] == len(doors) == len(features["opening"])
    assert "図書館" in {one["properties"]["name"]["en"] for one in features["unit"]}
    assert [one["properties"]["name"]["en"] for one in features["level"]] == [
        "Ground floor",
        "First floor",
    ]
    page = Path(result["OUTPUT_HTML"]).read_text("utf-8")
    assert "categories of 15 of 15 rooms" in page and "OGC 20-094" in page
    assert "The street" not in page
    assert result["CHOICES"] == 3


def test_every_corner_is_where_the_plan_has_it(run, placed, tmp_path):
    """Back from degrees with another program's transformation: 0.1 mm, the rounding."""
    result = exported(run, placed, tmp_path)
    back = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32631", always_xy=True)
    features = check_archive(read_archive(result["OUTPUT"]))
    rooms = placed.tables["rooms"].placed(placed.place)
    wanted = dict(zip(rooms.column("room"), rooms.geometry))
    scale = dict(zip(rooms.column("room"), rooms.column("plot_scale")))
    finest = {key for key in wanted if scale[key] in (50, 200)}
    assert {one["id"] for one in features["unit"]} <= finest
    at_50 = {
        key: shape
        for key, shape, s in zip(rooms.column("room"), rooms.geometry, rooms.column("plot_scale"))
        if s == 50
    }
    for unit in features["unit"]:
        shape = shapely.transform(
            shape_of(unit), lambda xy: np.column_stack(back.transform(xy[:, 0], xy[:, 1]))
        )
        assert shape.hausdorff_distance(at_50[unit["id"]]) < 2e-4
    levels = [shape_of(one) for one in features["level"]]
    outside = shapely.transform(
        shapely.union_all(levels), lambda xy: np.column_stack(back.transform(xy[:, 0], xy[:, 1]))
    )
    together = shapely.union_all([*at_50.values()])
    assert together.distance(outside.boundary) == pytest.approx(0.35 * FACTOR, abs=2e-3)


def test_gdal_reads_each_file_of_the_archive(run, placed, tmp_path):
    result = exported(run, placed, tmp_path)
    for kind, shape in (("unit", ogr.wkbPolygon), ("opening", ogr.wkbLineString)):
        source = ogr.Open(f"/vsizip/{result['OUTPUT']}/{kind}.geojson")
        layer = source.GetLayer(0)
        assert layer.GetSpatialRef().GetAuthorityCode(None) == "4326"
        found = [feature.GetGeometryRef().Clone() for feature in layer]
        assert {one.GetGeometryType() for one in found} == {shape}
        assert all(one.IsValid() for one in found)
    source = ogr.Open(f"/vsizip/{result['OUTPUT']}/address.geojson")
    address = source.GetLayer(0)
    assert address.GetFeatureCount() == 1
    assert next(iter(address)).GetGeometryRef() is None


def test_the_same_plan_gives_the_same_bytes(run, placed, tmp_path):
    first = Path(exported(run, placed, tmp_path)["OUTPUT"]).read_bytes()
    again = exported(run, placed, tmp_path, OUTPUT=str(tmp_path / "again"))["OUTPUT"]
    assert again.endswith("again.zip")
    assert Path(again).read_bytes() == first
    moment = read_archive(again)["manifest.json"]["created"]
    assert abs((datetime.fromisoformat(moment[:-1]) - datetime.utcnow()).total_seconds()) < 7200
    given = exported(run, placed, tmp_path, CREATED="2026-05-04T12:00:00+02:00")["OUTPUT"]
    assert read_archive(given)["manifest.json"]["created"] == "2026-05-04T10:00:00Z"


def test_categories_come_from_a_field_that_people_added(run, example, qgis_app, tmp_path):
    plan = write_plan(tmp_path / "used.gpkg", example, True)
    source = ogr.Open(str(plan.path), update=1)
    for name in ("rooms", "openings"):
        source.GetLayerByName(name).CreateField(ogr.FieldDefn("use", ogr.OFTString))
    words = {"0.01": "Office", "0.02": "WC", "0.03": "stairs", "0.04": "whatever"}
    for feature in source.GetLayerByName("rooms"):
        if feature["name"] in words:
            feature["use"] = words[feature["name"]]
            source.GetLayerByName("rooms").SetFeature(feature)
    for feature in source.GetLayerByName("openings"):
        feature["use"] = "emergencyexit" if feature["room_b"] in (None, "") else "swing door"
        source.GetLayerByName("openings").SetFeature(feature)
    del source
    result = exported(
        run,
        plan,
        tmp_path,
        CATEGORY_FIELD="use",
        CATEGORIES="office=office; wc=restroom",
        OTHER_CATEGORY="room",
        OPENING_CATEGORY_FIELD="use",
    )
    features = check_archive(read_archive(result["OUTPUT"]))
    found = {
        one["properties"]["name"]["en"]: one["properties"]["category"] for one in features["unit"]
    }
    assert [found[name] for name in words] == ["office", "restroom", "stairs", "room"]
    kinds = [one["properties"]["category"] for one in features["opening"]]
    assert sorted(set(kinds)) == ["emergencyexit", "pedestrian"]


def test_a_site_grid_lies_where_its_target_does(run, example_survey, tmp_path):
    """The whole way, with both modes: the same building within the fit's rounding."""
    found = []
    for mode in ("move coordinates", "site grid"):
        plan = tmp_path / f"{mode}.gpkg"
        run(
            "planfromcaptures",
            INPUT=str(example_survey / "captures"),
            TARGET_CRS="EPSG:32631",
            CONTROL=str(example_survey / "control.csv"),
            CONTROL_NAME="target",
            MODE=mode,
            PLOT_SCALES=["1:100"],
            OUTPUT=str(plan),
            REPORT=str(tmp_path / f"{mode}.html"),
        )
        result = run("exportindoor", INPUT=str(plan), OUTPUT=str(tmp_path / f"{mode}.zip"))
        features = check_archive(read_archive(result["OUTPUT"]))
        found.append({one["id"]: shape_of(one) for one in features["unit"]})
    assert set(found[0]) == set(found[1])
    for key, shape in found[0].items():
        assert shape.hausdorff_distance(found[1][key]) < 5e-9  # degrees: 0.5 mm


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({}, "lies in plan coordinates; an indoor map is in longitude"),
        ({"PLOT_SCALE": "1:20"}, "1:20 was asked for"),
        ({"COUNTRY": "Holland"}, "COUNTRY: found Holland; expected two capital"),
        ({"PROVINCE": "Bozen"}, "PROVINCE: found Bozen; expected a code"),
        ({"LANGUAGE": "german!"}, "LANGUAGE: found german!; expected a language tag"),
        ({"CREATED": "yesterday"}, "CREATED: found yesterday; expected a date"),
        ({"CATEGORY_FIELD": "purpose"}, "CATEGORY_FIELD: layer rooms has no field purpose"),
        ({"CATEGORIES": "WC=toilet"}, "CATEGORIES, WC: found toilet"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_left(run, placed, local, tmp_path, change, sentence):
    plan = placed if change else local
    with pytest.raises(QgsProcessingException, match=sentence):
        exported(run, plan, tmp_path, **change)
    assert not list(tmp_path.iterdir())


def test_a_cancel_leaves_what_was_there(run, placed, tmp_path):
    (tmp_path / "map.zip").write_text("before")
    result = run(
        "exportindoor",
        feedback=Cancelled(),
        INPUT=str(placed.path),
        OUTPUT=str(tmp_path / "map.zip"),
        OUTPUT_HTML=str(tmp_path / "map.html"),
    )
    assert "OUTPUT" not in result
    assert (tmp_path / "map.zip").read_text() == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["map.zip"]


def test_the_host_shows_the_units(run, placed, tmp_path):
    result = exported(run, placed, tmp_path)
    layer = QgsVectorLayer(f"/vsizip/{result['OUTPUT']}/unit.geojson", "units", "ogr")
    assert layer.isValid() and layer.featureCount() == result["UNITS"]
    assert layer.crs().authid() in ("EPSG:4326", "OGC:CRS84")
