# SPDX-License-Identifier: GPL-2.0-or-later
"""The panel beside the map in which a taped distance is typed: widgets, nothing of what they do."""

from __future__ import annotations

from qgis.PyQt.QtCore import QSize, QStringListModel, Qt
from qgis.PyQt.QtWidgets import (
    QCompleter,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..processing.algorithms.compare_distances import USUAL_SIGMA_MM
from .panel_parts import PlanChoice, say, sentence_label, tab_through
from .review_columns import number
from .review_table import ReviewTable, Row, TableColumn, TableModel
from .translation import tr


class SightPanel(QWidget):
    """What lies at both ends, the plan's distance, the taped one, and all distances of the plan."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._make_widgets()
        self._lay_out()

    def sizeHint(self) -> QSize:
        return QSize(420, 460)

    def _make_widgets(self) -> None:
        self.plans = PlanChoice()
        self.names = QStringListModel(self)
        self.first, self.second = self._reference(), self._reference()
        self.plan_m = sentence_label()
        self.taped = QDoubleSpinBox()
        self.taped.setRange(0.0, 10_000.0)
        self.taped.setDecimals(4)
        self.taped.setSuffix(" m")
        self.taped.setSpecialValueText(" ")
        self.taped.setKeyboardTracking(True)
        self.sigma = QDoubleSpinBox()
        self.sigma.setRange(0.1, 1000.0)
        self.sigma.setDecimals(1)
        self.sigma.setSuffix(" mm")
        self.sigma.setValue(USUAL_SIGMA_MM)
        self.sigma.setToolTip(
            tr("Standard error of the taped distance (1 sigma). 2 mm: common practice in a room.")
        )
        for box in (self.taped, self.sigma):
            box.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.verdict = sentence_label()
        self.add = QPushButton(tr("&Add to the table"))
        self.distances = ReviewTable(TableModel("row", _columns()), tr("Taped distances"))
        self.remove = QPushButton(tr("Remove"))
        self.remove.setToolTip(tr("Take the selected distances out of the table"))
        self.compare = QPushButton(tr("&Compare…"))
        self.compare.setToolTip(tr("Compare all of them with the plan, with a report"))
        self.help = QPushButton(tr("Help"))
        self.message = sentence_label()

    def _reference(self) -> QLineEdit:
        edit = QLineEdit()
        edit.setPlaceholderText(tr("click in the map, or type: W012, W012/W013, T3"))
        edit.setClearButtonEnabled(True)
        completer = QCompleter(self.names, edit)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        edit.setCompleter(completer)
        return edit

    def _lay_out(self) -> None:
        taped = QHBoxLayout()
        taped.addWidget(self.taped, 2)
        taped.addWidget(QLabel("±"))
        taped.addWidget(self.sigma, 1)
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.addRow(tr("&Plan"), self.plans)
        form.addRow(tr("&From"), self.first)
        form.addRow(tr("&To"), self.second)
        form.addRow(tr("On the plan"), self.plan_m)
        form.addRow(tr("Taped"), taped)
        form.addRow("", self.verdict)
        for edit, name in (
            (self.first, tr("From")),
            (self.second, tr("To")),
            (self.taped, tr("Taped distance in metres")),
            (self.sigma, tr("Standard error of the taped distance in millimetres")),
        ):
            edit.setAccessibleName(name)
        buttons = QHBoxLayout()
        for button in (self.remove, self.compare, self.help):
            buttons.addWidget(button)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(6, 6, 6, 6)
        whole.addLayout(form)
        whole.addWidget(self.add)
        whole.addWidget(self.message)
        whole.addWidget(self.distances, 1)
        whole.addLayout(buttons)
        in_order = (
            self.plans,
            self.first,
            self.second,
            self.taped,
            self.sigma,
            self.add,
            self.distances,
            self.remove,
            self.compare,
            self.help,
        )
        tab_through(in_order)

    def say(self, sentence: str, is_fault: bool = False) -> None:
        """Show a sentence; empty for none."""
        say(self.message, sentence, is_fault)


def verdict_words() -> dict[str, str]:
    return {
        "within tolerance": tr("within tolerance"),
        "plan too long": tr("plan too long"),
        "plan too short": tr("plan too short"),
    }


def _columns() -> list[TableColumn]:
    def text(title: str, tip: str, name: str) -> TableColumn:
        return TableColumn(
            title,
            tip,
            lambda row: str(row.get(name) or ""),
            lambda row: str(row.get(name) or "").casefold(),
        )

    def figure(title: str, tip: str, name: str, decimals: int) -> TableColumn:
        return TableColumn(
            title,
            tip,
            lambda row: number(row.get(name), decimals),
            lambda row: row.get(name),
            right=True,
        )

    def verdict(row: Row) -> str:
        word = row.get("verdict")
        return verdict_words().get(word, str(word or "")) if word else tr("not on the plan")

    return [
        text(tr("From"), tr("Wall, corner or target"), "from_ref"),
        text(tr("To"), tr("Wall, corner or target"), "to_ref"),
        figure(tr("Taped m"), tr("Taped distance"), "taped_m", 3),
        figure(tr("Diff. mm"), tr("Plan less tape"), "difference_mm", 1),
        TableColumn(tr("Verdict"), tr("Judged by the errors of both (95 %)"), verdict, verdict),
        figure(tr("Plan m"), tr("Distance on the plan, on the ground"), "plan_m", 3),
    ]
