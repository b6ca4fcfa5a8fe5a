# SPDX-License-Identifier: GPL-2.0-or-later
"""The window in which a person describes an unmarked text file, and keeps the description."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qgis.gui import QgsFileWidget
from qgis.PyQt.QtCore import Qt, QTimer, QUrl, pyqtSignal
from qgis.PyQt.QtGui import QDesktopServices
from qgis.PyQt.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMessageBox,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..processing.algorithms.base import HELP_SCHEME
from ..processing.errors import SurveyError
from .panel_parts import plain, sentence_label, tab_through
from .profile_draft import Draft
from .profile_form import ProfileForm
from .profile_list import ProfileList
from .profile_preview import Preview, first_lines, layout_of, preview
from .profile_table import ProfileTable
from .ring_view import RingView
from .translation import mark, tr

if TYPE_CHECKING:
    from ..processing.captures.profile import Profile

PAGE = f"{HELP_SCHEME}:describe-a-text-file"
TEXT_FILES = mark("Text files (*.txt *.csv *.dat *.asc *.xyz);;All files (*)")
# Typing goes on without a wait for the picture.
_WAIT_MS = 150
_PROVISIONAL = "on view"
_OTHER_BUTTONS = (QDialogButtonBox.StandardButton.Close, QDialogButtonBox.StandardButton.Help)
_FAULT_STYLE = "color: #b3361e; font-weight: bold"


class ProfileDialog(QDialog):
    """Describe a text file: columns, units, rotation, zero, with a picture of what comes out."""

    kept = pyqtSignal(str)
    """A profile of this name was kept."""
    import_asked = pyqtSignal(str, str)
    """The file of this path shall be imported by the profile of this name."""

    def __init__(self, parent: QWidget | None = None, path: str = "") -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Describe a text file"))
        self.setWindowFlag(Qt.WindowType.WindowMaximizeButtonHint)
        self.draft = Draft()
        self._preview: Preview | None = None
        self._make_widgets()
        self._lay_out()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_WAIT_MS)
        self._timer.timeout.connect(self.refresh)
        self.form.changed.connect(self._timer.start)
        self.table.changed.connect(self._timer.start)
        self.name.textChanged.connect(self._timer.start)
        self.station.currentIndexChanged.connect(lambda _: self._draw())
        self.file.fileChanged.connect(self.open_file)
        self.list.chosen.connect(self.load)
        self.list.said.connect(self._say)
        self.refresh()
        if path:
            self.file.setFilePath(path)

    # what the window is made of

    def _make_widgets(self) -> None:
        self.file = QgsFileWidget()
        self.file.setStorageMode(QgsFileWidget.StorageMode.GetFile)
        self.file.setFilter(tr(TEXT_FILES))
        self.file.setDialogTitle(tr("Text file to describe"))
        self.list = ProfileList(self.draft.store)
        self.table = ProfileTable()
        self.form = ProfileForm()
        self.ring = RingView()
        self.station = QComboBox()
        self.station.setAccessibleName(tr("Station in the picture"))
        self.station.setVisible(False)
        self.about = sentence_label()
        self.summary = sentence_label()
        self.fault = sentence_label()
        self.fault.setStyleSheet(_FAULT_STYLE)
        self.name = QLineEdit()
        self.name.setMaxLength(80)
        self.buttons = QDialogButtonBox(_OTHER_BUTTONS[0] | _OTHER_BUTTONS[1])
        self.keep_button = QPushButton(tr("&Keep"))
        self.import_button = QPushButton(tr("Keep and &import…"))
        self.buttons.addButton(self.keep_button, QDialogButtonBox.ButtonRole.ApplyRole)
        self.buttons.addButton(self.import_button, QDialogButtonBox.ButtonRole.ApplyRole)
        for button in self.buttons.buttons():
            if isinstance(button, QPushButton):
                button.setAutoDefault(False)
        self.keep_button.setDefault(True)
        self.keep_button.clicked.connect(lambda _=False: self.keep())
        self.import_button.clicked.connect(lambda _=False: self._keep_and_import())
        self.buttons.rejected.connect(self.reject)
        self.buttons.helpRequested.connect(lambda: QDesktopServices.openUrl(QUrl(PAGE)))

    def _row(self, title: str, widget: QWidget) -> QHBoxLayout:
        label = QLabel(title)
        label.setBuddy(widget)
        row = QHBoxLayout()
        row.addWidget(label)
        row.addWidget(widget, 1)
        return row

    def _lay_out(self) -> None:
        middle = QVBoxLayout()
        middle.addLayout(self._row(tr("Te&xt file"), self.file))
        middle.addWidget(self.about)
        middle.addWidget(self.table, 1)
        middle.addWidget(self.form)
        middle.addLayout(self._row(tr("N&ame of the profile"), self.name))
        right = QVBoxLayout()
        right.addWidget(self.station)
        right.addWidget(self.ring, 2)
        right.addWidget(self.summary)
        right.addWidget(self.fault)
        right.addWidget(self.list, 1)
        columns = QHBoxLayout()
        columns.addLayout(middle, 5)
        columns.addLayout(right, 3)
        whole = QVBoxLayout(self)
        whole.addLayout(columns, 1)
        whole.addWidget(self.buttons)
        in_order = (
            self.table,
            *self.form.in_order(),
            self.name,
            self.station,
            self.list.names,
            *self.list.buttons.values(),
            self.keep_button,
            self.import_button,
            *(self.buttons.button(which) for which in _OTHER_BUTTONS),
        )
        tab_through(in_order)
        self.resize(1140, 700)

    # a file comes in, a kept profile is taken up

    def open_file(self, path: str) -> None:
        """Show a file under the kept profile that fits it, or else under a first guess."""
        opened = self.draft.open(path)
        self._say(opened.sentence)
        self.list.refresh(opened.profile.name if opened.profile and opened.kept else "")
        if opened.profile is None:
            self.refresh()
        else:
            # Which way the angles run is in no file's numbers: a guess does not say it.
            self._show(opened.profile, opened.profile.rotation if opened.kept else "")

    def load(self, name: str) -> None:
        """Take up a kept profile."""
        profile = self.draft.load(name)
        if profile is not None:
            self._show(profile, profile.rotation)
            self._say("")

    def _show(self, profile: Profile, rotation: str) -> None:
        self.name.setText(profile.name)
        self.form.show_values(profile, rotation)
        self.table.show_lines([], profile.columns)
        self.refresh()

    # what comes out

    def profile(self) -> Profile:
        """The profile as it is described now, without its look.

        Raises `SurveyError` for what is missing or contradicts itself.
        """
        from ..processing.captures.profile import Profile

        values = self.form.values()
        if not values["rotation"]:
            raise SurveyError(tr("Say which way the angles run."))
        return Profile(name=self.name.text().strip(), columns=tuple(self.table.columns()), **values)

    def refresh(self) -> None:
        """Show lines, picture and figures as they are described now."""
        self._timer.stop()
        self._preview = None
        faults = []
        try:
            self._show_lines()
            if self.draft.head:
                self._preview = preview(self.draft.head, self._provisional(), self.draft.file)
                faults.append(self._preview.fault)
            self.profile()
        except SurveyError as error:
            faults.append(self._plain(error))
        self._fill_stations()
        self.summary.setText(self._preview.summary if self._preview else "")
        begun = self.draft.head or self.draft.loaded
        self.fault.setText("\n".join(filter(None, faults)) if begun else "")
        good = self._is_complete()
        self.keep_button.setEnabled(good)
        self.import_button.setEnabled(good and bool(self.draft.head))
        self._draw()

    def _plain(self, error: SurveyError) -> str:
        """A sentence about the profile on view, which needs not be named here."""
        for name in (_PROVISIONAL, self.name.text().strip()):
            sentence = str(error)
            if sentence.startswith(f"The profile {name!r}: "):
                sentence = sentence[len(f"The profile {name!r}: ") :]
                return sentence[:1].upper() + sentence[1:]
        return str(error)

    def _provisional(self) -> Profile:
        """The profile for the picture, which needs neither a name nor the rotation."""
        from ..processing.captures.profile import Profile

        values = self.form.values()
        values["rotation"] = values["rotation"] or "clockwise"
        return Profile(name=_PROVISIONAL, columns=tuple(self.table.columns()), **values)

    def _show_lines(self) -> None:
        if not self.draft.head:
            columns = self.draft.loaded.columns if self.draft.loaded else ()
            self.table.show_lines([], self.table.columns() or columns)
            return
        lines, count = first_lines(self.draft.head, layout_of(self.form.values()))
        columns = self.table.columns()[:count]
        self.table.show_lines(lines, [*columns, *[""] * (count - len(columns))])

    def _is_complete(self) -> bool:
        try:
            self.draft.with_look(self.profile())
        except SurveyError:
            return False
        return self._preview is None or bool(self._preview.captures)

    def _fill_stations(self) -> None:
        names = [capture.station for capture in self._preview.captures] if self._preview else []
        if names != [self.station.itemText(i) for i in range(self.station.count())]:
            self.station.blockSignals(True)
            self.station.clear()
            self.station.addItems(names)
            self.station.blockSignals(False)
        self.station.setVisible(len(names) > 1)

    def _draw(self) -> None:
        captures = self._preview.captures if self._preview else ()
        place = max(self.station.currentIndex(), 0)
        self.ring.show_capture(captures[place] if place < len(captures) else None)

    def _say(self, sentence: str) -> None:
        self.about.setText(sentence)

    # keeping

    def keep(self) -> bool:
        """Keep the profile under its name; whether it was kept."""
        self.refresh()
        try:
            profile = self.draft.with_look(self.profile())
            if self.draft.is_taken(profile.name) and not self._may_replace(profile.name):
                return False
            sentence = self.draft.keep(profile)
        except SurveyError as error:
            self.fault.setText(self._plain(error))
            return False
        self.list.refresh(profile.name)
        self._say(sentence)
        self.kept.emit(profile.name)
        return True

    def _may_replace(self, name: str) -> bool:
        answer = QMessageBox.question(
            self,
            tr("Keep a profile"),
            tr("There is a profile {name} already. Replace it?").format(name=plain(name)),
        )
        return answer == QMessageBox.StandardButton.Yes

    def _keep_and_import(self) -> None:
        if self.keep():
            self.import_asked.emit(self.file.filePath(), self.name.text().strip())
            self.accept()


_open: set[ProfileDialog] = set()
"""The host's own windows do not keep the Python part of a window that has them as parents."""


def open_window(parent: QWidget, path: str = "") -> ProfileDialog:
    """A window for a file (empty: to be chosen), shown until it is closed; it leaves the rest free
    to use, its help among it."""
    window = ProfileDialog(parent, path)
    window.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    _open.add(window)
    window.finished.connect(lambda _: _open.discard(window))
    window.destroyed.connect(lambda _: _open.discard(window))
    window.show()
    return window


def close_windows() -> None:
    """Close all that are open."""
    for window in [*_open]:
        window.close()
