# SPDX-License-Identifier: GPL-2.0-or-later
"""What the review dock is made of: widgets and their order, nothing of what they do."""

from __future__ import annotations

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QSize, Qt
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QSplitter,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ..processing.layers.schema import HOLD, LEAVE_OUT
from .icons import icon
from .panel_parts import PlanChoice, say, sentence_label, tab_through
from .review_columns import room_columns, station_columns, tie_columns
from .review_ring import BY_FLAG, BY_RESIDUAL, ReviewRing
from .review_table import ReviewTable, TableModel
from .translation import tr


class ReviewPanel(QWidget):
    """Stations above; the ring and the ties of the current one, and the rooms, below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._make_widgets()
        self._lay_out()
        self.set_busy(False)

    def sizeHint(self) -> QSize:
        return QSize(460, 760)

    def _make_widgets(self) -> None:
        self.plans = PlanChoice()
        self.plans.setAccessibleName(tr("Plan under review"))
        host_icon = QgsApplication.getThemeIcon
        self.undo = self._button(host_icon("/mActionUndo.svg"), tr("Undo"))
        self.redo = self._button(host_icon("/mActionRedo.svg"), tr("Redo"))
        self.zoom = self._button(
            host_icon("/mActionZoomToSelected.svg"), tr("Zoom to the selected stations")
        )
        self.help = self._button(host_icon("/mActionHelpContents.svg"), tr("Help"))
        self.filter = QLineEdit()
        self.filter.setPlaceholderText(tr("Filter stations"))
        self.filter.setClearButtonEnabled(True)
        self.filter.setAccessibleName(tr("Filter stations"))
        self.stations = ReviewTable(TableModel("station", station_columns()), tr("Stations"))
        self.ties = ReviewTable(TableModel("tie", tie_columns()), tr("Ties of the station"))
        self.rooms = ReviewTable(TableModel("room", room_columns()), tr("Rooms"))
        self.ring = ReviewRing()
        self.colour_by = QComboBox()
        self.colour_by.addItem(tr("Colour by residual"), BY_RESIDUAL)
        self.colour_by.addItem(tr("Colour by flag"), BY_FLAG)
        self.colour_by.setAccessibleName(tr("What the ring is coloured by"))
        choices = ((None, tr("As found")), (HOLD, tr("Hold")), (LEAVE_OUT, tr("Leave out")))
        self.station_choices = [self._choice(value, text) for value, text in choices]
        self.tie_choices = [self._choice(value, text) for value, text in choices[::2]]
        self.about, self.about_tie, self.message = (
            sentence_label(),
            sentence_label(),
            sentence_label(),
        )
        self.readjust = QPushButton(icon("adjust.svg"), tr("&Readjust"))
        self.readjust.setToolTip(
            tr("Adjust again with what you chose, and draw the plan anew, in the background")
        )
        self.cancel = QPushButton(tr("Cancel"))
        self.progress = QProgressBar()
        self.progress.setAccessibleName(tr("Progress of the readjustment"))

    def _button(self, picture: QIcon, text: str) -> QToolButton:
        button = QToolButton()
        button.setIcon(picture)
        button.setToolTip(text)
        button.setAccessibleName(text)
        button.setAutoRaise(True)
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return button

    def _choice(self, value: str | None, text: str) -> QPushButton:
        button = QPushButton(text)
        button.setProperty("choice", value)
        button.setToolTip(tr("For what is selected in the table; it counts when you readjust"))
        return button

    def _lay_out(self) -> None:
        top = _row(self.plans, self.undo, self.redo, self.zoom, self.help)
        above = _column(self.filter, self.stations, _row(*self.station_choices))
        ring = _column(self.colour_by, self.ring)
        ties = _column(self.ties, self.about_tie, _row(*self.tie_choices))
        self.tabs = QTabWidget()
        for page, title in (
            (ring, tr("Ring")),
            (ties, tr("Ties")),
            (_column(self.rooms), tr("Rooms")),
        ):
            self.tabs.addTab(page, title)
        below = _column(self.about, self.tabs)
        splitter = QSplitter(Qt.Orientation.Vertical)
        splitter.addWidget(above)
        splitter.addWidget(below)
        splitter.setStretchFactor(0, 1)
        splitter.setStretchFactor(1, 1)
        splitter.setSizes([340, 400])
        splitter.setChildrenCollapsible(False)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(6, 6, 6, 6)
        whole.addWidget(top)
        whole.addWidget(splitter, 1)
        whole.addWidget(self.message)
        whole.addWidget(_row(self.readjust, self.progress, self.cancel))
        in_order = (
            self.plans,
            self.undo,
            self.redo,
            self.zoom,
            self.help,
            self.filter,
            self.stations,
            *self.station_choices,
            self.tabs,
            self.colour_by,
            self.ties,
            *self.tie_choices,
            self.rooms,
            self.readjust,
            self.cancel,
        )
        tab_through(in_order)

    def say(self, sentence: str, is_fault: bool = False) -> None:
        """Show a sentence; empty for none."""
        say(self.message, sentence, is_fault)

    def set_busy(self, busy: bool) -> None:
        """Nothing can be changed while a plan is drawn anew; all can be looked at."""
        self.progress.setVisible(busy)
        self.cancel.setVisible(busy)
        self.progress.setValue(0)
        for widget in (self.plans, *self.station_choices, *self.tie_choices, self.readjust):
            widget.setEnabled(not busy)
        trigger = QAbstractItemView.EditTrigger
        for table in (self.stations, self.ties, self.rooms):
            table.setEditTriggers(
                trigger.NoEditTriggers if busy else trigger.DoubleClicked | trigger.EditKeyPressed
            )


def _row(*widgets: QWidget) -> QWidget:
    return _box(QHBoxLayout, widgets)


def _column(*widgets: QWidget) -> QWidget:
    return _box(QVBoxLayout, widgets)


def _box(kind: type, widgets: tuple[QWidget, ...]) -> QWidget:
    box = QWidget()
    layout = kind(box)
    layout.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        grows = QSizePolicy.Policy.Expanding
        vertical = kind is QVBoxLayout and widget.sizePolicy().verticalPolicy() == grows
        layout.addWidget(widget, 1 if vertical else 0)
    return box
