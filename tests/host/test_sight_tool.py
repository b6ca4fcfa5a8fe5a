# SPDX-License-Identifier: GPL-2.0-or-later
"""Distances sighted in the map of the example plan, driven as a person does."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from placed_plan import write_plan
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsPointXY,
    QgsProject,
    QgsRectangle,
    QgsVectorLayer,
)
from qgis.gui import QgsRubberBand
from qgis.PyQt import sip
from qgis.PyQt.QtCore import QPoint, Qt
from qgis.PyQt.QtTest import QTest
from reviewed_plan import Window, change, load_plan, select, spin, wait_for
from roomtie.plugin.moved_in_qt import QAction

WEB = "EPSG:3857"


@pytest.fixture(scope="module")
def plans(example, tmp_path_factory):
    folder = tmp_path_factory.mktemp("plans")
    return {
        placed: write_plan(folder / f"{placed}.gpkg", example, placed) for placed in (False, True)
    }


EVERYWHERE = pytest.mark.parametrize(
    "sighted",
    [(False, None), (True, None), (True, WEB)],
    ids=["plan", "site", "web"],
    indirect=True,
)


@pytest.fixture
def sighted(request, qgis_app, plans, tmp_path):
    """The tool switched on over a plan in its own axes, on the site, and in a project of another
    coordinate system."""
    from roomtie.plugin.background import running
    from roomtie.plugin.sight_dock import SightDock

    placed, crs = getattr(request, "param", (True, WEB))
    stored = plans[placed]
    path = Path(shutil.copy(stored.path, tmp_path / "house.gpkg"))
    window = Window()
    layers = load_plan(path, levels=(0,))
    own = layers["stations"][0].crs()
    window.canvas.setDestinationCrs(QgsCoordinateReferenceSystem(crs) if crs else own)
    QgsProject.instance().setCrs(window.canvas.mapSettings().destinationCrs())
    window.canvas.setLayers([layer for name in ("wall_faces",) for layer in layers[name]])
    asked = []
    action = QAction(window.main)
    action.setCheckable(True)
    dock = SightDock(window, action, lambda *what: asked.append(what), asked.append)
    window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
    action.setChecked(True)
    dock.asked, dock.path, dock.window, dock.stored, dock.own = asked, path, window, stored, own
    dock.settle = lambda: wait_for(lambda: not running(dock))
    spin(0.05)
    dock.settle()
    yield dock
    if not sip.isdeleted(dock):
        dock.close_for_good()
    QgsProject.instance().clear()
    window.close()


def to_map(dock, x, y):
    """A point of the plan in the map's coordinates."""
    at = dock.stored.place(1, np.array([x, y]))
    change_ = QgsCoordinateTransform(
        dock.own, dock.window.canvas.mapSettings().destinationCrs(), QgsProject.instance()
    )
    return change_.transform(QgsPointXY(*at))


def pixel(dock, x, y, metres=12.0):
    """The pixel of a point of the plan, with the map zoomed to it."""
    canvas, middle = dock.window.canvas, to_map(dock, x, y)
    reach = middle.distance(to_map(dock, x + metres, y))
    canvas.setExtent(QgsRectangle.fromCenterAndSize(middle, reach, reach))
    spin(0.02)
    at = canvas.getCoordinateTransform().transform(middle)
    return QPoint(round(at.x()), round(at.y()))


def click(dock, x, y, button=Qt.MouseButton.LeftButton):
    at = pixel(dock, x, y)
    QTest.mouseMove(dock.window.canvas.viewport(), at)
    QTest.mouseClick(dock.window.canvas.viewport(), button, Qt.KeyboardModifier.NoModifier, at)
    spin(0.02)


def facing(dock):
    """Two long walls of the ground floor that face each other, in plan coordinates: their names,
    their middles and the distance between them from the drawn lines, the independent value."""
    table = dock.stored.tables["wall_faces"]
    walls = [
        (name, np.array(line.coords))
        for name, scale, level, length, bounds, line in zip(
            *(table.column(c) for c in ("wall", "plot_scale", "level", "length_m", "bounds_room")),
            table.geometry,
        )
        if scale == 50 and level == 0 and length > 2.5 and bounds
    ]
    for a, first in walls:
        for b, second in walls:
            u = (first[1] - first[0]) / np.linalg.norm(first[1] - first[0])
            v = (second[1] - second[0]) / np.linalg.norm(second[1] - second[0])
            middle = first.mean(axis=0)
            gap = second[0] - middle
            height = abs(gap[0] * v[1] - gap[1] * v[0])
            foot = middle - second[0]
            along = foot @ v
            inside = 0.3 < along < np.linalg.norm(second[1] - second[0]) - 0.3
            if u @ v < -0.9999 and inside and 2.0 < height < 6.0:
                return a, b, middle, second[0] + along * v, height
    raise AssertionError("the example has rooms with walls that face each other")


def marks(dock):
    return [item for item in dock.window.canvas.scene().items() if isinstance(item, QgsRubberBand)]


@EVERYWHERE
def test_two_walls_are_picked_and_their_distance_is_that_on_the_ground(sighted):
    first, second, at, foot, height = facing(sighted)
    click(sighted, *at)
    assert sighted.panel.first.text() == first
    assert sighted.window.bar.currentMessage().endswith(first)
    click(sighted, *foot)
    assert sighted.panel.second.text() == second
    found, _ = sighted.sight.between(first, second)
    assert found.length_m == pytest.approx(height, abs=0.004)  # of its middle, slightly askew
    assert 0.0002 < found.sigma_m < 0.01
    text = sighted.panel.plan_m.text()
    assert text.startswith(f"{found.length_m:.4f} m")
    assert f"standard error {1000 * found.sigma_m:.1f} mm" in text


@EVERYWHERE
def test_a_target_is_picked_before_its_wall_and_a_corner_before_its_walls(sighted):
    references = sighted.sight.references
    targets = sighted.stored.tables["targets"]
    name, x, y = next(
        (n, x, y)
        for n, x, y, level in zip(*(targets.column(c) for c in ("target", "x_m", "y_m", "level")))
        if level == 0
    )
    click(sighted, x, y)
    assert sighted.panel.first.text() == name
    corner = next(n for n in references.name if "/" in n and "T" not in n)
    place = sighted.sight.frame.to_plan(1, references.ends[references.name.index(corner)][0])
    click(sighted, *place)
    assert sighted.panel.second.text() == corner
    assert sighted.panel.plan_m.text()


@EVERYWHERE
def test_the_whole_entry_by_keyboard_and_its_comparison(sighted, run):
    """Names typed, the length typed, Enter; the table goes into Compare with taped distances."""
    first, second, _, _, _ = facing(sighted)
    found, _ = sighted.sight.between(first, second)
    panel = sighted.panel
    QTest.keyClicks(panel.first, first)
    QTest.keyClicks(panel.second, second)
    for taped in (found.length_m + 0.0011, found.length_m - 0.1):
        panel.taped.setFocus()
        panel.taped.selectAll()
        QTest.keyClicks(panel.taped.lineEdit(), f"{taped:.4f}")
        word = "within tolerance" if taped > found.length_m else "plan too long"
        assert panel.verdict.text().endswith(word)
        QTest.keyClick(panel.taped.lineEdit(), Qt.Key.Key_Return)
        sighted.settle()
        spin(0.02)
        assert panel.first.text() == panel.second.text() == ""
        panel.first.setText(first)
        panel.second.setText(second)
    rows = (
        "SELECT from_ref, to_ref, round(taped_m, 4), sigma_taped_mm, verdict FROM taped_distances"
    )
    assert select(sighted.path, rows) == [
        (first, second, round(found.length_m + 0.0011, 4), 2.0, "within tolerance"),
        (first, second, round(found.length_m - 0.1, 4), 2.0, "plan too long"),
    ]
    assert panel.distances.rows.rowCount() == 2
    panel.compare.click()
    ((name, parameters),) = sighted.asked
    assert name == "comparedistances"
    result = run(name, **{**parameters, "TAPED_DISTANCES": "memory:"})
    assert (result["DISTANCES"], result["BEYOND_TOLERANCE"]) == (2, 1)
    ours = QgsProject.instance().mapLayer(parameters["TAPED"])
    theirs = [f["plan_m"] for f in result["TAPED_DISTANCES"].getFeatures()]
    assert [f["plan_m"] for f in ours.getFeatures()] == pytest.approx(theirs, abs=1e-9)


def test_entries_are_taken_out_again(sighted):
    first, second, _, _, _ = facing(sighted)
    panel = sighted.panel
    panel.first.setText(first)
    panel.second.setText(second)
    panel.taped.setValue(3.0)
    panel.add.click()
    sighted.settle()
    panel.distances.selectRow(0)
    panel.remove.click()
    assert panel.distances.rows.rowCount() == 0
    assert select(sighted.path, "SELECT count(*) FROM taped_distances") == [(0,)]


def test_what_has_no_distance_is_told_and_nothing_can_be_added(sighted):
    first, second, *_ = facing(sighted)
    panel = sighted.panel
    panel.first.setText(first)
    panel.second.setText(first)
    assert "are one wall; expected two" in panel.message.text()
    panel.taped.setValue(3.0)
    assert not panel.add.isEnabled()
    panel.second.setText("W999")
    assert "'W999' is no wall" in panel.message.text()
    panel.second.setText(second)
    assert panel.message.text() == "" and panel.add.isEnabled()


def test_esc_and_the_right_button_take_back_and_then_leave(sighted):
    first, _, at, foot, _ = facing(sighted)
    click(sighted, *at)
    click(sighted, *foot)
    assert len(marks(sighted)) >= 4
    QTest.keyClick(sighted.window.canvas, Qt.Key.Key_Escape)
    assert (sighted.panel.first.text(), sighted.panel.second.text()) == (first, "")
    click(sighted, *at, button=Qt.MouseButton.RightButton)
    assert sighted.panel.first.text() == ""
    assert sighted.action.isChecked()
    QTest.keyClick(sighted.window.canvas, Qt.Key.Key_Escape)
    assert not sighted.action.isChecked()
    assert sighted.window.canvas.mapTool() is not sighted.tool
    assert marks(sighted) == []


def test_nothing_is_picked_where_nothing_is(sighted):
    click(sighted, 500.0, 500.0)
    assert sighted.panel.first.text() == ""


def test_of_the_storeys_only_what_the_map_shows_is_picked(sighted):
    upper = load_plan(sighted.path, levels=(1,), names=("wall_faces",))["wall_faces"]
    canvas = sighted.window.canvas
    table = sighted.stored.tables["wall_faces"]
    middles = [
        (name, *np.array(line.coords).mean(axis=0))
        for name, scale, level, line in zip(
            *(table.column(c) for c in ("wall", "plot_scale", "level")), table.geometry
        )
        if scale == 50 and level == 1
    ]
    canvas.setLayers(upper)
    sighted.find_plans()
    sighted.settle()
    click(sighted, *middles[0][1:])
    name = sighted.panel.first.text()
    references = sighted.sight.references
    assert references.level[references.name.index(name)] == 1
    canvas.setLayers([layer for layer in sighted.plan.of(_walls()) if layer not in upper])
    spin(0.02)
    for _, x, y in middles[:5]:
        sighted.panel.first.clear()
        click(sighted, x, y)
        name = sighted.panel.first.text()
        assert not name or references.level[references.name.index(name)] <= 0


def _walls():
    from roomtie.processing.layers import schema

    return schema.WALL_FACES


def test_entries_are_held_against_a_plan_that_was_drawn_anew(sighted):
    first, second, _, _, _ = facing(sighted)
    panel = sighted.panel
    for a, b in ((first, second), (second, first)):
        panel.first.setText(a)
        panel.second.setText(b)
        panel.taped.setValue(3.0)
        panel.add.click()
        sighted.settle()
    length = select(sighted.path, "SELECT plan_m FROM taped_distances")[0][0]
    change(
        sighted.path,
        "UPDATE taped_distances SET plan_m = 1.0, verdict = 'plan too short'",
        "UPDATE taped_distances SET to_ref = 'W999' WHERE fid = 2",
    )
    sighted.read_again()
    sighted.settle()
    rows = select(sighted.path, "SELECT taped_m, plan_m, verdict FROM taped_distances ORDER BY fid")
    assert rows[0] == (3.0, pytest.approx(length, abs=1e-9), "plan too long")
    assert rows[1] == (3.0, None, None)
    shown = [panel.distances.rows.data(panel.distances.rows.index(r, 4)) for r in (0, 1)]
    assert shown == ["plan too long", "not on the plan"]


def test_a_table_that_takes_no_change_is_told_and_distances_are_taken_all_the_same(
    sighted, monkeypatch
):
    first, second, _, _, _ = facing(sighted)
    panel = sighted.panel
    for edit, name in ((panel.first, first), (panel.second, second)):
        edit.setText(name)
    panel.taped.setValue(3.0)
    panel.add.click()
    sighted.settle()
    table = sighted.entries.table()
    change(sighted.path, "UPDATE taped_distances SET plan_m = 1.0")
    monkeypatch.setattr(type(table.dataProvider()), "changeAttributeValues", lambda *_: False)
    sighted.read_again()
    sighted.settle()
    assert "the change could not be written" in panel.message.text()
    assert len(panel.distances.rows.rows) == 1
    panel.first.setText(first)
    panel.second.setText(second)
    assert "standard error" in panel.plan_m.text()


def test_the_plan_may_go_while_it_is_sighted(sighted):
    _, _, at, _, _ = facing(sighted)
    click(sighted, *at)
    QgsProject.instance().clear()
    spin(0.05)
    assert sighted.plan is None and marks(sighted) == []
    wait_for(lambda: "no plan" in sighted.panel.message.text())
    load_plan(sighted.path, levels=(0,))
    wait_for(lambda: sighted.plan is not None)
    sighted.settle()
    assert sighted.sight is not None and sighted.panel.message.text() == ""


def test_nothing_is_left_when_the_dock_goes(sighted):
    from roomtie.plugin.background import running

    _, _, at, foot, _ = facing(sighted)
    click(sighted, *at)
    click(sighted, *foot)
    sighted.find_plans()  # reading
    canvas, action = sighted.window.canvas, sighted.action
    sighted.close_for_good()
    spin(0.05)
    assert sip.isdeleted(sighted) and running() == 0
    assert canvas.mapTool() is None or not sip.isdeleted(canvas.mapTool())
    assert [i for i in canvas.scene().items() if isinstance(i, QgsRubberBand)] == []
    action.setChecked(True)  # nobody listens any more
    assert isinstance(QgsProject.instance().mapLayersByName("stations")[0], QgsVectorLayer)
