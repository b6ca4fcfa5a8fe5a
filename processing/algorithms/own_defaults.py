# SPDX-License-Identifier: GPL-2.0-or-later
"""Defaults that a user has set in the host's options: they fill the dialogs of the host's window.

Outside the window (`qgis_process`, scripts) the defaults are those of the documentation, so that a
command means the same for everyone.
"""

from __future__ import annotations

from typing import Any

from qgis.core import QgsApplication, QgsSettings

KEY = "roomtie/defaults"
NAMES = ("SIGMA_DISTANCE", "SIGMA_ANGLE", "PLOT_SCALES", "TARGET_CRS")


def own_default(name: str) -> Any:
    """The user's own default of a parameter of that name; None where there is none to use."""
    return kept_default(name) if QgsApplication.platform() == "desktop" else None


def kept_default(name: str) -> Any:
    """What the options keep for a parameter; None where nothing fit is kept."""
    if name not in NAMES:
        return None
    value = QgsSettings().value(f"{KEY}/{name}", None)
    if value in (None, "", []):
        return None
    if name.startswith("SIGMA_"):
        try:
            number = float(value)
        except (TypeError, ValueError):
            return None
        return number if number > 0.0 else None
    if name == "PLOT_SCALES":
        return [value] if isinstance(value, str) else [str(scale) for scale in value]
    return str(value)


def keep_default(name: str, value: Any) -> None:
    """Keep a user's own default; None or nothing forgets it."""
    if value in (None, "", []):
        QgsSettings().remove(f"{KEY}/{name}")
    else:
        QgsSettings().setValue(f"{KEY}/{name}", value)
