# SPDX-License-Identifier: GPL-2.0-or-later
"""Readjusting from the review: in the background, whole or not at all, with undo."""

import hashlib
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest
from qgis.core import QgsProject
from qgis.PyQt import sip
from qgis.PyQt.QtCore import Qt
from reviewed_plan import Heartbeat, OtherPlan, change, load_plan, select, spin, wait_for


@pytest.fixture
def dock(window, plan, monkeypatch):
    """The dock over the plan; `stand_in(other)` puts another plan in the algorithm's place."""
    from roomtie.plugin import review_work
    from roomtie.plugin.background import running
    from roomtie.plugin.review_dock import ReviewDock

    layers = load_plan(plan)
    dock = ReviewDock(window, lambda *_: None, lambda _: None)
    window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
    dock.show()
    dock.layers = layers

    def stand_in(other):
        monkeypatch.setattr(review_work, "new_algorithm", lambda: other)
        return other

    dock.stand_in = stand_in
    dock.settle = lambda: wait_for(lambda: not running(dock) and not dock.work.is_busy)
    spin(0.05)
    dock.settle()
    yield dock
    if not sip.isdeleted(dock):
        dock.close_for_good()


def used(plan):
    return select(plan, "SELECT used FROM stations WHERE station = 'S08'")[0][0]


def shown(dock, key="S08"):
    rows = dock.panel.stations.rows
    return rows.rows[rows.row_of(key)]


def content(plan):
    """All that a plan holds, table by table."""
    with closing(sqlite3.connect(plan)) as file:
        return hashlib.sha256("\n".join(file.iterdump()).encode()).hexdigest()


def select_station(dock, key):
    table = dock.panel.stations
    table.selectRow(table.sorted.mapFromSource(table.rows.index(table.rows.row_of(key), 0)).row())
    spin(0.02)


def test_the_plan_is_replaced_and_its_layers_stay_where_they_are(dock, plan):
    other = dock.stand_in(OtherPlan())
    before = used(plan)
    identities = [(layer.id(), layer.renderer()) for layer in dock.layers["stations"]]
    tree = [node.layerId() for node in QgsProject.instance().layerTreeRoot().findLayers()]
    select_station(dock, "S08")
    dock.panel.readjust.click()
    assert not dock.panel.readjust.isEnabled() and dock.panel.cancel.isVisible()
    wait_for(lambda: 0 < dock.panel.progress.value() < 95)
    dock.settle()
    assert used(plan) == before - 1 == shown(dock)["used"]
    assert other.given["EARLIER"] == str(plan) != other.given["OUTPUT"]
    assert other.given["PLOT_SCALES"] == ["1:50", "1:200"]
    assert plan.with_suffix(".html").read_text() == "a new report"
    assert [(layer.id(), layer.renderer()) for layer in dock.layers["stations"]] == identities
    assert tree == [node.layerId() for node in QgsProject.instance().layerTreeRoot().findLayers()]
    assert dock.panel.stations.selected_keys() == {"S08"}
    (station,) = dock.layers["stations"][0].selectedFeatures()
    assert (station["station"], station["used"]) == ("S08", before - 1)
    assert dock.panel.readjust.isEnabled() and not dock.panel.cancel.isVisible()


def test_undo_brings_the_earlier_plan_back_and_redo_the_later_one(dock, plan):
    dock.stand_in(OtherPlan())
    select_station(dock, "S08")
    dock.panel.station_choices[2].click()
    before, figure = content(plan), used(plan)
    dock.panel.readjust.click()
    dock.settle()
    after = content(plan)
    assert after != before
    dock.panel.undo.click()
    dock.settle()
    assert content(plan) == before
    assert shown(dock)["used"] == figure
    assert not plan.with_suffix(".html").exists()
    dock.panel.redo.click()
    dock.settle()
    assert content(plan) == after
    assert plan.with_suffix(".html").exists()
    dock.panel.undo.click()
    dock.settle()
    dock.panel.undo.click()  # the choice from before the readjustment
    assert shown(dock)["choice"] is None
    assert used(plan) == figure


def test_features_that_are_numbered_anew_stay_selected_by_name(dock, plan):
    dock.stand_in(OtherPlan(statements=("UPDATE stations SET fid = fid + 1000",)))
    select_station(dock, "S08")
    dock.panel.readjust.click()
    dock.settle()
    (station,) = dock.layers["stations"][0].selectedFeatures()
    assert station["station"] == "S08" and station.id() > 1000


def test_a_cancel_leaves_all_as_it_was(dock, plan):
    before = plan.read_bytes()
    dock.stand_in(OtherPlan(seconds=20.0))
    dock.panel.readjust.click()
    wait_for(lambda: dock.panel.progress.value() > 0)
    dock.panel.cancel.click()
    wait_for(lambda: not dock.work.is_busy, seconds=1.0)
    assert "Cancelled" in dock.panel.message.text()
    assert plan.read_bytes() == before
    assert not dock.panel.undo.isEnabled()
    assert [path.name for path in plan.parent.iterdir()] == ["house.gpkg"]


def test_a_failure_leaves_all_as_it_was_and_is_told(dock, plan):
    before = plan.read_bytes()
    dock.stand_in(OtherPlan(fails="Layer stations, station S08: it cannot be."))
    dock.panel.readjust.click()
    dock.settle()
    assert dock.panel.message.text() == "Layer stations, station S08: it cannot be."
    assert plan.read_bytes() == before
    assert not dock.panel.undo.isEnabled()


def test_what_somebody_changes_meanwhile_is_not_lost(dock, plan):
    dock.stand_in(OtherPlan(seconds=1.0))
    dock.panel.readjust.click()
    (layer, _) = dock.layers["stations"]
    layer.startEditing()
    place = layer.fields().lookupField("comment")
    layer.changeAttributeValue(next(layer.getFeatures()).id(), place, "seen twice")
    dock.settle()
    assert "changed while it was readjusted" in dock.panel.message.text()
    assert layer.commitChanges()
    assert select(plan, "SELECT count(*) FROM stations WHERE comment = 'seen twice'") == [(1,)]


def test_a_change_by_another_program_meanwhile_is_not_lost(dock, plan):
    dock.stand_in(OtherPlan(seconds=0.5))
    dock.panel.readjust.click()
    spin(0.1)
    change(plan, "UPDATE gpkg_contents SET last_change = 'now' WHERE table_name = 'rooms'")
    before = content(plan)
    dock.settle()
    assert "changed while it was readjusted" in dock.panel.message.text()
    assert content(plan) == before


def test_a_file_that_another_program_holds_is_told(dock, plan, monkeypatch):
    from roomtie.processing import databases

    monkeypatch.setattr(databases, "PATIENCE_S", 0.5)
    before = content(plan)
    dock.stand_in(OtherPlan(seconds=0.1))
    with closing(sqlite3.connect(plan, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM stations").fetchall()  # holds a lock for reading
        dock.panel.readjust.click()
        dock.settle()
        assert "expected a file that no other program is using" in dock.panel.message.text()
        other.execute("ROLLBACK")
    assert content(plan) == before
    assert not dock.panel.undo.isEnabled()


def test_reports_that_cannot_be_written_leave_all_as_it_was(dock, plan, monkeypatch):
    from roomtie.plugin import review_versions

    def full(*_):
        raise OSError(28, "No space left on device")

    before = content(plan)
    own = SimpleNamespace(copyfile=full, copy2=shutil.copy2, rmtree=shutil.rmtree)
    monkeypatch.setattr(review_versions, "shutil", own)
    dock.stand_in(OtherPlan(seconds=0.1))
    dock.panel.readjust.click()
    dock.settle()
    assert "No space left on device" in dock.panel.message.text()
    assert content(plan) == before
    assert [path.name for path in plan.parent.iterdir()] == ["house.gpkg"]
    assert not dock.panel.undo.isEnabled()


def test_a_plan_that_goes_while_it_is_readjusted_is_not_offered_any_more(dock, plan):
    dock.stand_in(OtherPlan(seconds=0.5))
    dock.panel.readjust.click()
    QgsProject.instance().clear()
    dock.settle()
    wait_for(lambda: dock.panel.plans.count() == 0)
    assert dock.plan is None


def test_only_so_many_earlier_plans_are_kept_and_none_after_the_dock(dock, plan):
    from roomtie.plugin.review_versions import KEPT

    dock.stand_in(OtherPlan(seconds=0.01))
    for _ in range(KEPT + 2):
        dock.panel.readjust.click()
        dock.settle()
    folder = Path(dock.work._versions._folder.name)
    assert len([*folder.iterdir()]) == KEPT
    figure = used(plan)
    for _ in range(KEPT):
        dock.panel.undo.click()
        dock.settle()
    assert used(plan) == figure + KEPT
    dock.panel.undo.click()
    dock.settle()
    assert "not kept any more" in dock.panel.message.text()
    assert used(plan) == figure + KEPT
    dock.close_for_good()
    assert not folder.exists()


def test_the_window_goes_on_while_a_plan_is_readjusted(dock, plan, capsys):
    """Told, not judged: the figure depends on the machine; the benchmarks have it."""
    dock.stand_in(OtherPlan())
    heartbeat = Heartbeat()
    dock.panel.readjust.click()
    dock.settle()
    spin(0.1)
    with capsys.disabled():
        print(f" [longest block of the window: {1000 * heartbeat.stop():.0f} ms]", end="")
    assert used(plan) == shown(dock)["used"]


def test_closing_the_dock_stops_the_work(dock, plan):
    from roomtie.plugin.background import running

    before = plan.read_bytes()
    dock.stand_in(OtherPlan(seconds=20.0))
    dock.panel.readjust.click()
    spin(0.1)
    dock.close_for_good()
    spin(0.05)
    assert running() == 0
    assert plan.read_bytes() == before


@pytest.fixture(scope="module")
def made_plan(roomtie, example_survey, tmp_path_factory):
    """A plan of some of the example's captures, as the main job makes it."""
    import processing

    folder = tmp_path_factory.mktemp("made")
    (folder / "captures").mkdir()
    for name in ("S01", "S02", "S03", "S04", "S05", "S13"):
        shutil.copy(example_survey / "captures" / f"{name}.csv", folder / "captures")
    made = processing.run(
        "roomtie:planfromcaptures",
        {
            "INPUT": str(folder / "captures"),
            "TARGET_CRS": "EPSG:32631",
            "PLOT_SCALES": ["1:50"],
            "OUTPUT": str(folder / "house.gpkg"),
            "REPORT": str(folder / "house.html"),
        },
    )
    return Path(made["OUTPUT"])


def test_the_plan_is_drawn_anew_with_what_a_person_chose(made_plan, tmp_path, window):
    """The algorithm itself: a station is left out, a room named, another station held."""
    from roomtie.plugin.background import running
    from roomtie.plugin.review_dock import ReviewDock
    from roomtie.processing.layers import schema

    plan = Path(shutil.copy(made_plan, tmp_path / "house.gpkg"))
    load_plan(plan, levels=(0,))
    dock = ReviewDock(window, lambda *_: None, lambda _: None)
    window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
    dock.show()
    spin(0.05)
    wait_for(lambda: not running(dock))
    ((room,),) = select(plan, "SELECT room FROM rooms WHERE stations LIKE '%S01%'")
    dock.choose(schema.ROOMS, [room], "name", "Reading room")
    dock.choose(schema.STATIONS, ["S13"], "choice", "leave out")
    dock.choose(schema.STATIONS, ["S02"], "choice", "hold")
    before = content(plan)
    heartbeat = Heartbeat()
    dock.panel.readjust.click()
    wait_for(lambda: not dock.work.is_busy, seconds=120.0)
    print(f"longest block of the window: {1000 * heartbeat.stop():.0f} ms")
    assert dock.panel.message.text().startswith("Readjusted")
    states = dict(select(plan, "SELECT station, status FROM stations"))
    assert states["S13"] == "unconnected" and states["S02"] == "held"
    assert shown(dock, "S13")["status"] == "unconnected"
    assert shown(dock, "S13")["choice"] == "leave out"
    assert select(plan, f"SELECT name FROM rooms WHERE room = '{room}'") == [("Reading room",)]
    assert plan.with_suffix(".html").is_file() and plan.with_suffix(".json").is_file()
    dock.panel.undo.click()
    wait_for(lambda: not dock.work.is_busy)
    assert content(plan) == before
    assert shown(dock, "S13")["status"] == "adjusted"
    dock.close_for_good()
