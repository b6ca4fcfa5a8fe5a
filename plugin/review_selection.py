# SPDX-License-Identifier: GPL-2.0-or-later
"""One selection in a table and in the map."""

from __future__ import annotations

from collections.abc import Sequence

from qgis.core import QgsVectorLayer
from qgis.PyQt.QtCore import QItemSelection, QItemSelectionModel, QObject

from .connections import Connections
from .review_table import ReviewTable, Row

Found = tuple[QgsVectorLayer, int, Row]
"""A thing's layer, its number in it, and its row."""


class LinkedTable(QObject):
    """Selects in the layers what is selected in the table, and the other way round; while it is
    paused the table keeps its selection, whatever becomes of the layers'."""

    def __init__(self, table: ReviewTable) -> None:
        super().__init__(table)
        self.table = table
        self._places: dict[str, list[tuple[str, int]]] = {}
        self._layers: dict[str, QgsVectorLayer] = {}
        self._busy = False
        self.paused = False
        self._connections = Connections()
        table.selectionModel().selectionChanged.connect(self._to_layers)

    def follow(self, layers: Sequence[QgsVectorLayer]) -> None:
        """Listen to these layers, and to no other any more."""
        self._connections.clear()
        self._layers = {layer.id(): layer for layer in layers}
        for layer in layers:
            self._connections.add(layer.selectionChanged, self._to_table)

    def show(self, found: Sequence[Found], shown: Sequence[Row] | None = None) -> None:
        """Show the rows (`shown`: these of them); the selection stays with its things, or else is
        what the layers have selected."""
        selected = self.table.selected_keys()
        current = self.table.current_key()
        key = self.table.rows.key
        self._places = {}
        for layer, number, row in found:
            self._places.setdefault(str(row[key]), []).append((layer.id(), number))
        self._busy = True
        try:
            rows = [row for _, _, row in found] if shown is None else shown
            self.table.rows.show_rows(rows)
        finally:
            self._busy = False
        if selected & self._places.keys():
            self._select_rows(selected, current)
            self._to_layers()
        else:
            self._to_table()

    def _to_layers(self, *_) -> None:
        if self._busy:
            return
        wanted: dict[str, set[int]] = {layer: set() for layer in self._layers}
        for key in self.table.selected_keys():
            for layer, number in self._places.get(key, ()):
                wanted.setdefault(layer, set()).add(number)
        self._busy = True
        try:
            for name, layer in self._layers.items():
                if set(layer.selectedFeatureIds()) != wanted[name]:
                    layer.selectByIds(list(wanted[name]))
        finally:
            self._busy = False

    def _to_table(self, *_) -> None:
        if self._busy or self.paused:
            return
        chosen = {name: set(layer.selectedFeatureIds()) for name, layer in self._layers.items()}
        self._select_rows(
            {
                key
                for key, places in self._places.items()
                if any(number in chosen.get(layer, ()) for layer, number in places)
            }
        )

    def _select_rows(self, keys: set[str], current: str = "") -> None:
        table, model = self.table, self.table.selectionModel()
        if table.selected_keys() == keys and (not current or table.current_key() == current):
            return
        selection = QItemSelection()
        rows = {}
        for key in sorted(keys):
            index = table.sorted.mapFromSource(table.rows.index(table.rows.row_of(key), 0))
            if index.isValid():
                selection.select(index, index)
                rows[key] = index
        flag = QItemSelectionModel.SelectionFlag
        self._busy = True
        try:
            model.select(selection, flag.ClearAndSelect | flag.Rows)
            if rows:
                first = rows.get(current, next(iter(rows.values())))
                model.setCurrentIndex(first, flag.NoUpdate)
                table.scrollTo(first)
        finally:
            self._busy = False
