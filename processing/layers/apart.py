# SPDX-License-Identifier: GPL-2.0-or-later
"""Layers of files that another thread than the window's opens.

The host reads layers of one file through one connection where their addresses agree, and then
takes its lock of the connection and that of all connections in either order: two threads that open
or reload layers of the same file can wait for each other for ever (seen in 3.22; the host's
`QgsOgrProviderUtils::getLayer` and `release`). It keeps connections apart by their open options.
"""

from __future__ import annotations

from itertools import count

from qgis.core import QgsProviderRegistry, QgsVectorLayer

_NUMBERS = count(1)
_ENDINGS = (".gpkg", ".sqlite")
"""Of the files whose driver knows the option; in files of other formats layers rarely share one."""


def opened_apart(source: str, name: str, provider: str = "ogr") -> QgsVectorLayer:
    """The layer of a source, valid or not, on a connection that it shares with no other; without
    the style that a file keeps for it."""
    options = QgsVectorLayer.LayerOptions()
    options.loadDefaultStyle = False
    return QgsVectorLayer(_apart(source) if provider == "ogr" else source, name, provider, options)


def _apart(source: str) -> str:
    registry = QgsProviderRegistry.instance()
    parts = registry.decodeUri("ogr", source)
    if not str(parts.get("path") or "").lower().endswith(_ENDINGS):
        return source
    # What GDAL sends to the database before all else: a statement that does nothing.
    own = f"PRELUDE_STATEMENTS=SELECT {next(_NUMBERS)}"
    return registry.encodeUri("ogr", {**parts, "openOptions": [*parts.get("openOptions", ()), own]})
