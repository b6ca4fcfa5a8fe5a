# SPDX-License-Identifier: GPL-2.0-or-later
"""The kept profiles: a list to choose from, rename, delete, bring in and hand on."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from qgis.PyQt.QtCore import pyqtSignal
from qgis.PyQt.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QGroupBox,
    QInputDialog,
    QListWidget,
    QMessageBox,
    QPushButton,
    QWidget,
)

from ..processing.algorithms.profile_store import ProfileStore, profile_file
from ..processing.errors import SurveyError
from ..processing.files import all_or_nothing
from .panel_parts import plain
from .translation import mark, tr

JSON_FILES = mark("Profiles (*.json)")


class ProfileList(QGroupBox):
    """The list and its buttons."""

    chosen = pyqtSignal(str)
    said = pyqtSignal(str)

    def __init__(self, store: ProfileStore, parent: QWidget | None = None) -> None:
        super().__init__(tr("Kept profiles"), parent)
        self.store = store
        self.names = QListWidget()
        self.names.setAccessibleName(tr("Kept profiles"))
        self.names.itemActivated.connect(lambda item: self.chosen.emit(item.text()))
        self.names.itemClicked.connect(lambda item: self.chosen.emit(item.text()))
        self.names.currentItemChanged.connect(lambda *_: self._allow())
        self.buttons = {
            "rename": QPushButton(tr("Rena&me…")),
            "delete": QPushButton(tr("De&lete…")),
            "import": QPushButton(tr("From f&ile…")),
            "export": QPushButton(tr("To fil&e…")),
        }
        self.buttons["rename"].clicked.connect(lambda _=False: self._ask_rename())
        self.buttons["delete"].clicked.connect(lambda _=False: self._ask_delete())
        self.buttons["import"].clicked.connect(lambda _=False: self._ask_import())
        self.buttons["export"].clicked.connect(lambda _=False: self._ask_export())
        self.names.setMinimumHeight(60)
        layout = QGridLayout(self)
        layout.addWidget(self.names, 0, 0, 1, 2)
        for place, button in enumerate(self.buttons.values()):
            button.setAutoDefault(False)
            layout.addWidget(button, 1 + place // 2, place % 2)
        self.refresh()

    @property
    def current(self) -> str:
        """The name that is marked in the list; empty without one."""
        item = self.names.currentItem()
        return item.text() if item is not None else ""

    def refresh(self, current: str = "") -> None:
        """Show what is kept now, this name marked."""
        self.names.blockSignals(True)
        self.names.clear()
        kept = self.store.names()
        self.names.addItems(kept)
        if current in kept:
            self.names.setCurrentRow(kept.index(current))
        self.names.blockSignals(False)
        self._allow()

    def _allow(self) -> None:
        for name in ("rename", "delete", "export"):
            self.buttons[name].setEnabled(bool(self.current))

    def rename(self, name: str, new: str) -> None:
        """Rename a kept profile; what is wrong with the new name is said."""
        try:
            self.store.rename(name, new.strip())
        except SurveyError as error:
            self.said.emit(str(error))
            return
        self.refresh(new.strip())
        self.chosen.emit(new.strip())

    def delete(self, name: str) -> None:
        self.store.delete(name)
        self.refresh()

    def bring_in(self, path: Path) -> None:
        """Keep the profile of a file; a name that is taken gets a number."""
        try:
            profile = profile_file(path)
            name, number = profile.name, 1
            kept = self.store.all()
            while name in kept and kept[name] != replace(profile, name=name):
                number += 1
                name = f"{profile.name} ({number})"
            self.store.keep(replace(profile, name=name))
        except SurveyError as error:
            self.said.emit(str(error))
            return
        self.refresh(name)
        self.chosen.emit(name)

    def hand_on(self, name: str, path: Path) -> None:
        """Write a kept profile into a file."""
        from ..processing.captures.profile_json import profile_to_json

        try:
            with all_or_nothing() as draft:
                text = profile_to_json(self.store.all()[name])
                draft(path).write_text(text, encoding="utf-8")
        except SurveyError as error:
            self.said.emit(str(error))
            return
        self.said.emit(tr("{name} was written to {path}.").format(name=name, path=path))

    def _ask_rename(self) -> None:
        name = self.current
        new, agreed = QInputDialog.getText(self, tr("Rename a profile"), tr("New name"), text=name)
        if agreed:
            self.rename(name, new)

    def _ask_delete(self) -> None:
        answer = QMessageBox.question(
            self,
            tr("Delete a profile"),
            tr("Delete the profile {name}? Its files will be unmarked again.").format(
                name=plain(self.current)
            ),
        )
        if answer == QMessageBox.StandardButton.Yes:
            self.delete(self.current)

    def _ask_import(self) -> None:
        path, _ = QFileDialog.getOpenFileName(self, tr("Profile from a file"), "", tr(JSON_FILES))
        if path:
            self.bring_in(Path(path))

    def _ask_export(self) -> None:
        name = self.current
        proposal = re.sub(r'[<>:"|?*]', "_", name) + ".json"
        path, _ = QFileDialog.getSaveFileName(
            self, tr("Profile to a file"), proposal, tr(JSON_FILES)
        )
        if path:
            self.hand_on(name, Path(path if path.lower().endswith(".json") else f"{path}.json"))
