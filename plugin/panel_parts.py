# SPDX-License-Identifier: GPL-2.0-or-later
"""Parts that the plugin's panels share: the choice of a plan, sentences to a person, and the order
of the Tab key."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtWidgets import QComboBox, QLabel, QWidget

from .translation import tr

if TYPE_CHECKING:
    from .review_plans import ReviewPlan


class PlanChoice(QComboBox):
    """The plans to choose from, by title; its current data is what a plan is remembered by."""

    def __init__(self) -> None:
        super().__init__()
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(12)
        self.setAccessibleName(tr("Plan"))
        self.setToolTip(tr("The plans in the project"))

    def show_plans(self, plans: Sequence[ReviewPlan]) -> int:
        """Show these, and stay with the one that was chosen; the place of the chosen one (-1: there
        is none). No signal is sent."""
        chosen = self.currentData()
        self.blockSignals(True)
        self.clear()
        for plan in plans:
            self.addItem(plan.title, plan.key)
            self.setItemData(self.count() - 1, plain(plan.key), Qt.ItemDataRole.ToolTipRole)
        self.setCurrentIndex(max(self.findData(chosen), 0) if plans else -1)
        self.blockSignals(False)
        return self.currentIndex()


def sentence_label() -> QLabel:
    """A label for sentences: plain text, in as many lines as it needs, to be copied."""
    label = QLabel()
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


def say(label: QLabel, sentence: str, is_fault: bool = False) -> None:
    """Show a sentence, a fault in bold; empty for none."""
    label.setText(sentence)
    label.setVisible(bool(sentence))
    font = label.font()
    font.setBold(is_fault)
    label.setFont(font)


def plain(words: str) -> str:
    """The words for a place where the host takes what looks like HTML for HTML, as tool tips and
    message boxes do: a name in a file may look like anything."""
    return escape(words).replace("\n", "<br>") if "<" in words else words


def tab_through(widgets: Sequence[QWidget]) -> None:
    """Let the Tab key go from each to the next."""
    for first, second in zip(widgets, widgets[1:]):
        QWidget.setTabOrder(first, second)
