# SPDX-License-Identifier: GPL-2.0-or-later
"""Roomtie: interior surveys tied, drawn and georeferenced inside QGIS."""


def classFactory(iface):  # noqa: N802 - the host looks for this name
    from .plugin.main import RoomtiePlugin

    return RoomtiePlugin(iface)
