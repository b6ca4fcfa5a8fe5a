# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan of half of the example, and how tests look into the files of those that grew from it."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing

import shapely
from osgeo import ogr
from qgis.core import QgsVectorLayer

FIRST = ("S01", "S02", "S03", "S04", "S05", "S06", "S08", "S09")
SCALES = ["1:50", "1:200"]
WINDOW = "window"


def rows(path, layer, *names):
    """Attributes of a layer of a GeoPackage, in plain SQL."""
    with closing(sqlite3.connect(path)) as database:
        columns = ", ".join(f'"{name}"' for name in names)
        return database.execute(f"SELECT {columns} FROM {layer} ORDER BY fid").fetchall()


def run_sql(path, *statements):
    source = ogr.Open(str(path), update=1)
    for statement in statements:
        source.ExecuteSQL(statement)
    source = None


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def geometries(path, layer, key):
    layer = QgsVectorLayer(f"{path}|layername={layer}", layer, "ogr")
    return {
        tuple(f[name] for name in key): shapely.from_wkb(bytes(f.geometry().asWkb()))
        for f in layer.getFeatures()
        if f.hasGeometry()
    }
