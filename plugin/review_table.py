# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows of a plan in a table that sorts, filters and takes a person's choices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from qgis.PyQt.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QSortFilterProxyModel,
    Qt,
    pyqtSignal,
)
from qgis.PyQt.QtWidgets import QAbstractItemView, QComboBox, QStyledItemDelegate, QTableView

from .panel_parts import plain

Row = dict[str, Any]
SORTED_BY = Qt.ItemDataRole.UserRole
_NONE = QModelIndex()
_flag = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
# A number in both Qt 5, where flags are numbers, and Qt 6, where they have one.
_RIGHT = int(getattr(_flag, "value", _flag))
_ROWS_MEASURED = 20
"""Columns are fitted to so many rows: all of a large survey would take the window's time."""


@dataclass(frozen=True)
class TableColumn:
    """A column: its title and tip, a row's text, what it is sorted by, and the field that a person
    may change in it, with the words to choose from (each with its text) where there are such."""

    title: str
    tip: str
    text: Callable[[Row], str]
    sort: Callable[[Row], Any]
    field: str = ""
    choices: tuple[tuple[Any, str], ...] = ()
    right: bool = False


class TableModel(QAbstractTableModel):
    """Rows told apart by one attribute. It writes nothing: a change is asked for by `asked(key,
    field, value)`, and shows when the rows are shown again."""

    asked = pyqtSignal(str, str, object)

    def __init__(self, key: str, columns: Sequence[TableColumn], parent=None) -> None:
        super().__init__(parent)
        self.key = key
        self.columns = tuple(columns)
        self.rows: list[Row] = []
        self._place: dict[str, int] = {}

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show these rows; where they are the same things as before, selection and order stay."""
        keys = [str(row[self.key]) for row in rows]
        if keys == [str(row[self.key]) for row in self.rows]:
            self.rows = list(rows)
            if rows:
                corner = self.index(len(rows) - 1, len(self.columns) - 1)
                self.dataChanged.emit(self.index(0, 0), corner)
            return
        self.beginResetModel()
        self.rows = list(rows)
        self._place = {key: place for place, key in enumerate(keys)}
        self.endResetModel()

    def row_of(self, key: str) -> int:
        """The place of a thing; -1 where it is not there."""
        return self._place.get(key, -1)

    def key_at(self, row: int) -> str:
        return str(self.rows[row][self.key]) if 0 <= row < len(self.rows) else ""

    def rowCount(self, parent: QModelIndex = _NONE) -> int:
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: QModelIndex = _NONE) -> int:
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if orientation == Qt.Orientation.Horizontal and section < len(self.columns):
            if role == Qt.ItemDataRole.DisplayRole:
                return self.columns[section].title
            if role == Qt.ItemDataRole.ToolTipRole:
                return self.columns[section].tip
        return None

    def data(self, index: QModelIndex, role=Qt.ItemDataRole.DisplayRole):
        if not index.isValid():
            return None
        column, row = self.columns[index.column()], self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(row)
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain(column.text(row)) or column.tip
        if role == Qt.ItemDataRole.EditRole:
            return _to_edit(row.get(column.field), bool(column.choices))
        if role == SORTED_BY:
            return column.sort(row)
        if role == Qt.ItemDataRole.TextAlignmentRole and column.right:
            return _RIGHT
        return None

    def setData(self, index: QModelIndex, value, role=Qt.ItemDataRole.EditRole) -> bool:
        column = self.columns[index.column()]
        if role != Qt.ItemDataRole.EditRole or not column.field:
            return False
        before = self.rows[index.row()].get(column.field)
        if value != _to_edit(before, bool(column.choices)):
            self.asked.emit(self.key_at(index.row()), column.field, value)
        return True

    def flags(self, index: QModelIndex):
        flags = super().flags(index)
        if index.isValid() and self.columns[index.column()].field:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags


def _to_edit(value: Any, has_choices: bool) -> Any:
    """A value as its editor takes it: a choice as it is, anything else as text, which may be empty
    where a number box could not."""
    if has_choices:
        return value
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


class SortedRows(QSortFilterProxyModel):
    """Sorted by value, missing ones last; filtered by a text in any column."""

    def __init__(self, model: TableModel, parent=None) -> None:
        super().__init__(parent)
        self.setSourceModel(model)
        self.setSortRole(SORTED_BY)
        self.setFilterKeyColumn(-1)
        self.setFilterCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)

    def lessThan(self, left: QModelIndex, right: QModelIndex) -> bool:
        a, b = left.data(SORTED_BY), right.data(SORTED_BY)
        if a is None or b is None:
            last = self.sortOrder() == Qt.SortOrder.AscendingOrder
            return (a is not None) if last else (a is None and b is not None)
        return a < b


class _Editors(QStyledItemDelegate):
    """A list of words for columns that have one; else the host's own editor."""

    def createEditor(self, parent, option, index):
        column = _column_of(index)
        if not column.choices:
            return super().createEditor(parent, option, index)
        box = QComboBox(parent)
        for value, text in column.choices:
            box.addItem(text, value)
        box.activated.connect(lambda _: (self.commitData.emit(box), self.closeEditor.emit(box)))
        return box

    def setEditorData(self, editor, index) -> None:
        if isinstance(editor, QComboBox) and _column_of(index).choices:
            values = [value for value, _ in _column_of(index).choices]
            current = index.data(Qt.ItemDataRole.EditRole)
            editor.setCurrentIndex(values.index(current) if current in values else 0)
        else:
            super().setEditorData(editor, index)

    def setModelData(self, editor, model, index) -> None:
        if isinstance(editor, QComboBox) and _column_of(index).choices:
            model.setData(index, editor.currentData())
        else:
            super().setModelData(editor, model, index)


def _column_of(index: QModelIndex) -> TableColumn:
    model: Any = index.model()
    while isinstance(model, QSortFilterProxyModel):
        model = model.sourceModel()
    return model.columns[index.column()]


class ReviewTable(QTableView):
    """A view of such rows: whole rows are selected, F2 or a double click changes a choice."""

    def __init__(self, model: TableModel, name: str, parent=None) -> None:
        super().__init__(parent)
        self.rows = model
        self.sorted = SortedRows(model, self)
        self.setModel(self.sorted)
        self.setItemDelegate(_Editors(self))
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
        )
        self.setSortingEnabled(True)
        self.sortByColumn(0, Qt.SortOrder.AscendingOrder)
        self.setTabKeyNavigation(False)  # Tab leaves the table; the arrows move in it
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 8)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setResizeContentsPrecision(_ROWS_MEASURED)

    def current_key(self) -> str:
        """The thing that the keyboard is on."""
        return self.rows.key_at(self.sorted.mapToSource(self.currentIndex()).row())

    def current_row(self) -> Row:
        """Its row; empty where it is on none."""
        place = self.rows.row_of(self.current_key())
        return self.rows.rows[place] if place >= 0 else {}

    def selected_keys(self) -> set[str]:
        return {
            self.rows.key_at(self.sorted.mapToSource(index).row())
            for index in self.selectionModel().selectedRows()
        }
