#!/usr/bin/python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""A register of rooms from the example's plan, and a second survey of the building two years on.

Usage: ``second_survey.py PLAN.gpkg FOLDER``, with the plan that the example gives at 1:50. Writes

- ``register.gpkg``, layer ``register``: the rooms as a facility team may keep them, with names of
  fields of its own, drawn 250 mm too far east and 150 mm too far south;
- ``second_survey.gpkg``, layer ``rooms``: the rooms again, their corners off by 4 mm (1 sigma);
  the wall between rooms 0.04 and 0.05 moved by 0.60 m, room 0.10 parted by a wall of 0.12 m.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import shapely
from osgeo import ogr

DRAWN_OFF = (0.250, -0.150)
MOVED_M = 0.60
WALL_M = 0.12
SIGMA_M = 0.004
SEED = 20260504
MOST_DRAWS = 1000


def rooms_of(plan: str) -> tuple[dict[str, tuple[int, shapely.Polygon]], object]:
    """Storey and outline by name, and the reference system."""
    source = ogr.Open(plan)
    layer = source.GetLayerByName("rooms") if source else None
    if layer is None:
        raise SystemExit(f"{plan}: there is no layer rooms; expected the example's plan.")
    rooms = {
        feature["name"]: (
            int(feature["level"]),
            shapely.from_wkb(bytes(feature.GetGeometryRef().ExportToWkb())),
        )
        for feature in layer
        if feature["plot_scale"] == 50
    }
    return rooms, layer.GetSpatialRef().Clone()


def with_wall_moved(rooms: dict, first: str, second: str) -> None:
    """Move the wall between two rooms towards the second: the corners at that wall."""
    a, b = rooms[first][1], rooms[second][1]
    towards = np.array(b.centroid.coords[0]) - np.array(a.centroid.coords[0])
    # Square to the wall: the longest common direction of both rooms' sides.
    sides = np.diff(shapely.get_coordinates(a.minimum_rotated_rectangle), axis=0)[:2]
    sides /= np.hypot(*sides.T)[:, None]
    axis = sides[np.argmax(np.abs(sides @ towards))]
    axis = axis * np.sign(axis @ towards)
    for name, near in ((first, a), (second, b)):
        along = shapely.get_coordinates(near) @ axis
        middle = (along.min() + along.max()) / 2.0
        at_wall = along > middle if name == first else along < middle
        corners = shapely.get_coordinates(near) + np.outer(at_wall, MOVED_M * axis)
        rooms[name] = (rooms[name][0], shapely.Polygon(corners))


def parted(rooms: dict, name: str) -> None:
    """Part a room across its length: a wall at two fifths of it."""
    level, shape = rooms.pop(name)
    frame = shapely.get_coordinates(shape.minimum_rotated_rectangle)[:4]
    if np.hypot(*(frame[1] - frame[0])) < np.hypot(*(frame[2] - frame[1])):
        frame = np.roll(frame, -1, axis=0)
    p, q = frame[0] + 0.4 * (frame[1] - frame[0]), frame[3] + 0.4 * (frame[2] - frame[3])
    wall = shapely.LineString([p, q]).buffer(WALL_M / 2.0, cap_style="square")
    parts = sorted(shapely.difference(shape, wall).geoms, key=lambda part: -part.area)
    for letter, part in zip("ab", parts):
        rooms[f"{name}{letter}"] = (level, part)


def write(path: Path, name: str, reference: object, fields: dict, rows: list) -> None:
    """A layer of polygons: `fields` are names and types, `rows` an outline and the values each."""
    path.unlink(missing_ok=True)
    source = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = source.CreateLayer(name, reference, ogr.wkbPolygon)
    for field, kind in fields.items():
        layer.CreateField(ogr.FieldDefn(field, kind))
    for shape, values in rows:
        feature = ogr.Feature(layer.GetLayerDefn())
        for field, value in zip(fields, values):
            feature[field] = value
        feature.SetGeometry(ogr.CreateGeometryFromWkb(shapely.to_wkb(shape)))
        layer.CreateFeature(feature)


def main(plan: str, folder: str) -> None:
    rooms, reference = rooms_of(plan)
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    write(
        target / "register.gpkg",
        "register",
        reference,
        {
            "room_no": ogr.OFTString,
            "use": ogr.OFTString,
            "cost_centre": ogr.OFTInteger,
            "storey": ogr.OFTString,
        },
        [
            (
                shapely.transform(shape, lambda xy: xy + DRAWN_OFF),
                (f"QR-{name.replace('.', '')}", "reading", 4000 + i, ("GF", "UF")[level]),
            )
            for i, (name, (level, shape)) in enumerate(sorted(rooms.items()))
        ],
    )
    with_wall_moved(rooms, "0.04", "0.05")
    parted(rooms, "0.10")
    random = np.random.default_rng(SEED)

    def again(shape: shapely.Polygon) -> shapely.Polygon:
        corners = shapely.get_coordinates(shape)[:-1]
        # Corners nearer to each other than their errors may cross: such an outline is drawn anew.
        for _ in range(MOST_DRAWS):
            measured = shapely.Polygon(corners + random.normal(0.0, SIGMA_M, corners.shape))
            if measured.is_valid:
                return measured
        raise SystemExit("the corners of a room lie too near to each other to be measured again")

    rows = []
    for name, (level, shape) in sorted(rooms.items()):
        measured = again(shape)
        # The second survey saw every wall: its areas have the errors of its corners alone.
        edges = np.diff(shapely.get_coordinates(measured), axis=0)
        sigma = SIGMA_M * float(np.sqrt((edges**2).sum()))
        rows.append((measured, (f"second-{name}", name, 50, measured.area, sigma, level)))
    write(
        target / "second_survey.gpkg",
        "rooms",
        reference,
        {
            "room": ogr.OFTString,
            "name": ogr.OFTString,
            "plot_scale": ogr.OFTInteger,
            "area_m2": ogr.OFTReal,
            "sigma_area_m2": ogr.OFTReal,
            "level": ogr.OFTInteger,
        },
        rows,
    )


if __name__ == "__main__":
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    main(*sys.argv[1:])
