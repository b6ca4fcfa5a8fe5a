# SPDX-License-Identifier: GPL-2.0-or-later
"""The files that layers of a project are read from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from qgis.core import QgsMapLayer, QgsProject, QgsProviderRegistry, QgsVectorLayer


class Source(NamedTuple):
    """A layer's file (absolute), its name there and the condition on its features (empty: none)."""

    path: Path
    name: str
    condition: str


def source_of(layer: QgsMapLayer) -> Source | None:
    """Where a layer is read from; None for a source that is no file."""
    if layer.providerType() != "ogr":
        return None
    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    if not parts.get("path"):
        return None
    name, condition = (str(parts.get(part) or "") for part in ("layerName", "subset"))
    return Source(Path(parts["path"]).absolute(), name, condition)


def layers_of(project: QgsProject | None, path: Path) -> Iterator[tuple[QgsVectorLayer, Source]]:
    """The vector layers of a file in the project, if there is one."""
    for layer in project.mapLayers().values() if project is not None else ():
        source = source_of(layer) if isinstance(layer, QgsVectorLayer) else None
        if source is not None and source.path == path.absolute():
            yield layer, source
