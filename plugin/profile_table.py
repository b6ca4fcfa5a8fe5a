# SPDX-License-Identifier: GPL-2.0-or-later
"""The first lines of a text file, split as a profile says, with a choice above each column."""

from __future__ import annotations

from collections.abc import Sequence

from qgis.PyQt.QtCore import Qt, pyqtSignal
from qgis.PyQt.QtGui import QPalette
from qgis.PyQt.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from .translation import mark, tr

MOST_LINES = 40
"""So many lines are shown."""

MEANINGS = (
    ("", mark("not used")),
    ("angle", mark("angle")),
    ("distance", mark("distance")),
    ("zenith", mark("zenith angle")),
    ("elevation", mark("elevation angle")),
    ("intensity", mark("intensity")),
    ("station", mark("station")),
    ("kind", mark("kind")),
    ("target", mark("target")),
)

SKIPPED, NAMES, ROW = "skipped", "names", "row"


class ProfileTable(QTableWidget):
    """The table: in its first row a choice for each column, then lines of the file."""

    changed = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        # The tab key goes from choice to choice and on to the next part of the window.
        self.setTabKeyNavigation(False)
        self.horizontalHeader().setVisible(False)
        self.setAccessibleName(tr("First lines of the file"))

    def show_lines(
        self, lines: Sequence[tuple[int, str, Sequence[str]]], columns: Sequence[str]
    ) -> None:
        """Show lines (number, what they are, cells) under choices for these columns."""
        if list(columns) != self.columns():
            self._make_choices(columns)
        self.setRowCount(1 + len(lines))
        labels = [tr("holds")]
        for row, (number, what, cells) in enumerate(lines, start=1):
            labels.append(str(number))
            self._show_line(row, what, cells)
        self.setVerticalHeaderLabels(labels)
        self.resizeColumnsToContents()

    def columns(self) -> list[str]:
        """What each column is chosen to hold."""
        return [choice.currentData() for choice in self.choices()]

    def choices(self) -> list[QComboBox]:
        cells = (self.cellWidget(0, column) for column in range(self.columnCount()))
        return [cell for cell in cells if isinstance(cell, QComboBox)]

    def choose(self, column: int, meaning: str) -> None:
        """Let a column hold this."""
        choice = self.choices()[column]
        choice.setCurrentIndex(choice.findData(meaning))

    def _make_choices(self, columns: Sequence[str]) -> None:
        self.clear()
        self.clearSpans()
        self.setColumnCount(len(columns))
        self.setRowCount(1)
        before: QWidget = self
        for column, meaning in enumerate(columns):
            choice = QComboBox()
            choice.setAccessibleName(tr("Column {number} holds").format(number=column + 1))
            for value, title in MEANINGS:
                choice.addItem(tr(title), value)
            choice.setCurrentIndex(max(choice.findData(meaning), 0))
            choice.currentIndexChanged.connect(lambda _: self.changed.emit())
            self.setCellWidget(0, column, choice)
            QWidget.setTabOrder(before, choice)
            before = choice

    def _show_line(self, row: int, what: str, cells: Sequence[str]) -> None:
        palette = self.palette()
        count = self.columnCount()
        whole_line = what == SKIPPED and count > 1
        if self.columnSpan(row, 0) != (count if whole_line else 1):
            self.setSpan(row, 0, 1, count if whole_line else 1)
        for column in range(count):
            item = QTableWidgetItem(cells[column] if column < len(cells) else "")
            if what == SKIPPED:
                item.setForeground(
                    palette.color(QPalette.ColorGroup.Disabled, QPalette.ColorRole.Text)
                )
            elif what == NAMES:
                font = item.font()
                font.setBold(True)
                item.setFont(font)
            else:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            self.setItem(row, column, item)
