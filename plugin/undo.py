# SPDX-License-Identifier: GPL-2.0-or-later
"""Qt's undo classes, which changed their module between Qt 5 and Qt 6."""

try:
    from qgis.PyQt.QtGui import QUndoCommand, QUndoStack
except ImportError:
    from qgis.PyQt.QtWidgets import QUndoCommand, QUndoStack

__all__ = ["QUndoCommand", "QUndoStack"]
