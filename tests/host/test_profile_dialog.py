# SPDX-License-Identifier: GPL-2.0-or-later
"""The window in which a text file is described, driven as a person does."""

import json
import sys
from pathlib import Path

import pytest
from qgis.core import QgsProcessingContext, QgsSettings
from qgis.PyQt import sip
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import QApplication, QComboBox, QLineEdit, QWidget

sys.path.append(str(Path(__file__).resolve().parents[1] / "captures"))
from profiles import described, kept, ring_text

# A tab between values, no names, the angle in the third column, radians, feet, -1 for no return.
BARE = "\n".join(
    f"S{1 + i // 60}\t{40 + i % 9}\t{(i % 60) * 0.1047:.4f}\t"
    + ("-1" if i % 60 == 7 else f"{8.2 + i % 5:.3f}")
    for i in range(120)
)


@pytest.fixture
def store(qgis_app):
    from roomtie.processing.algorithms.profile_store import KEY, ProfileStore

    QgsSettings().remove(KEY)
    yield ProfileStore()
    QgsSettings().remove(KEY)


@pytest.fixture
def window(store):
    from roomtie.plugin.profile_dialog import ProfileDialog

    window = ProfileDialog()
    window.show()
    yield window
    window.close()
    window.deleteLater()
    QApplication.processEvents()


@pytest.fixture
def hall(tmp_path):
    path = tmp_path / "hall.txt"
    path.write_bytes(ring_text())
    return path


def opened(window, path):
    window.file.setFilePath(str(path))
    QApplication.processEvents()


def pick(combo: QComboBox, value):
    """Choose with the keyboard alone: to the top, then down to the entry."""
    combo.setFocus()
    QTest.keyClick(combo, Qt.Key.Key_Home)
    for _ in range(combo.findData(value)):
        QTest.keyClick(combo, Qt.Key.Key_Down)
    assert combo.currentData() == value


def typed(edit: QLineEdit, text):
    edit.setFocus()
    edit.selectAll()
    QTest.keyClick(edit, Qt.Key.Key_Delete)
    QTest.keyClicks(edit, text)


def test_an_empty_window_keeps_nothing(window):
    assert not window.keep_button.isEnabled()
    assert not window.import_button.isEnabled()
    assert window.fault.text() == ""
    assert not window.keep()


def test_a_guess_fills_in_all_but_the_rotation(window, hall):
    opened(window, hall)
    assert window.table.columns() == ["", "angle", "distance", "intensity"]
    values = window.form.values()
    assert (values["separator"], values["decimal_comma"]) == ("semicolon", True)
    assert (values["skip_lines"], values["has_names"]) == (1, True)
    assert (values["angle_unit"], values["distance_unit"]) == ("gon", "mm")
    assert values["rotation"] == ""
    assert "way the angles run" in window.fault.text()
    assert not window.keep_button.isEnabled()
    assert window.ring.drawn == 200
    assert window.name.text() == "hall"


def test_described_by_hand_kept_and_read_by_its_name(window, store, run, tmp_path):
    path = tmp_path / "day one.txt"
    path.write_text(BARE)
    opened(window, path)
    for column, meaning in enumerate(("station", "intensity", "angle", "distance")):
        pick(window.table.choices()[column], meaning)
    pick(window.form.angle_unit, "rad")
    pick(window.form.distance_unit, "ft")
    pick(window.form.rotation, "counterclockwise")
    typed(window.form.no_return, "-1; 9999")
    typed(window.name, "Hobby head, 2 m")
    QTest.qWait(300)  # the picture follows the typing
    assert window.fault.text() == ""
    assert "2 stations, 120 readings, 2 without a return" in window.summary.text()
    assert "counterclockwise" in window.summary.text()
    assert window.ring.drawn == 59
    assert not window.ring.clockwise
    window.station.setCurrentText("S2")
    assert window.ring.drawn == 59
    names = []
    window.kept.connect(names.append)
    QTest.mouseClick(window.keep_button, Qt.MouseButton.LeftButton)
    assert names == ["Hobby head, 2 m"]
    assert [window.list.names.item(i).text() for i in range(window.list.names.count())] == names
    profile = store.all()["Hobby head, 2 m"]
    assert profile.columns == ("station", "intensity", "angle", "distance")
    assert profile.no_return == ("-1", "9999")
    assert profile.look.contents == ("text", "integer", "decimal", "decimal")

    for parameters in ({}, {"PROFILE": "Hobby head, 2 m"}):
        result = run(
            "importcaptures", INPUT=str(path), STATIONS=None, READINGS="memory:", **parameters
        )
        readings = list(result["READINGS"].getFeatures())
        assert [f["station"] for f in readings] == ["S1"] * 60 + ["S2"] * 60
        assert readings[1]["angle_deg"] == pytest.approx(-5.99887, abs=1e-4)
        assert readings[1]["slope_distance_m"] == pytest.approx(9.2 * 0.3048)
        assert readings[7]["flag"] == "no return"


def test_a_kept_profile_is_offered_for_the_next_file_that_looks_the_same(window, store, hall):
    store.keep(kept(ring_text(count=360, half=(3000.0, 2000.0)), name="head"))
    opened(window, hall)
    assert "looks like those of the profile head" in window.about.text()
    assert window.name.text() == "head"
    assert window.list.current == "head"
    assert window.form.values()["rotation"] == "counterclockwise"
    assert window.keep_button.isEnabled()
    assert window.profile() == described(name="head")


def test_a_column_too_many_or_too_few_is_told(window, hall):
    opened(window, hall)
    window.form.rotation.setCurrentIndex(1)
    window.table.choose(3, "distance")
    window.refresh()
    assert window.fault.text() == "Two columns hold the distance; expected one."
    window.table.choose(3, "")
    window.refresh()
    assert window.fault.text() == ""
    window.table.choose(2, "")
    window.refresh()
    assert window.fault.text() == "No column holds the distance; expected one."
    assert window.ring.drawn == 0
    assert not window.keep_button.isEnabled()


def test_the_picture_shows_which_way_the_angles_run(window, hall):
    opened(window, hall)
    for rotation in ("clockwise", "counterclockwise"):
        pick(window.form.rotation, rotation)
        window.refresh()
        assert window.ring.clockwise == (rotation == "clockwise")
        assert rotation in window.ring.accessibleDescription().split()
    image = window.ring.grab().toImage()
    colours = {image.pixel(x, y) for x in range(image.width()) for y in range(image.height())}
    assert len(colours) > 3


def test_units_that_cannot_be_are_said(window, hall):
    opened(window, hall)
    pick(window.form.distance_unit, "m")
    pick(window.form.rotation, "clockwise")
    window.refresh()
    assert "farther than the walls of any room" in window.fault.text()
    assert window.keep_button.isEnabled()  # the person decides


def test_the_first_bad_line_is_named_and_the_rest_counted(window, hall):
    hall.write_bytes(ring_text().replace(b"2,000;", b"east;", 1).replace(b";151", b";x151"))
    opened(window, hall)
    window.refresh()
    assert "hall.txt, line 4: angle is 'east'" in window.fault.text()
    assert "more like this" in window.fault.text()


def test_another_separator_splits_anew(window, hall):
    opened(window, hall)
    pick(window.form.separator, "tab")
    window.refresh()
    assert len(window.table.columns()) == 1
    assert window.fault.text()
    pick(window.form.separator, "semicolon")
    window.refresh()
    assert len(window.table.columns()) == 4


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "the file is binary"),
        (b"Dear reader,\nnothing here.", "No table of numbers"),
        (
            b"# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n1,2\n",
            "says itself what it holds",
        ),
    ],
)
def test_files_that_need_or_take_no_profile_are_told(window, tmp_path, content, said):
    path = tmp_path / "f.txt"
    path.write_bytes(content)
    opened(window, path)
    assert said in window.about.text()
    opened(window, tmp_path / "gone.txt")
    assert "gone.txt" in window.about.text()


def test_a_profile_that_is_there_is_replaced_only_when_agreed(window, store, hall, monkeypatch):
    store.keep(described(name="hall", distance_unit="cm"))
    opened(window, hall)
    pick(window.form.rotation, "counterclockwise")
    window.refresh()
    monkeypatch.setattr(window, "_may_replace", lambda name: False)
    assert not window.keep()
    assert store.all()["hall"].distance_unit == "cm"
    monkeypatch.setattr(window, "_may_replace", lambda name: True)
    assert window.keep()
    assert store.all()["hall"].distance_unit == "mm"
    assert window.keep()  # its own one without a question


def test_a_second_profile_for_the_same_files_is_told(window, store, hall):
    store.keep(kept(ring_text(), name="other"))
    opened(window, hall)
    typed(window.name, "mine")
    pick(window.form.rotation, "clockwise")
    assert window.keep()
    assert "other fits this file too" in window.about.text()


def test_profiles_are_renamed_handed_on_deleted_and_brought_in(window, store, tmp_path):
    store.keep(kept(ring_text(), name="head"))
    window.list.refresh("head")
    window.list.chosen.emit("head")
    assert window.name.text() == "head"
    assert window.keep_button.isEnabled()
    window.list.rename("head", "better")
    assert (store.names(), window.name.text()) == (["better"], "better")
    window.list.rename("better", "a/b")
    assert "without slashes" in window.about.text()
    file = tmp_path / "handed on.json"
    window.list.hand_on("better", file)
    assert json.loads(file.read_text("utf-8"))["name"] == "better"
    profile = store.all()["better"]
    window.list.delete("better")
    assert store.names() == []
    window.list.bring_in(file)
    assert store.all() == {"better": profile}
    window.list.bring_in(file)
    assert store.names() == ["better"]
    file.write_text(file.read_text("utf-8").replace("counterclockwise", "clockwise"), "utf-8")
    window.list.bring_in(file)
    assert store.names() == ["better", "better (2)"]
    file.write_text("{}")
    window.list.bring_in(file)
    assert "but no profile" in window.about.text()
    window.list.hand_on("better", tmp_path / "handed on.json" / "in a file.json")
    assert "could not be written" in window.about.text()


def test_keep_and_import_asks_for_the_import(window, hall):
    opened(window, hall)
    pick(window.form.rotation, "counterclockwise")
    window.refresh()
    asked = []
    window.import_asked.connect(lambda path, name: asked.append((path, name)))
    QTest.mouseClick(window.import_button, Qt.MouseButton.LeftButton)
    assert asked == [(str(hall), "hall")]
    assert not window.isVisible()


def test_the_tab_key_goes_through_all_from_the_file_to_the_buttons(window, hall):
    opened(window, hall)
    pick(window.form.rotation, "clockwise")
    window.refresh()
    window.activateWindow()
    order = [window.file.lineEdit(), *window.table.choices(), window.form.separator]
    order += [window.form.rotation, window.form.distance_unit, window.form.no_return]
    order += [window.name, window.list.names, window.keep_button]
    here: QWidget = window.file.lineEdit()
    passed = []
    for _ in range(80):
        if here.focusPolicy() & Qt.FocusPolicy.TabFocus and here.isVisible() and here.isEnabled():
            passed.append(here)
        here = here.nextInFocusChain()
        if here is window.file.lineEdit():
            break
    places = [passed.index(widget) for widget in order]
    assert places == sorted(places)


def test_help_opens_in_the_window_for_it(window):
    from roomtie.plugin.help_view import HelpLinks
    from roomtie.processing.algorithms.base import HELP_SCHEME

    shown = []
    links = HelpLinks(HELP_SCHEME, shown.append)
    window.buttons.button(window.buttons.StandardButton.Help).click()
    links.release()
    assert shown == ["describe-a-text-file"]


def test_the_import_window_offers_the_kept_profiles(roomtie, store, hall, monkeypatch):
    from processing.gui import ParametersPanel
    from processing.gui.AlgorithmDialog import AlgorithmDialog

    monkeypatch.setattr(ParametersPanel, "iface", None)
    store.keep(described(name="other"))
    dialog = AlgorithmDialog(roomtie.algorithm("importcaptures").create(), False, None)
    dialog.setParameters({"INPUT": str(hall), "PROFILE": "given"})
    wrapper = dialog.mainWidget().wrappers["PROFILE"]
    assert wrapper.parameterValue() == "given"
    assert [wrapper.choice.itemText(i) for i in range(wrapper.choice.count())] == ["", "other"]
    window = wrapper.describe()
    assert window.isVisible() and not window.isModal()  # its help opens beside it
    assert window.file.filePath() == str(hall)
    pick(window.form.rotation, "counterclockwise")
    assert window.keep()
    assert wrapper.parameterValue() == "hall"
    window.close()
    dialog.close()


def test_batch_and_model_windows_take_the_parameter_too(roomtie, store, monkeypatch):
    from processing.gui.wrappers import WidgetWrapperFactory
    from processing.modeler import ModelerParametersDialog
    from qgis.core import QgsProcessingModelAlgorithm
    from qgis.gui import QgsProcessingModelerParameterWidget
    from roomtie.plugin.profile_widget import ProfileWidget

    store.keep(described(name="other"))
    algorithm = roomtie.algorithm("importcaptures").create()
    parameter = algorithm.parameterDefinition("PROFILE")

    class BatchAlgorithmDialog(QWidget):
        """Known to the host by its name."""

    window = BatchAlgorithmDialog()
    batch = WidgetWrapperFactory.create_wrapper(parameter, window)
    assert isinstance(batch, ProfileWidget)
    widget = batch.createWrappedWidget(QgsProcessingContext())
    assert widget.layout().count() == 1  # no button in a table's cell
    batch.setParameterValue("other", QgsProcessingContext())
    assert batch.parameterValue() == "other"
    sip.delete(widget)
    batch.setParameterValue("late", QgsProcessingContext())
    assert batch.parameterValue() == ""

    model = QgsProcessingModelAlgorithm()
    monkeypatch.setattr(ModelerParametersDialog, "iface", None)
    dialog = ModelerParametersDialog.ModelerParametersDialog(algorithm, model)
    wrapper = dialog.widget.widget.wrappers["PROFILE"]
    assert isinstance(wrapper, QgsProcessingModelerParameterWidget)
    dialog.close()
