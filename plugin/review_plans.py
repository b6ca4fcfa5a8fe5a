# SPDX-License-Identifier: GPL-2.0-or-later
"""The plans that lie in the project: which layers belong together, known by their fields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsExpression,
    QgsFeature,
    QgsFeatureRequest,
    QgsProject,
    QgsVectorLayer,
    QgsVectorLayerFeatureSource,
)
from qgis.PyQt.QtCore import QVariant

from ..processing.algorithms.layer_files import source_of
from ..processing.algorithms.loading import RUN
from ..processing.layers import schema
from ..processing.layers.apart import opened_apart
from .translation import tr

KEYS = {schema.STATIONS: "station", schema.TIES: "tie", schema.ROOMS: "room"}
"""What tells the features of a layer apart, whatever their numbers in the file."""

LOOKED_AT = 20


@dataclass(frozen=True, eq=False)
class ReviewPlan:
    """A plan's layers in the project, by kind; a plan of several storeys has a layer for each.

    `path` is the GeoPackage of a whole plan; None for results of single steps.
    """

    title: str
    path: Path | None
    layers: dict[schema.LayerSchema, list[QgsVectorLayer]] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """What the plan is remembered by: its file, or the layer that holds its stations."""
        return str(self.path or self.of(schema.STATIONS)[0].id())

    def of(self, kind: schema.LayerSchema) -> list[QgsVectorLayer]:
        """Its layers of a kind, perhaps none."""
        return self.layers.get(kind, [])

    def all_layers(self) -> Iterator[QgsVectorLayer]:
        for layers in self.layers.values():
            yield from layers

    def rows(
        self, kind: schema.LayerSchema, condition: str = ""
    ) -> list[tuple[QgsVectorLayer, int, dict[str, Any]]]:
        """Layer, number and attributes by field name (None for NULL) of the features that meet a
        condition. An attribute that the layer has no field for is None."""
        found = []
        for layer in self.of(kind):
            request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
            if condition:
                request.setFilterExpression(condition)
            names = layer.fields().names()
            for feature in layer.getFeatures(request):
                row: dict[str, Any] = dict.fromkeys(kind.field_names)
                row.update(zip(names, map(plain, feature.attributes())))
                found.append((layer, feature.id(), row))
        return found

    def sources(self, kind: schema.LayerSchema) -> list[LayerSource]:
        """The features of a kind for another thread: those of the whole file, whatever storeys of
        it are loaded, or else of the layers."""
        if self.path is not None:
            return [LayerSource(f"{self.path}|layername={kind.name}")]
        return [LayerSource("", QgsVectorLayerFeatureSource(layer)) for layer in self.of(kind)]


@dataclass(frozen=True)
class LayerSource:
    """Features to be read on another thread: of a file's layer, which is opened there since that
    takes its time, or of a layer of the project as it is now."""

    address: str
    copy: QgsVectorLayerFeatureSource | None = None

    def open(self) -> QgsVectorLayer | QgsVectorLayerFeatureSource | None:
        """What has `fields` and `getFeatures`, for the thread that asks; None where the file has no
        such layer."""
        if self.copy is not None:
            return self.copy
        layer = opened_apart(self.address, "source")
        return layer if layer.isValid() else None


def plain(value: Any) -> Any:
    """An attribute as Python knows it: only a missing one comes as the host's variant."""
    return None if isinstance(value, QVariant) else value


def equals(name: str, value: Any) -> str:
    """The condition that a field has a value."""
    return f"{QgsExpression.quotedColumnRef(name)} = {QgsExpression.quotedValue(value)}"


def is_one_of(name: str, values: Iterable[Any]) -> str:
    """The condition that a field has one of these values."""
    listed = ", ".join(QgsExpression.quotedValue(value) for value in values)
    return f"{QgsExpression.quotedColumnRef(name)} IN ({listed})"


def plans_in(project: QgsProject) -> list[ReviewPlan]:
    """All plans of the project in the order of its layers, whole ones first."""
    kinds: dict[str, tuple[schema.LayerSchema, QgsVectorLayer, Path | None]] = {}
    for layer in _in_order(project):
        kind = schema.schema_with(set(layer.fields().names()))
        if kind is not None:
            kinds[layer.id()] = kind, layer, geopackage_of(layer)
    plans: dict[Path, ReviewPlan] = {}
    for kind, layer, path in kinds.values():
        # The title of a group, which a person may have changed, says more than a file's name.
        if path is not None and kind is schema.STATIONS and _is_whole(path, kinds.values()):
            plans.setdefault(path, ReviewPlan(_title(project, layer, path), path))
    for kind, layer, path in kinds.values():
        if path in plans:
            plans[path].layers.setdefault(kind, []).append(layer)
    rest = [(kind, layer) for kind, layer, path in kinds.values() if path not in plans]
    alone = [_loose(layer, rest) for kind, layer in rest if kind is schema.STATIONS]
    return [*plans.values(), *alone]


def geopackage_of(layer: QgsVectorLayer) -> Path | None:
    """The GeoPackage that a layer lies in; None for another source."""
    source = source_of(layer)
    return source.path if source is not None and source.path.suffix.lower() == ".gpkg" else None


def _in_order(project: QgsProject) -> list[QgsVectorLayer]:
    order = {node.layerId(): n for n, node in enumerate(project.layerTreeRoot().findLayers())}
    layers = [
        layer
        for layer in project.mapLayers().values()
        if isinstance(layer, QgsVectorLayer) and layer.isValid()
    ]
    return sorted(layers, key=lambda layer: order.get(layer.id(), len(order)))


def _is_whole(
    path: Path, kinds: Iterable[tuple[schema.LayerSchema, QgsVectorLayer, Path | None]]
) -> bool:
    here = {kind for kind, _, where in kinds if where == path}
    return bool(here & {schema.ROOMS, schema.WALL_FACES, schema.NETWORK_COVARIANCE})


def _title(project: QgsProject, layer: QgsVectorLayer, path: Path) -> str:
    """The name of the plan's group, else of the outermost one that the layer stands in, else of the
    file."""
    node = project.layerTreeRoot().findLayer(layer.id())
    groups = []
    while node is not None and node.parent() is not None:
        node = node.parent()
        groups.append(node)
    inside = [group for group in groups if group.parent() is not None]  # the tree itself is none
    own = [group for group in inside if group.customProperty(RUN)] or inside[-1:]
    return (own[0].name() if own else "") or path.stem


def _loose(
    stations: QgsVectorLayer, rest: Iterable[tuple[schema.LayerSchema, QgsVectorLayer]]
) -> ReviewPlan:
    """Results of single steps: the layers whose first features name these stations."""
    place = stations.fields().lookupField("station")
    names = {str(name) for name in stations.uniqueValues(place)}
    layers = {schema.STATIONS: [stations]}
    for kind, layer in rest:
        by = {schema.READINGS: "station", schema.TIES: "from_station"}.get(kind)
        if by is None or kind in layers:
            continue
        request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
        request.setLimit(LOOKED_AT)
        features: Iterator[QgsFeature] = layer.getFeatures(request)
        seen = {str(feature[by]) for feature in islice(features, LOOKED_AT)}
        if seen and seen <= names:
            layers[kind] = [layer]
    title = tr("{layer} (single steps)").format(layer=stations.name())
    return ReviewPlan(title, None, layers)
