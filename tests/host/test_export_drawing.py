# SPDX-License-Identifier: GPL-2.0-or-later
"""Drawings of a plan, read back by ezdxf."""

import numpy as np
import pytest
import shapely
from cancelling import Cancelled
from placed_plan import FACTOR, write_plan
from qgis.core import QgsProcessingException
from roomtie.tests.drawing.drawn_files import read
from scipy.spatial import KDTree

NAMES = ("図書館", "a\\P%%d^J{b}")


@pytest.fixture(scope="module")
def placed(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("placed") / "plan.gpkg", example, True, NAMES)


@pytest.fixture(scope="module")
def local(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("local") / "plan.gpkg", example, False)


def on(document, kind, word, scale=""):
    return [
        e
        for e in document.modelspace().query(kind)
        if e.dxf.layer.endswith(word) and (not scale or e.dxf.layer[17] == scale)
    ]


def vertices(lines):
    return np.concatenate([np.array(line.get_points("xy")) for line in lines])


@pytest.mark.parametrize("coordinates", ["plan", "target CRS"])
def test_every_face_is_where_the_plan_has_it(run, placed, tmp_path, coordinates):
    path = run(
        "exportdrawing",
        INPUT=str(placed.path),
        PLOT_SCALES=["1:50", "1:200"],
        COORDINATES=coordinates,
        READINGS=True,
        OUTPUT=str(tmp_path / "plan.dxf"),
    )["OUTPUT"]
    document = read(path)
    assert document.header["$INSUNITS"] == 6
    tables = placed.tables
    if coordinates == "target CRS":
        tables = {name: table.placed(placed.place) for name, table in tables.items()}
    walls = tables["wall_faces"]
    for scale, code in ((50, "E"), (200, "G")):
        drawn = [
            *on(document, "LWPOLYLINE", "-WALL", code),
            *on(document, "LWPOLYLINE", "-FACE", code),
        ]
        rows = [row for row, s in enumerate(walls.column("plot_scale")) if s == scale]
        assert len(drawn) == len(rows)
        wanted = shapely.get_coordinates(walls.geometry[rows])
        found = vertices(drawn)
        assert len(found) == len(wanted)
        for some, others in ((found, wanted), (wanted, found)):
            assert KDTree(some).query(others)[0].max() < 1e-6
    readings = on(document, "POINT", "-READING") + on(document, "POINT", "-READING-FLAGGED")
    assert len(readings) == sum(point is not None for point in tables["readings"].geometry)
    stations = np.array([tuple(p.dxf.location)[:2] for p in on(document, "POINT", "-STATION")])
    wanted = shapely.get_coordinates(tables["stations"].geometry)
    assert stations == pytest.approx(wanted, abs=1e-6)
    assert document.layers.get(on(document, "LWPOLYLINE", "-WALL", "G")[0].dxf.layer).is_off()
    on_now = {layer.dxf.name[11:15] for layer in document.layers if layer.is_on()} - {""}
    assert on_now == {"0000", "----"}


def test_rooms_are_closed_and_named(run, placed, tmp_path):
    path = run(
        "exportdrawing",
        INPUT=str(placed.path),
        PLOT_SCALES=["1:50"],
        OUTPUT=str(tmp_path / "plan"),
    )["OUTPUT"]
    assert path.endswith("plan.dxf")
    document = read(path)
    rooms = placed.tables["rooms"]
    rows = [row for row, s in enumerate(rooms.column("plot_scale")) if s == 50]
    lines = on(document, "LWPOLYLINE", "-ROOM")
    assert len(lines) >= len(rows)
    assert all(line.closed for line in lines)
    total = sum(shapely.Polygon(line.get_points("xy")).area for line in lines)
    holes = sum(shapely.Polygon(r).area for row in rows for r in rooms.geometry[row].interiors)
    assert total - 2 * holes == pytest.approx(sum(g.area for g in rooms.geometry[rows]), abs=1e-6)
    words = [text.plain_text() for text in on(document, "TEXT", "-ROOM")]
    assert set(NAMES) <= set(words)
    assert not on(document, "POINT", "-READING")
    notes = " ".join(text.plain_text() for text in on(document, "TEXT", "-NOTE"))
    assert "2026-04-21" in notes
    assert "1 sigma" in notes
    assert "Not a structural or boundary document" in notes


def test_the_grid_is_larger_than_the_ground_by_its_factor(run, placed, tmp_path):
    sizes = []
    for coordinates in ("plan", "target CRS"):
        path = run(
            "exportdrawing",
            INPUT=str(placed.path),
            PLOT_SCALES=["1:50"],
            COORDINATES=coordinates,
            OUTPUT=str(tmp_path / f"{coordinates}.dxf"),
        )["OUTPUT"]
        first = on(read(path), "LWPOLYLINE", "-WALL")[0].get_points("xy")
        sizes.append(np.hypot(*(np.array(first[1]) - first[0])))
    assert sizes[1] / sizes[0] == pytest.approx(FACTOR, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"COORDINATES": "target CRS"}, "lies in plan coordinates"),
        ({"PLOT_SCALES": ["1:100"]}, "1:100 was asked for, the plan was drawn at 1:50, 1:200"),
        ({"INPUT": "words.gpkg"}, "is not a GeoPackage"),
        ({"INPUT": "none.gpkg"}, "could not be read"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_left(
    run, local, tmp_path, tmp_path_factory, change, sentence
):
    if "INPUT" in change:
        folder = tmp_path_factory.mktemp("inputs")
        (folder / "words.gpkg").write_text("words")
        change = {"INPUT": str(folder / change["INPUT"])}
    given = {"INPUT": str(local.path), "PLOT_SCALES": ["1:50"], **change}
    with pytest.raises(QgsProcessingException, match=sentence):
        run("exportdrawing", OUTPUT=str(tmp_path / "plan.dxf"), **given)
    assert not list(tmp_path.iterdir())


def test_a_cancel_leaves_what_was_there(run, local, tmp_path):
    (tmp_path / "plan.dxf").write_text("before")
    result = run(
        "exportdrawing",
        feedback=Cancelled(),
        INPUT=str(local.path),
        PLOT_SCALES=["1:50"],
        OUTPUT=str(tmp_path / "plan.dxf"),
    )
    assert "OUTPUT" not in result
    assert (tmp_path / "plan.dxf").read_text() == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["plan.dxf"]
