# SPDX-License-Identifier: GPL-2.0-or-later
"""What GDAL complains of while the host writes through it.

The host passes on the last complaint, though mostly the first one tells what is wrong; and where it
closes a file, so that the last features and the index go to the disk, it passes on none at all.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from osgeo import gdal, ogr

from ..errors import SurveyError


@contextmanager
def complaints() -> Iterator[list[str]]:
    """A list that fills with GDAL's errors (not its warnings) on this thread, first ones first."""
    heard: list[str] = []

    def hear(severity: int, number: int, message: str) -> None:
        del number
        if severity >= gdal.CE_Failure:
            heard.append(message)

    gdal.PushErrorHandler(hear)
    try:
        yield heard
    finally:
        gdal.PopErrorHandler()


def reason(heard: Sequence[str], otherwise: str = "") -> str:
    """The first complaint, without the statement that SQLite did not take and without full stop."""
    first = (heard[0] if heard else otherwise).strip()
    return re.sub(r"^.*\) failed: ", "", first, flags=re.DOTALL).rstrip(".")


ROW_BY_ROW = {".gpkg", ".sqlite", ".shp", ".geojson", ".fgb", ".csv", ".gml"}
"""Endings of formats that read back as many features as were written; others may split some up."""


def closed_whole(close: Callable[[], None], path: Path, layer: str, count: int, where: str) -> None:
    """Close a layer's file by `close`, and see that it holds as many features as were given; the
    layer is the only one where no name is given. SurveyError that says why, where it does not."""
    with complaints() as heard:
        close()
    found = _count(path, layer)
    if heard or found is None or (found != count and path.suffix.lower() in ROW_BY_ROW):
        has = (
            f"it has {found or 0} of {count} features, expected a format that keeps them all, such "
            "as GeoPackage"
        )
        raise SurveyError(f"{where}: the file could not be finished: {reason(heard) or has}.")


def _count(path: Path, layer: str) -> int | None:
    """How many features can be read; None where there is no such layer."""
    try:
        with complaints():
            source = gdal.OpenEx(str(path), gdal.OF_VECTOR)
        if source is None:
            return None
        there: ogr.Layer | None = source.GetLayerByName(layer) if layer else source.GetLayer(0)
        return None if there is None else _counted(source, there)
    except RuntimeError:  # where somebody made GDAL raise its errors
        return None


def _counted(source: gdal.Dataset, layer: ogr.Layer) -> int:
    name = layer.GetName().replace('"', '""')
    # A GeoPackage notes the number of its features; the rows themselves are counted here.
    result = source.ExecuteSQL(f'SELECT COUNT(*) FROM "{name}"')  # noqa: S608
    if result is None:
        return int(layer.GetFeatureCount())
    try:
        return int(result.GetNextFeature().GetField(0))
    finally:
        source.ReleaseResultSet(result)
