# SPDX-License-Identifier: GPL-2.0-or-later
"""The algorithms one after the other, through layers, against the whole chain in one."""

import json
import re
import sqlite3
from pathlib import Path

import numpy as np
import pytest
import shapely
from plain_room import PLAIN, ring
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
)

FEET = "PROJ:+proj=utm +zone=31 +datum=WGS84 +units=us-ft +no_defs"


def attributes(layer, *names):
    return [tuple(feature[name] for name in names) for feature in layer.getFeatures()]


def geometries(layer):
    return shapely.from_wkb([bytes(f.geometry().asWkb()) for f in layer.getFeatures()])


@pytest.fixture(scope="module")
def survey(example_survey):
    return {
        "INPUT": str(example_survey / "captures"),
        "CONTROL": str(example_survey / "control.csv"),
        "CONTROL_NAME": "target",
    }


@pytest.fixture(scope="module")
def steps(roomtie, survey, tmp_path_factory):
    """Layers of each step, with one plot scale."""
    import processing

    imported = processing.run(
        "roomtie:importcaptures",
        {"INPUT": survey["INPUT"], "STATIONS": "memory:", "READINGS": "memory:"},
    )
    adjusted = processing.run(
        "roomtie:adjuststations",
        {
            "STATIONS": imported["STATIONS"],
            "READINGS": imported["READINGS"],
            "ADJUSTED_STATIONS": "memory:",
            "ADJUSTED_READINGS": "memory:",
            "TIES": "memory:",
            "TARGETS": "memory:",
            "NETWORK_COVARIANCE": "memory:",
        },
    )
    walls = processing.run(
        "roomtie:extractwalls",
        {
            "STATIONS": adjusted["ADJUSTED_STATIONS"],
            "READINGS": adjusted["ADJUSTED_READINGS"],
            "NETWORK_COVARIANCE": adjusted["NETWORK_COVARIANCE"],
            "PLOT_SCALES": ["1:50"],
            "WALL_FACES": "memory:",
            "FLAGGED_READINGS": "memory:",
            "OUTPUT_HTML": str(tmp_path_factory.mktemp("walls") / "walls.html"),
        },
    )
    rooms = processing.run(
        "roomtie:buildrooms",
        {
            "WALL_FACES": walls["WALL_FACES"],
            "STATIONS": adjusted["ADJUSTED_STATIONS"],
            "READINGS": walls["FLAGGED_READINGS"],
            "NETWORK_COVARIANCE": adjusted["NETWORK_COVARIANCE"],
            "ROOMS": "memory:",
            "OPENINGS": "memory:",
            "OUTPUT_HTML": str(tmp_path_factory.mktemp("rooms") / "rooms.html"),
        },
    )
    reports = {"WALLS_HTML": walls.pop("OUTPUT_HTML"), "ROOMS_HTML": rooms.pop("OUTPUT_HTML")}
    return {**adjusted, **walls, **rooms, **reports}


@pytest.fixture(scope="module")
def chain(roomtie, survey, tmp_path_factory):
    """The whole chain with the same plot scale."""
    import processing

    folder = tmp_path_factory.mktemp("chain")
    return processing.run(
        "roomtie:planfromcaptures",
        {
            **survey,
            "PLOT_SCALES": ["1:50"],
            "OUTPUT": str(folder / "plan.gpkg"),
            "REPORT": str(folder / "plan.html"),
        },
    )


def layer_of(chain, name):
    layer = QgsVectorLayer(f"{chain['OUTPUT']}|layername={name}")
    assert layer.isValid()
    return layer


def test_stations_come_out_the_same(steps, chain):
    names = ("station", "x_m", "y_m", "orientation_deg", "sigma_x_mm", "network", "status")
    single = attributes(steps["ADJUSTED_STATIONS"], *names)
    whole = attributes(layer_of(chain, "stations"), *names)
    assert [row[0] for row in single] == [row[0] for row in whole]
    for one, other in zip(single, whole):
        assert one[1:4] == pytest.approx(other[1:4], abs=1e-9)
        assert one[5:] == other[5:]


def test_rooms_come_out_the_same(steps, chain):
    names = ("level", "name", "area_m2")
    single = sorted(attributes(steps["ROOMS"], *names))
    whole = sorted(attributes(layer_of(chain, "rooms"), *names))
    assert len(single) == len(whole) > 10
    for one, other in zip(single, whole):
        assert one[:2] == other[:2]
        assert one[2] == pytest.approx(other[2], abs=0.01)


def test_the_single_steps_tell_what_they_did(steps):
    walls = Path(steps["WALLS_HTML"]).read_text()
    rooms = Path(steps["ROOMS_HTML"]).read_text()
    turned = attributes(steps["WALL_FACES"], "wall", "squared_by_deg")
    for name, angle in turned:
        at = walls.index(f"<td>{name}</td>")
        assert (at > walls.index("Turned to an axis")) == (angle != 0.0)
    for name, area in attributes(steps["ROOMS"], "name", "area_m2"):
        assert f"<td>{name}</td>" in rooms and f"{area:.2f}" in rooms
    assert "other recesses of walls (niches, closed doors in their reveals) are" in rooms


def test_the_threshold_of_squaring_is_a_parameter(run, steps):
    turned = {}
    for sigmas in (0.0, 2.576, 6.0):
        walls = run(
            "extractwalls",
            STATIONS=steps["ADJUSTED_STATIONS"],
            READINGS=steps["ADJUSTED_READINGS"],
            NETWORK_COVARIANCE=steps["NETWORK_COVARIANCE"],
            PLOT_SCALES=["1:50"],
            SQUARE_SIGMAS=sigmas,
            WALL_FACES="memory:",
            FLAGGED_READINGS="memory:",
        )
        turned[sigmas] = sum(a != 0.0 for (a,) in attributes(walls["WALL_FACES"], "squared_by_deg"))
    assert turned[0.0] < turned[2.576] < turned[6.0]


def test_the_plan_has_the_layers_and_they_lie_in_the_target_crs(chain):
    with sqlite3.connect(chain["OUTPUT"]) as db:
        names = {row[0] for row in db.execute("select table_name from gpkg_contents")}
    assert {
        "stations",
        "readings",
        "targets",
        "ties",
        "wall_faces",
        "rooms",
        "openings",
        "network_covariance",
    } <= names
    tables = {"network_covariance", "layer_styles", "survey_notes", "known_points"}
    assert tables <= names
    for name in names - tables:
        assert layer_of(chain, name).crs().authid() == "EPSG:32631"


def test_rooms_are_valid_and_do_not_overlap(chain):
    layer = layer_of(chain, "rooms")
    polygons = geometries(layer)
    assert shapely.is_valid(polygons).all()
    for level in set(layer.uniqueValues(layer.fields().lookupField("level"))):
        chosen = [
            shape
            for shape, feature in zip(polygons, layer.getFeatures())
            if feature["level"] == level
        ]
        union = shapely.union_all(chosen)
        assert shapely.area(chosen).sum() - union.area < 1e-6


def test_areas_stay_on_the_ground(chain):
    layer = layer_of(chain, "rooms")
    for feature, shape in zip(layer.getFeatures(), geometries(layer)):
        on_the_grid = feature["area_m2"] * chain["COMBINED_SCALE_FACTOR"] ** 2
        assert shape.area == pytest.approx(on_the_grid, abs=1e-5)


def test_the_report_tells_what_was_done(chain, survey):
    from pathlib import Path

    report = json.loads(Path(chain["REPORT"]).with_suffix(".json").read_text("utf-8"))
    assert len(report["stations"]) == 18
    assert all(len(entry["sha256"]) == 64 for entry in report["inputs"])
    assert report["site"]["target_crs"] == "EPSG:32631"
    assert report["site"]["rotation_deg"] == pytest.approx(chain["ROTATION"])
    assert report["network"]["rejected_ties"] == chain["REJECTED_TIES"]
    assert report["parameters"]["CONTROL"] == "control"
    assert report["parameters"]["INPUT"] == "captures"
    assert "/" not in "".join(str(value) for value in report["parameters"].values())
    bent = [e for e in report["site"]["evidence"] if e["kind"] == "compass" and not e["used"]]
    assert [e["name"] for e in bent] == ["S05"]
    page = Path(chain["REPORT"]).read_text("utf-8")
    assert "not a structural or boundary document" in page


@pytest.fixture(scope="module")
def moved(steps, survey, tmp_path_factory):
    import processing

    folder = tmp_path_factory.mktemp("moved")

    def georeference(mode, name):
        return processing.run(
            "roomtie:georeferenceplan",
            {
                "LAYERS": [
                    steps[name] for name in ("ROOMS", "WALL_FACES", "ADJUSTED_STATIONS", "TARGETS")
                ],
                "STATIONS": steps["ADJUSTED_STATIONS"],
                "TARGETS": steps["TARGETS"],
                "NETWORK_COVARIANCE": steps["NETWORK_COVARIANCE"],
                "TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32631"),
                "CONTROL": survey["CONTROL"],
                "CONTROL_NAME": "target",
                "MODE": mode,
                "OUTPUT": str(folder / f"{name}.gpkg"),
            },
        )

    return georeference("move coordinates", "moved"), georeference("site grid", "grid")


def test_georeferencing_single_layers_gives_what_the_chain_gives(moved, chain):
    result, _ = moved
    assert result["ROTATION"] == pytest.approx(chain["ROTATION"], abs=1e-6)
    single = geometries(QgsVectorLayer(f"{result['OUTPUT']}|layername=stations"))
    whole = geometries(layer_of(chain, "stations"))
    np.testing.assert_allclose(
        shapely.get_coordinates(single), shapely.get_coordinates(whole), atol=1e-5
    )


def test_the_site_grid_is_reprojected_by_the_host_to_the_moved_coordinates(moved):
    result, grid = moved
    kept = QgsVectorLayer(f"{grid['OUTPUT']}|layername=wall_faces")
    assert kept.crs().isValid()
    target = QgsCoordinateReferenceSystem("EPSG:32631")
    transform = QgsCoordinateTransform(kept.crs(), target, QgsProject.instance())
    there = QgsVectorLayer(f"{result['OUTPUT']}|layername=wall_faces")
    for one, other in zip(kept.getFeatures(), there.getFeatures()):
        geometry = one.geometry()
        geometry.transform(transform)
        a = np.array([(p.x(), p.y()) for p in geometry.vertices()])
        b = np.array([(p.x(), p.y()) for p in other.geometry().vertices()])
        np.testing.assert_allclose(a, b, atol=1e-6)


def test_the_outside_has_an_error_band_as_wide_as_the_fit_is_uncertain(moved, chain):
    for result in (moved[0], chain):
        (feature,) = QgsVectorLayer(f"{result['OUTPUT']}|layername=error_band").getFeatures()
        (band,) = shapely.from_wkb([bytes(feature.geometry().asWkb())])
        rooms = shapely.union_all(
            geometries(QgsVectorLayer(f"{result['OUTPUT']}|layername=rooms"))
        ).buffer(0.3)
        assert band.is_valid and not band.contains(rooms.centroid)
        # Two control points of 5 mm: a few centimetres all around, no less than at the origin.
        assert 0.005 < feature["least_width_m"] < feature["greatest_width_m"] < 0.05
        outside = shapely.Polygon(max(band.geoms, key=lambda part: part.area).exterior)
        assert rooms.hausdorff_distance(outside) < 0.6


def again(run, result, steps, folder, name, **parameters):
    """The layers of a georeferenced plan, georeferenced again."""
    layers = [
        QgsVectorLayer(f"{result['OUTPUT']}|layername={layer}", layer)
        for layer in ("rooms", "wall_faces", "stations", "error_band", "targets")
    ]
    return run(
        "georeferenceplan",
        LAYERS=layers,
        STATIONS=layers[2],
        TARGETS=steps["TARGETS"],
        NETWORK_COVARIANCE=steps["NETWORK_COVARIANCE"],
        OUTPUT=str(folder / f"{name}.gpkg"),
        OUTPUT_HTML=str(folder / f"{name}.html"),
        **parameters,
    )


def test_a_plan_is_georeferenced_again_without_drift(run, moved, steps, survey, tmp_path):
    """There and again ten times: other zones, other evidence, a site grid, another unit between;
    with the first evidence the plan lies where it lay, its attributes untouched."""
    first, _ = moved
    control = {"CONTROL": survey["CONTROL"], "CONTROL_NAME": "target"}
    here = {"TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32631"), **control}
    elsewhere = [
        {"TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32632")},
        {"TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:23031")},
        {**here, "MODE": "site grid"},
        {"TARGET_CRS": QgsCoordinateReferenceSystem("EPSG:32631")},
        {"TARGET_CRS": QgsCoordinateReferenceSystem(FEET)},
    ]
    result = first
    for turn in range(10):
        result = again(run, result, steps, tmp_path, f"{turn}a", **elsewhere[turn % 5])
        result = again(run, result, steps, tmp_path, f"{turn}b", **here)
    for layer, names in (
        ("rooms", ("room", "name", "area_m2", "sigma_area_m2", "perimeter_m", "level")),
        ("wall_faces", ("wall", "length_m", "azimuth_deg", "sigma_azimuth_deg", "level")),
        ("stations", ("station", "x_m", "y_m", "orientation_deg", "sigma_x_mm")),
    ):
        before = QgsVectorLayer(f"{first['OUTPUT']}|layername={layer}")
        after = QgsVectorLayer(f"{result['OUTPUT']}|layername={layer}")
        assert attributes(before, *names) == attributes(after, *names)
        np.testing.assert_allclose(
            shapely.get_coordinates(geometries(after)),
            shapely.get_coordinates(geometries(before)),
            rtol=0,
            atol=1e-6,
        )
    assert QgsVectorLayer(f"{result['OUTPUT']}|layername=error_band").featureCount() == 1
    assert result["ROTATION"] == pytest.approx(first["ROTATION"], abs=1e-9)

    def role(number):
        layer = QgsVectorLayer(f"{tmp_path / number}.gpkg|layername=targets")
        return dict(attributes(layer, "target", "role"))["C1"]

    # Targets say whether they placed the plan this time.
    assert [role("3a"), role("3b")] == ["tie", "control"]
    report = (tmp_path / "0b.html").read_text("utf-8")
    assert "had been georeferenced before (in EPSG:32632)" in report
    # Before the control arrived, in the same zone: the move is told.
    report = (tmp_path / "3b.html").read_text("utf-8")
    told = re.search(r"origin moved by ([\d.]+) m, the plan turned by ([+-][\d.]+) deg", report)
    assert 0.1 < float(told[1]) < 10.0 and abs(float(told[2])) < 3.0


def test_layers_in_another_coordinate_system_than_the_stations_are_told(run, moved, tmp_path):
    result, _ = moved
    stations = QgsVectorLayer(f"{result['OUTPUT']}|layername=stations", "stations")
    rooms = QgsVectorLayer("Polygon?crs=EPSG:32632", "other rooms", "memory")
    with pytest.raises(
        QgsProcessingException, match="other rooms lies in EPSG:32632, the stations in EPSG:32631"
    ):
        run(
            "georeferenceplan",
            LAYERS=[rooms],
            STATIONS=stations,
            OUTPUT=str(tmp_path / "plan.gpkg"),
        )
    assert list(tmp_path.iterdir()) == []


def test_stations_that_were_not_adjusted_are_refused(run, survey, tmp_path):
    imported = run("importcaptures", INPUT=survey["INPUT"], STATIONS="memory:", READINGS="memory:")
    with pytest.raises(QgsProcessingException, match="expected adjusted stations"):
        run(
            "extractwalls",
            STATIONS=imported["STATIONS"],
            READINGS=imported["READINGS"],
            WALL_FACES="memory:",
            FLAGGED_READINGS="memory:",
        )


def test_a_held_station_that_is_not_there_is_named(run, survey, tmp_path):
    with pytest.raises(QgsProcessingException, match="S99"):
        run(
            "planfromcaptures",
            INPUT=survey["INPUT"],
            HOLD="S99",
            OUTPUT=str(tmp_path / "plan.gpkg"),
            REPORT=str(tmp_path / "plan.html"),
        )
    assert list(tmp_path.iterdir()) == []


def test_a_control_name_that_is_no_target_is_told(run, survey, tmp_path):
    control = tmp_path / "control.csv"
    control.write_text("target,east_m,north_m\nC1,601600,wide\n")
    with pytest.raises(QgsProcessingException, match=r"C1, north: found 'wide', expected a number"):
        run(
            "planfromcaptures",
            **{**survey, "CONTROL": str(control)},
            OUTPUT=str(tmp_path / "out" / "plan.gpkg"),
        )
    assert not (tmp_path / "out").exists()


def test_walls_of_a_moved_plan_are_refused(run, steps, chain):
    with pytest.raises(QgsProcessingException, match=r"its readings lie .* expected walls"):
        run(
            "buildrooms",
            WALL_FACES=layer_of(chain, "wall_faces"),
            STATIONS=steps["ADJUSTED_STATIONS"],
            READINGS=steps["FLAGGED_READINGS"],
            ROOMS="memory:",
            OPENINGS="memory:",
        )


def test_layers_of_a_moved_plan_are_not_moved_again(run, steps, chain, survey, tmp_path):
    with pytest.raises(QgsProcessingException, match="km from the plan's origin"):
        run(
            "georeferenceplan",
            LAYERS=[layer_of(chain, "rooms")],
            STATIONS=steps["ADJUSTED_STATIONS"],
            OUTPUT=str(tmp_path / "twice.gpkg"),
        )
    assert list(tmp_path.iterdir()) == []


def test_rooms_are_built_where_georeferenced_walls_lie(run, chain):
    result = run(
        "buildrooms",
        WALL_FACES=layer_of(chain, "wall_faces"),
        STATIONS=layer_of(chain, "stations"),
        READINGS=layer_of(chain, "readings"),
        NETWORK_COVARIANCE=layer_of(chain, "network_covariance"),
        ROOMS="memory:",
        OPENINGS="memory:",
    )
    assert result["ROOMS"].crs().authid() == "EPSG:32631"
    names = ("level", "name", "area_m2")
    built, whole = (
        sorted(attributes(layer, *names)) for layer in (result["ROOMS"], layer_of(chain, "rooms"))
    )
    assert [row[:2] for row in built] == [row[:2] for row in whole]
    assert [row[2] for row in built] == pytest.approx([row[2] for row in whole], abs=0.01)
    there = shapely.union_all(geometries(layer_of(chain, "rooms")))
    assert shapely.union_all(geometries(result["ROOMS"])).symmetric_difference(there).area < 0.1


def test_layers_with_one_name_are_kept_apart(run, steps, tmp_path):
    first = QgsVectorLayer("Point?field=name:string", "Notes (old)", "memory")
    second = QgsVectorLayer("Point?field=name:string", "notes (old)", "memory")
    result = run(
        "georeferenceplan",
        LAYERS=[first, second],
        STATIONS=steps["ADJUSTED_STATIONS"],
        OUTPUT=str(tmp_path / "plan"),
    )
    assert result["OUTPUT"].endswith("plan.gpkg")
    with sqlite3.connect(result["OUTPUT"]) as db:
        names = {row[0] for row in db.execute("select table_name from gpkg_contents")}
    assert {"Notes (old)", "notes (old) (2)"} <= names


def test_an_output_without_ending_gets_one_and_a_json_report_is_refused(run, tmp_path):
    captures = tmp_path / "captures"
    captures.mkdir()
    (captures / "a.csv").write_text(PLAIN.format(more="") + ring())
    result = run("planfromcaptures", INPUT=str(captures), OUTPUT=str(tmp_path / "plan"))
    assert QgsVectorLayer(f"{tmp_path / 'plan.gpkg'}|layername=rooms").isValid()
    assert result["OUTPUT"] == str(tmp_path / "plan.gpkg")
    with pytest.raises(QgsProcessingException, match=r"expected a name that ends in \.html"):
        run(
            "planfromcaptures",
            INPUT=str(captures),
            OUTPUT=str(tmp_path / "other.gpkg"),
            REPORT=str(tmp_path / "other.json"),
        )
    assert not (tmp_path / "other.gpkg").exists()
