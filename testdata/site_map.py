# SPDX-License-Identifier: GPL-2.0-or-later
"""The invented surroundings: the building's outline as a site map has it, its neighbours, paths.

Everything in the building's own axes, as in `building.py`.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from building import STOREYS, XY, Floats, straightened
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

CORNER_SIGMA_M = 0.05

# The walls that can be seen through the openings are fronts of these (`building.Storey.outside`).
NEIGHBOURS: dict[str, tuple[XY, ...]] = {
    "North house": (
        (-4.0, 15.5),
        (12.0, 16.0),
        (11.7, 24.6),
        (3.4, 24.3),
        (3.5, 21.2),
        (-4.2, 21.0),
    ),
    "East barn": ((23.0, -1.0), (34.2, -1.4), (34.7, 13.6), (23.5, 14.0)),
    "South cottage": ((-12.0, -21.0), (-3.5, -22.4), (-2.4, -15.6), (-10.9, -14.2)),
    "Boat shed": ((12.0, -19.0), (19.2, -19.6), (19.6, -14.6), (12.4, -14.0)),
    "West house": ((-23.0, 1.5), (-13.6, 2.4), (-14.4, 11.0), (-23.8, 10.1)),
}
PATHS: dict[str, tuple[XY, ...]] = {
    "Quay lane": ((-30.0, -9.2), (-12.0, -10.6), (6.0, -10.2), (38.0, -8.0)),
    "Entrance path": ((2.8, 0.0), (2.8, -1.8), (-3.5, -2.2), (-4.2, -10.4)),
    "Back path": ((21.0, -9.0), (20.6, 6.0), (20.4, 13.0), (16.4, 27.0)),
}


def write_site_map(folder: Path, geographic: Callable[[Floats], Floats], seed: list[int]) -> None:
    """Write ``site_buildings.geojson`` and ``site_paths.geojson`` (RFC 7946); `geographic` gives
    longitudes and latitudes ``(n, 2)`` of points ``(n, 2)`` in the building's axes."""
    rng = np.random.default_rng(seed)
    buildings = {"Quillhaven Reading Rooms": _outline(), **NEIGHBOURS}
    polygons = []
    for name, corners in buildings.items():
        # A map's corners are digitised, not measured.
        ring = np.array(corners) + rng.normal(0, CORNER_SIGMA_M, (len(corners), 2))
        around = orient(Polygon(geographic(ring)))
        polygons.append(_feature(name, "Polygon", [_rounded(around.exterior.coords)]))
    lines = [
        _feature(name, "LineString", _rounded(LineString(geographic(np.array(points))).coords))
        for name, points in PATHS.items()
    ]
    _write(folder / "site_buildings.geojson", polygons)
    _write(folder / "site_paths.geojson", lines)


def _outline() -> Floats:
    """The corners ``(n, 2)`` of the whole building seen from above, without nodes on its sides."""
    whole = unary_union([storey.outline for storey in STOREYS])
    if isinstance(whole, MultiPolygon):
        raise ValueError("the storeys do not hang together")
    ring = straightened(np.asarray(orient(whole).exterior.coords)[:-1])[:, 0]
    # No release of the geometry library may change where the ring begins.
    return np.roll(ring, -int(np.lexsort(ring.round(6).T)[0]), axis=0)


def _feature(name: str, kind: str, coordinates: list[Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"name": name},
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _rounded(coordinates: Any) -> list[list[float]]:
    """To 1e-8 deg, a millimetre."""
    return [[round(float(x), 8), round(float(y), 8)] for x, y in coordinates]


def _write(path: Path, features: list[dict[str, Any]]) -> None:
    lines = ",\n  ".join(json.dumps(feature) for feature in features)
    path.write_text(
        f'{{"type": "FeatureCollection", "features": [\n  {lines}\n]}}\n',
        encoding="utf-8",
        newline="\n",
    )
