# SPDX-License-Identifier: GPL-2.0-or-later
"""Parts that the plugin's panels share: sentences to a person, and the order of the Tab key."""

from __future__ import annotations

from collections.abc import Sequence

from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtWidgets import QLabel, QWidget


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


def tab_through(widgets: Sequence[QWidget]) -> None:
    """Let the Tab key go from each to the next."""
    for first, second in zip(widgets, widgets[1:]):
        QWidget.setTabOrder(first, second)
