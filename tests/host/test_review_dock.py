# SPDX-License-Identifier: GPL-2.0-or-later
"""The review dock on the example plan, driven as a person does."""

import pytest
from qgis.core import QgsFeatureRequest, QgsProject, QgsVectorLayer
from qgis.PyQt import sip
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtGui import QColor, QPalette
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import QComboBox, QLineEdit
from reviewed_plan import change, load_plan, select, spin, wait_for


@pytest.fixture
def opened(window):
    """``opened()`` makes the dock over the layers of the project; it is closed at the end."""
    from roomtie.plugin.review_dock import ReviewDock

    docks = []

    def make():
        asked = []
        dock = ReviewDock(window, lambda *what: asked.append(what), asked.append)
        dock.asked = asked
        window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
        dock.show()
        docks.append(dock)
        spin(0.05)
        settled(dock)
        return dock

    yield make
    for dock in docks:
        if not sip.isdeleted(dock):
            dock.close_for_good()
    spin()


def settled(dock):
    from roomtie.plugin.background import running

    wait_for(lambda: not running(dock) and not dock.work.is_busy)


def texts(table, key):
    """A thing's row by the titles of the columns."""
    rows = table.rows
    row = rows.row_of(key)
    return {
        column.title: rows.data(rows.index(row, place)) for place, column in enumerate(rows.columns)
    }


def pick(table, *keys):
    """Select rows as with the mouse."""
    for number, key in enumerate(keys):
        index = table.sorted.mapFromSource(table.rows.index(table.rows.row_of(key), 0))
        table.scrollTo(index)
        modifier = Qt.KeyboardModifier.ControlModifier if number else Qt.KeyboardModifier.NoModifier
        QTest.mouseClick(
            table.viewport(),
            Qt.MouseButton.LeftButton,
            modifier,
            table.visualRect(index).center(),
        )


def test_stations_stand_in_the_table_with_what_readings_and_ties_say(opened, plan):
    load_plan(plan)
    dock = opened()
    stations = dock.panel.stations
    assert stations.sorted.rowCount() == 18
    ((used, all_, sigma),) = select(
        plan, "SELECT used, readings, sigma_x_mm FROM stations WHERE station = 'S08'"
    )
    ((mixed, largest),) = select(
        plan,
        "SELECT sum(flag = 'mixed'), max(abs(residual_mm)) FROM readings WHERE station = 'S08'",
    )
    ((w,),) = select(
        plan,
        "SELECT max(abs(standardised)) FROM ties "
        "WHERE used AND 'S08' IN (from_station, to_station)",
    )
    shown = texts(stations, "S08")
    assert shown["Used"] == f"{used}/{all_}"
    assert shown["σ x mm"] == f"{sigma:.1f}"
    assert shown["Largest mm"] == f"{largest:.1f}"
    assert shown["Largest w"] == f"{w:.1f}"
    assert f"{mixed} mixed" in shown["Flags"]
    assert shown["Status"] == "adjusted" and shown["Choice"] == "as found"


def test_what_is_selected_in_the_table_is_selected_in_the_map_and_the_other_way(opened, plan):
    layers = load_plan(plan)
    dock = opened()
    table = dock.panel.stations
    pick(table, "S08", "S16")  # of two storeys, in two layers
    names = [sorted(f["station"] for f in layer.selectedFeatures()) for layer in layers["stations"]]
    assert names == [["S08"], ["S16"]]
    for layer, station in zip(layers["stations"], ("S03", "S17")):
        (number,) = (f.id() for f in layer.getFeatures(f"station = '{station}'"))
        layer.selectByIds([number])
    assert table.selected_keys() == {"S03", "S17"}
    assert table.current_key() in {"S03", "S17"}
    for layer in layers["stations"]:
        layer.removeSelection()
    assert table.selected_keys() == set()


def test_the_ring_has_the_readings_of_the_station_by_residual_or_flag(opened, plan):
    load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S08")
    settled(dock)
    ring = dock.panel.ring
    counts = select(
        plan,
        "SELECT sum(residual_mm IS NULL), sum(abs(residual_mm) <= 2), "
        "sum(abs(residual_mm) > 2 AND abs(residual_mm) <= 5) FROM readings "
        "WHERE station = 'S08' AND kind = 'ring' AND flag <> 'no return'",
    )[0]
    assert [count for _, count in ring.legend][:3] == list(counts)
    dock.panel.colour_by.setCurrentIndex(1)
    by_flag = dict(
        select(
            plan,
            "SELECT CASE flag WHEN '' THEN 'usable' ELSE flag END, count(*) FROM readings "
            "WHERE station = 'S08' AND kind = 'ring' AND flag <> 'no return' GROUP BY flag",
        )
    )
    assert dict(ring.legend) == by_flag
    assert f"usable: {by_flag['usable']}" in ring.accessibleDescription()
    image = ring.grab().toImage()
    assert len({image.pixel(x, y) for x in range(image.width()) for y in range(image.height())}) > 5


def test_the_ring_is_readable_where_a_theme_leaves_dark_text_on_a_dark_base(qgis_app):
    from roomtie.plugin.review_readings import RingReading
    from roomtie.plugin.review_ring import ReviewRing

    ring = ReviewRing()
    palette = ring.palette()
    palette.setColor(QPalette.ColorRole.Base, QColor("#202020"))
    palette.setColor(QPalette.ColorRole.Text, QColor("#000000"))
    ring.setPalette(palette)
    ring.show_readings([RingReading(1.0, 1.0, "", 1.0)])
    image = ring.grab().toImage()
    pixels = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
    assert max(pixel.lightness() for pixel in pixels) > 200


def test_the_ties_of_a_station_say_why_they_are_not_used(opened, plan):
    load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S08")
    ties = dock.panel.ties
    names = {
        name
        for (name,) in select(
            plan, "SELECT tie FROM ties WHERE 'S08' IN (from_station, to_station)"
        )
    }
    assert {ties.rows.key_at(row) for row in range(ties.rows.rowCount())} == names
    name, reason = select(
        plan,
        "SELECT tie, reason FROM ties WHERE from_station = 'S08' AND kind = 'target' AND NOT used",
    )[0]
    shown = texts(ties, name)
    assert shown["Used"] == "no" and shown["What it says"] == reason
    # An overlap is told from either side.
    tie, other = select(
        plan, "SELECT tie, from_station FROM ties WHERE to_station = 'S08' AND kind = 'overlap'"
    )[0]
    assert texts(ties, tie)["Tie"] == f"overlap {other}"


def test_choices_are_written_into_the_layers_and_undone(opened, plan):
    load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S08", "S16")
    choices = "SELECT station, choice FROM stations WHERE choice IS NOT NULL ORDER BY station"
    QTest.mouseClick(dock.panel.station_choices[2], Qt.MouseButton.LeftButton)
    assert select(plan, choices) == [("S08", "leave out"), ("S16", "leave out")]
    assert texts(dock.panel.stations, "S16")["Choice"] == "leave out"
    assert dock.panel.stations.selected_keys() == {"S08", "S16"}
    QTest.mouseClick(dock.panel.undo, Qt.MouseButton.LeftButton)  # both were one step
    assert select(plan, choices) == []
    QTest.mouseClick(dock.panel.redo, Qt.MouseButton.LeftButton)
    assert len(select(plan, choices)) == 2
    assert not dock.panel.redo.isEnabled()


def edited(table, key, title, edit):
    """Open the editor of a cell with F2 and let `edit` use it."""
    place = [column.title for column in table.rows.columns].index(title)
    index = table.sorted.mapFromSource(table.rows.index(table.rows.row_of(key), place))
    table.setFocus()
    table.setCurrentIndex(index)
    QTest.keyClick(table, Qt.Key.Key_F2)
    spin(0.02)
    editor = next(
        child
        for child in table.viewport().children()
        if isinstance(child, (QLineEdit, QComboBox)) and child.isVisible()
    )
    edit(editor)
    spin(0.02)


def typed(text):
    def edit(editor):
        editor.selectAll()
        QTest.keyClicks(editor, text)
        QTest.keyClick(editor, Qt.Key.Key_Return)

    return edit


def test_a_tie_gets_another_weight_and_is_left_out_with_the_keyboard(opened, plan):
    load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S08")
    dock.panel.tabs.setCurrentIndex(1)
    ties, name = dock.panel.ties, "S08 to T13"
    edited(ties, name, "σ ×", typed("2.5"))
    stored = f"SELECT sigma_factor, choice FROM ties WHERE tie = '{name}'"
    assert select(plan, stored) == [(2.5, None)]
    edited(ties, name, "σ ×", typed("many"))
    assert "'many'; expected a number from 0.01" in dock.panel.message.text()
    assert select(plan, stored) == [(2.5, None)]

    def choose(box):
        QTest.keyClick(box, Qt.Key.Key_Down)
        box.activated.emit(box.currentIndex())

    edited(ties, name, "Choice", choose)
    assert select(plan, stored) == [(2.5, "leave out")]
    assert texts(ties, name)["Choice"] == "leave out"
    dock.panel.undo.click()
    dock.panel.undo.click()
    assert select(plan, stored) == [(None, None)]


def test_a_room_is_renamed_at_every_plot_scale(opened, plan):
    load_plan(plan)
    dock = opened()
    dock.panel.tabs.setCurrentIndex(2)
    ((room, before),) = select(plan, "SELECT room, name FROM rooms WHERE plot_scale = 50 LIMIT 1")
    edited(dock.panel.rooms, room, "Name", typed("Archive; 'old'"))
    names = f"SELECT DISTINCT name, count(*) FROM rooms WHERE room = '{room}' GROUP BY name"
    assert select(plan, names) == [("Archive; 'old'", 2)]
    dock.panel.undo.click()
    assert select(plan, names) == [(before, 2)]


def test_an_undone_name_is_what_it_was_at_each_plot_scale(opened, plan):
    (layer, *others) = load_plan(plan)["rooms"]
    feature = next(layer.getFeatures())
    place = layer.fields().lookupField("name")
    assert layer.dataProvider().changeAttributeValues({feature.id(): {place: "By hand"}})
    room = feature["room"]
    names = f"SELECT plot_scale, name FROM rooms WHERE room = '{room}' ORDER BY plot_scale"
    before = select(plan, names)
    assert len({name for _, name in before}) == len(before) == 1 + len(others)
    dock = opened()
    dock.panel.tabs.setCurrentIndex(2)
    edited(dock.panel.rooms, room, "Name", typed("Archive"))
    assert {name for _, name in select(plan, names)} == {"Archive"}
    dock.panel.undo.click()
    assert select(plan, names) == before


def test_a_layer_that_is_edited_takes_a_choice_into_its_session(opened, plan):
    layers = load_plan(plan)
    dock = opened()
    (layer, _) = layers["stations"]
    layer.startEditing()
    dock.choose(_stations(), ["S08"], "choice", "hold")
    assert select(plan, "SELECT choice FROM stations WHERE station = 'S08'") == [(None,)]
    assert texts(dock.panel.stations, "S08")["Choice"] == "hold"
    dock.readjust()
    assert "edits that are not saved" in dock.panel.message.text()
    layer.rollBack()
    wait_for(lambda: texts(dock.panel.stations, "S08")["Choice"] == "as found")


def _stations():
    from roomtie.processing.layers import schema

    return schema.STATIONS


def test_a_change_in_the_host_s_own_table_is_seen(opened, plan):
    (layer, _) = load_plan(plan)["stations"]
    dock = opened()
    (number,) = (f.id() for f in layer.getFeatures("station = 'S02'"))
    layer.startEditing()
    place = layer.fields().lookupField("choice")
    layer.changeAttributeValue(number, place, "hold")
    wait_for(lambda: texts(dock.panel.stations, "S02")["Choice"] == "hold")
    layer.commitChanges()


def test_a_plan_of_an_earlier_release_gets_the_fields_for_choices(opened, plan):
    change(plan, "ALTER TABLE ties DROP COLUMN choice", "ALTER TABLE ties DROP COLUMN sigma_factor")
    layers = load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S16")
    dock.panel.tabs.setCurrentIndex(1)
    spin(0.05)
    tie = dock.panel.ties.rows.key_at(0)
    pick(dock.panel.ties, tie)
    dock.panel.tie_choices[1].click()
    assert dock.panel.message.text() == ""
    assert select(plan, f"SELECT choice FROM ties WHERE tie = '{tie}'") == [("leave out",)]
    assert all(layer.fields().lookupField("choice") >= 0 for layer in layers["ties"])


def test_a_layer_that_takes_no_change_is_told_and_nothing_is_written(opened, plan, monkeypatch):
    load_plan(plan)
    dock = opened()
    first = dock.plan.of(_stations())[0]
    monkeypatch.setattr(type(first.dataProvider()), "changeAttributeValues", lambda *_: False)
    dock.choose(_stations(), ["S08"], "choice", "hold")
    assert "the change could not be written" in dock.panel.message.text()
    assert not dock.panel.undo.isEnabled()
    assert select(plan, "SELECT count(*) FROM stations WHERE choice IS NOT NULL") == [(0,)]


def test_an_undo_that_cannot_be_written_is_told(opened, plan, monkeypatch):
    load_plan(plan)
    dock = opened()
    dock.choose(_stations(), ["S08"], "choice", "hold")
    first = dock.plan.of(_stations())[0]
    monkeypatch.setattr(type(first.dataProvider()), "changeAttributeValues", lambda *_: False)
    dock.panel.undo.click()
    assert "the change could not be written" in dock.panel.message.text()
    assert select(plan, "SELECT station FROM stations WHERE choice = 'hold'") == [("S08",)]


def test_results_of_single_steps_are_reviewed_and_readjusted_in_the_dialog(opened, plan):
    request = QgsFeatureRequest()
    for name in ("stations", "readings", "ties"):
        stored = QgsVectorLayer(f"{plan}|layername={name}", name, "ogr")
        layer = stored.materialize(request)
        layer.setName(name)
        QgsProject.instance().addMapLayer(layer)
    dock = opened()
    assert dock.plan.path is None
    assert len(dock.plan.layers) == 3
    pick(dock.panel.stations, "S08")
    dock.panel.station_choices[2].click()
    (layer,) = dock.plan.of(_stations())
    assert [f["station"] for f in layer.getFeatures("choice = 'leave out'")] == ["S08"]
    dock.panel.readjust.click()
    ((name, parameters),) = dock.asked
    assert name == "adjuststations"
    assert set(parameters) == {"STATIONS", "READINGS", "EARLIER_TIES"}


def test_layers_may_go_and_come_while_they_are_reviewed(opened, plan):
    load_plan(plan)
    dock = opened()
    pick(dock.panel.stations, "S08")
    QgsProject.instance().clear()
    wait_for(lambda: dock.plan is None and dock.panel.stations.rows.rowCount() == 0)
    wait_for(lambda: "no plan" in dock.panel.message.text())
    assert not dock.panel.readjust.isEnabled()
    load_plan(plan, levels=(1,))
    wait_for(lambda: dock.panel.stations.rows.rowCount() == 5)


def test_the_table_is_filtered_and_sorted_by_value(opened, plan):
    load_plan(plan)
    dock = opened()
    table = dock.panel.stations
    QTest.keyClicks(dock.panel.filter, "s1")
    assert table.sorted.rowCount() == 9
    dock.panel.filter.clear()
    place = [column.title for column in table.rows.columns].index("σ x mm")
    table.sortByColumn(place, Qt.SortOrder.DescendingOrder)
    first = table.rows.key_at(table.sorted.mapToSource(table.sorted.index(0, 0)).row())
    assert first == select(plan, "SELECT station FROM stations ORDER BY sigma_x_mm DESC")[0][0]


def test_nothing_is_left_when_the_dock_goes(opened, plan):
    from roomtie.plugin.background import running

    (layer, _) = load_plan(plan)["stations"]
    listeners = layer.receivers(layer.selectionChanged)
    for _ in range(3):
        dock = opened()
        pick(dock.panel.stations, "S08")
        dock.close_for_good()
        spin()
        assert sip.isdeleted(dock)
        assert running() == 0
        assert layer.receivers(layer.selectionChanged) == listeners


def test_a_task_that_was_cancelled_in_the_host_is_let_go_of(opened, plan, monkeypatch):
    """The host deletes its half of a task when that ends, whoever ended it."""
    from roomtie.plugin import background, review_rows

    def slow(readings, ties, progress):
        while True:
            progress.at(0.0)

    load_plan(plan)
    dock = opened()
    monkeypatch.setattr(review_rows, "station_facts", slow)
    dock.rows.reload()
    (task,) = [one for one in background._running if "residuals" in one.description()]
    task.cancel()
    wait_for(lambda: sip.isdeleted(task))
    dock.rows.show_plan(None)
    assert not dock.panel.stations.rows.rows


def test_a_plan_is_called_as_its_group_is_wherever_that_stands(window, plan):
    from roomtie.plugin.review_plans import plans_in
    from roomtie.processing.algorithms.loading import RUN

    load_plan(plan)
    project = QgsProject.instance()
    root = project.layerTreeRoot()
    assert [one.title for one in plans_in(project)] == ["house"]
    town = root.addGroup("Old town")
    group = town.addGroup("Number 7")
    for node in root.findLayers():
        group.addChildNode(node.clone())
        root.removeChildNode(node)
    assert [one.title for one in plans_in(project)] == ["Old town"]
    group.setCustomProperty(RUN, "run 1")
    assert [one.title for one in plans_in(project)] == ["Number 7"]
