# SPDX-License-Identifier: GPL-2.0-or-later
"""Geometries of the host as shapely's, which has no arcs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from qgis.core import QgsGeometry, QgsWkbTypes

from ..errors import SurveyError

PLAIN = 7
"""The last of shapely's types that is made of points and straight lines: a collection."""

UNREAD = (shapely.errors.GEOSException, NotImplementedError)
"""What shapely raises of arcs: the latter since GEOS 3.13, which reads them where shapely does
not."""


def has_arcs(geometry: QgsGeometry) -> bool:
    """Whether a geometry has arcs; one whose type may have them need not."""
    shape = geometry.constGet()
    return shape is not None and shape.hasCurvedSegments()


def shape_of(geometry: QgsGeometry, where: str) -> Any:
    """A geometry without Z and M. SurveyError that begins with `where` for one with arcs, and for
    one that cannot be read."""
    return shapely.force_2d(shapes_of([bytes(geometry.asWkb())], lambda _: where)[0])


def shapes_of(wkb: Sequence[bytes | None], where: Callable[[int], str]) -> NDArray[np.object_]:
    """Geometries ``(n,)`` from binary ones, None for None. SurveyError, with the place that
    ``where(row)`` tells, for the first that has arcs or cannot be read."""
    given = np.array([*wkb, None], dtype=object)[:-1]
    try:
        shapes = np.asarray(shapely.from_wkb(given), dtype=object)
    except UNREAD:
        shapes = np.array([*map(_read, given), None], dtype=object)[:-1]
    missing = np.array([one is not None for one in given], dtype=bool) & shapely.is_missing(shapes)
    for row in np.flatnonzero(missing | (shapely.get_type_id(shapes) > PLAIN)):
        shapes[row] = _straight(given[row], where(int(row)))
    return shapes


def _read(wkb: bytes | None) -> Any:
    try:
        return shapely.from_wkb(wkb)
    except UNREAD:
        return None


def _straight(wkb: bytes, where: str) -> Any:
    """A shape whose type may have arcs, but that has none."""
    geometry = QgsGeometry()
    geometry.fromWkb(wkb)
    kind = QgsWkbTypes.displayString(geometry.wkbType())
    if geometry.isNull() or has_arcs(geometry):
        found = "its geometry cannot be read" if geometry.isNull() else f"it has arcs ({kind})"
        raise SurveyError(
            f"{where}: {found}; expected straight lines, as the host's Segmentize makes them."
        )
    return shapely.from_wkb(bytes(QgsGeometry(geometry.constGet().segmentize()).asWkb()))
