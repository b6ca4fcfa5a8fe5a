# SPDX-License-Identifier: GPL-2.0-or-later
"""Texts in the user's language, by the host's own mechanism.

`plugin/gather_texts.py` finds what is to be translated by these names: the literal in ``tr("…")``,
and in ``mark("…")`` where a text stands in a table and is passed to `tr` later.
"""

from __future__ import annotations

from qgis.PyQt.QtCore import QCoreApplication

CONTEXT = "Roomtie"


def tr(text: str, count: int = -1) -> str:
    """A text in the user's language. With a count, ``%n`` in it becomes the number, and the form of
    the words is that of the language for so many."""
    return QCoreApplication.translate(CONTEXT, text, None, count)


def mark(text: str) -> str:
    """The text itself: says that it is to be translated where it is shown."""
    return text
