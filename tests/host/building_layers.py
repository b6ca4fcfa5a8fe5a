# SPDX-License-Identifier: GPL-2.0-or-later
"""Maintained layers of rooms and new surveys of them, made for tests."""

from __future__ import annotations

from pathlib import Path

import shapely
from osgeo import gdal, ogr, osr
from shapely.geometry import box

X, Y = 500_000.0, 5_700_000.0
OLD = {
    "101": box(0, 0, 4, 5),
    "102": box(4, 0, 8, 5),
    "103": box(8, 0, 14, 5),
    "104": box(0, 6, 4, 9),
    "105": box(4, 6, 8, 9),
    "106": box(8, 6, 14, 9),
    "107": box(14, 0, 18, 5),
    "108": box(14, 6, 18, 9),
}
NEW = {
    "a": box(0, 0, 5, 5),
    "b": box(5, 0, 8, 5),
    "c": box(8, 0, 11.5, 5),
    "d": box(11.5, 0, 14, 5),
    "e": box(0, 6, 8, 9),
    "f": box(8, 6, 14, 9),
    "g": box(0, 9, 4, 12),
    "h": box(14, 0, 18, 5),
    "i": box(14, 6, 18, 9),
}
"""102 gave a metre to 101, 103 was split, 105 joined 104, `g` is new, 106 to 108 stayed."""


def at_place(shape, dx=0.0, dy=0.0):
    return shapely.transform(shape, lambda xy: xy + [X + dx, Y + dy])


def rooms_file(path: Path, rooms=NEW, epsg=32632) -> str:
    """A layer of new rooms as a plan has it."""
    source, layer = _layer(path, "rooms", epsg, ogr.wkbPolygon)
    for name, kind in (
        ("room", ogr.OFTString),
        ("name", ogr.OFTString),
        ("plot_scale", ogr.OFTInteger),
        ("area_m2", ogr.OFTReal),
        ("sigma_area_m2", ogr.OFTReal),
        ("level", ogr.OFTInteger),
    ):
        layer.CreateField(ogr.FieldDefn(name, kind))
    for name, shape in rooms.items():
        feature = ogr.Feature(layer.GetLayerDefn())
        feature["room"], feature["name"], feature["plot_scale"] = name, f"Room {name}", 50
        feature["area_m2"], feature["sigma_area_m2"], feature["level"] = shape.area, 0.05, 0
        feature.SetGeometry(ogr.CreateGeometryFromWkb(shapely.to_wkb(at_place(shape))))
        layer.CreateFeature(feature)
    del layer, source
    return f"{path}|layername=rooms"


def building_file(
    path: Path, rooms=OLD, epsg=32632, dated=False, driver="GPKG", table="raeume"
) -> str:
    """A maintained layer with names of fields of its own."""
    source, layer = _layer(path, table, epsg, ogr.wkbMultiPolygon, driver)
    for name, kind in (
        ("nummer", ogr.OFTString),
        ("nutzung", ogr.OFTString),
        ("kosten", ogr.OFTReal),
        ("geschoss", ogr.OFTString),
        *((("gueltig", ogr.OFTString),) if dated else ()),
    ):
        layer.CreateField(ogr.FieldDefn(name, kind))
    for number, (name, shape) in enumerate(rooms.items()):
        feature = ogr.Feature(layer.GetLayerDefn())
        feature["nummer"], feature["nutzung"] = name, f"Büro '{number}'"
        feature["kosten"], feature["geschoss"] = 0.1 * number, "EG"
        placed = at_place(shape) if shape.bounds[0] < 1e4 else shape
        geometry = ogr.ForceToMultiPolygon(ogr.CreateGeometryFromWkb(shapely.to_wkb(placed)))
        feature.SetGeometry(geometry)
        layer.CreateFeature(feature)
    del layer, source
    return f"{path}|layername={table}" if driver == "GPKG" else str(path)


def _layer(path, name, epsg, kind, driver="GPKG"):
    reference = osr.SpatialReference()
    reference.ImportFromEPSG(epsg)
    options = ["ENCODING=UTF-8"] if driver != "GPKG" else []
    source = ogr.GetDriverByName(driver).CreateDataSource(str(path))
    return source, source.CreateLayer(name, reference, kind, options)


def run_sql(path: Path, *statements: str) -> list:
    """Statements through GDAL, as other programs write; the rows of the last one."""
    source = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE)
    rows = []
    for statement in statements:
        result = source.ExecuteSQL(statement)
        if result is not None:
            width = result.GetLayerDefn().GetFieldCount()
            rows = [tuple(f.GetField(i) for i in range(width)) for f in result]
            source.ReleaseResultSet(result)
    return rows
