# SPDX-License-Identifier: GPL-2.0-or-later
"""The database session behind a layer of the host, where its format has transactions."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsDataSourceUri, QgsProviderRegistry, QgsVectorLayer

from ...errors import SurveyError
from .session import Session


def has_transactions(layer: QgsVectorLayer) -> bool:
    """Whether all or nothing can be had of this layer in place."""
    provider = layer.dataProvider()
    return provider.name() == "postgres" or (
        provider.name() == "ogr" and provider.storageType() == "GPKG"
    )


def open_session(layer: QgsVectorLayer) -> Session:
    """A session of its own on the layer's table. SurveyError where it is no table, or the database
    cannot be had."""
    if layer.providerType() == "postgres":
        uri = QgsDataSourceUri(layer.source())
        if uri.table().startswith("("):
            raise SurveyError(
                f"BUILDING, layer {layer.name()}: it is a query; expected a table of rooms."
            )
        try:
            from .postgres import PostgresSession
        except ImportError as error:
            raise SurveyError(
                "The host's Python lacks psycopg2, by which PostGIS tables are updated; expected "
                "it (Debian: apt install python3-psycopg2)."
            ) from error
        return PostgresSession(
            uri.connectionInfo(True), uri.schema() or "public", uri.table(), uri.geometryColumn()
        )
    from .geopackage import GeoPackageSession

    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    name = parts.get("layerName") or _only_layer(parts["path"])
    return GeoPackageSession(Path(parts["path"]), name)


def _only_layer(path: str) -> str:
    from osgeo import ogr

    data = ogr.Open(path)
    if data is None or data.GetLayerCount() < 1:
        raise SurveyError(f"{path}: it cannot be read; expected a GeoPackage with rooms.")
    return str(data.GetLayer(0).GetName())
