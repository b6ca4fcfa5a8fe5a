# SPDX-License-Identifier: GPL-2.0-or-later
"""The texts of windows in the user's language."""

from qgis.PyQt.QtCore import QCoreApplication


def tr(text: str) -> str:
    """A text in the user's language."""
    return QCoreApplication.translate("Roomtie", text)
