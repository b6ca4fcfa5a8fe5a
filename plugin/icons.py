# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin's own icons."""

from __future__ import annotations

from pathlib import Path

from qgis.PyQt.QtGui import QIcon

FOLDER = Path(__file__).resolve().parent / "icons"


def icon(name: str) -> QIcon:
    """The icon in a file of that name."""
    return QIcon(str(FOLDER / name))
