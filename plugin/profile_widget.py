# SPDX-License-Identifier: GPL-2.0-or-later
"""The PROFILE parameter in the host's windows: the kept profiles to choose from, and a button to
the window that describes a file."""

from __future__ import annotations

from pathlib import Path

from qgis.gui import QgsAbstractProcessingParameterWidgetWrapper, QgsGui, QgsProcessingGui
from qgis.PyQt import sip
from qgis.PyQt.QtWidgets import QComboBox, QDialog, QHBoxLayout, QPushButton, QWidget

from ..processing.algorithms.profile_store import ProfileStore
from .translation import tr

_BATCH = "BatchAlgorithmDialog"
_MODEL = "ModelerParametersDialog"


class ProfileWidget(QgsAbstractProcessingParameterWidgetWrapper):
    """Made by the host as ``ProfileWidget(parameter, dialog, row, column)``. In the model designer
    the parameter keeps the host's own widget, which can take values from other steps."""

    def __new__(cls, parameter, dialog, row: int = 0, column: int = 0):
        if type(dialog).__name__ != _MODEL:
            return super().__new__(cls)
        registry = QgsGui.processingGuiRegistry()
        return registry.createModelerParameterWidget(
            dialog.model, dialog.childId, parameter, dialog.context
        )

    def __init__(self, parameter, dialog, row: int = 0, column: int = 0) -> None:
        batch = type(dialog).__name__ == _BATCH
        super().__init__(
            parameter,
            QgsProcessingGui.WidgetType.Batch if batch else QgsProcessingGui.WidgetType.Standard,
        )
        self._others: list[QgsAbstractProcessingParameterWidgetWrapper] = []
        self.choice: QComboBox | None = None

    def createWidget(self) -> QWidget:
        widget = QWidget()
        self.choice = QComboBox()
        self.choice.setEditable(True)
        self.choice.lineEdit().setPlaceholderText(tr("the kept one that fits the file"))
        self.choice.setToolTip(tr("A kept profile, a profile's .json file, or empty."))
        self._fill("")
        self.choice.editTextChanged.connect(lambda _: self.widgetValueHasChanged.emit(self))
        layout = QHBoxLayout(widget)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.choice, 1)
        if self.type() == QgsProcessingGui.WidgetType.Standard:
            describe = QPushButton(tr("Describe…"))
            describe.setAutoDefault(False)
            describe.clicked.connect(lambda _=False: self.describe())
            layout.addWidget(describe)
        widget.setFocusProxy(self.choice)
        return widget

    def postInitialize(self, wrappers) -> None:
        self._others = list(wrappers)

    def setWidgetValue(self, value, context) -> None:
        if self._is_there():
            self.choice.setEditText("" if value is None else str(value))

    def widgetValue(self):
        return self.choice.currentText().strip() if self._is_there() else ""

    def _is_there(self) -> bool:
        # The host deletes the widget, and the wrapper may be asked after that.
        return self.choice is not None and not sip.isdeleted(self.choice)

    def _fill(self, text: str) -> None:
        if not self._is_there():
            return
        self.choice.blockSignals(True)
        self.choice.clear()
        self.choice.addItems(["", *ProfileStore().names()])
        self.choice.blockSignals(False)
        self.choice.setEditText(text)

    def describe(self) -> QDialog:
        """Open the window, with the file that is to be read if it is one."""
        from .profile_dialog import open_window

        path = next(
            (
                str(other.parameterValue())
                for other in self._others
                if other.parameterDefinition().name() == "INPUT"
            ),
            "",
        )
        window = open_window(self.wrappedWidget(), path if Path(path).is_file() else "")
        window.kept.connect(self._fill)
        window.import_button.setVisible(False)
        return window
