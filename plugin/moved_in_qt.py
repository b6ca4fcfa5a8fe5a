# SPDX-License-Identifier: GPL-2.0-or-later
"""Classes of Qt that changed their module between Qt 5 and Qt 6 (https://doc.qt.io/qt-6/gui-changes-qt6.html,
"Kernel Classes" and "Other Classes")."""

try:
    from qgis.PyQt.QtGui import QAction, QUndoCommand, QUndoStack
except ImportError:
    from qgis.PyQt.QtWidgets import QAction, QUndoCommand, QUndoStack  # type: ignore[attr-defined,no-redef]

__all__ = ["QAction", "QUndoCommand", "QUndoStack"]
