# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether an archive is what OGC 20-094 and RFC 7946 want, checked without any of the plugin."""

from __future__ import annotations

import json
import sys
import uuid
import zipfile
from pathlib import Path

import shapely
import shapely.geometry
from jsonschema import Draft7Validator
from pyproj import Geod

sys.path.append(str(Path(__file__).resolve().parent))
from imdf_schema import FEATURES, MANIFEST, collection

MANIFEST_IS = Draft7Validator(MANIFEST)
COLLECTION_IS = {kind: Draft7Validator(collection(kind)) for kind in FEATURES}
WGS84 = Geod(ellps="WGS84")
ROUNDED_M = 2e-4
"""Nine decimals of a degree: 0.06 mm each way, in two ends."""
ROUNDED_DEG = 3e-9


def read_archive(path) -> dict:
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {name: json.loads(archive.read(name)) for name in archive.namelist()}


def check_archive(files: dict) -> dict[str, list[dict]]:
    """Every rule that can be checked of the files by name; the features by type."""
    MANIFEST_IS.validate(files["manifest.json"])
    features = {}
    for name, content in files.items():
        if name != "manifest.json":
            kind = name.removesuffix(".geojson")
            assert name == f"{kind}.geojson" and kind in FEATURES
            COLLECTION_IS[kind].validate(content)
            features[kind] = content["features"]
    assert {"address", "venue", "building", "footprint", "level", "unit"} <= set(features)
    check_references(features)
    check_geometry(features)
    return features


def check_references(features: dict) -> None:
    every = [(kind, feature) for kind, all_ in features.items() for feature in all_]
    by_id = {feature["id"]: kind for kind, feature in every}
    assert len(by_id) == len(every), "identifiers are unique in the archive"
    assert {uuid.UUID(one).version for one in by_id} == {5}
    wanted = {"address_id": "address", "level_id": "level", "building_ids": "building"}
    for _, feature in every:
        for key, kind in wanted.items():
            value = feature["properties"].get(key)
            for one in value if isinstance(value, list) else [value] if value else []:
                assert by_id[one] == kind
    for feature in features.get("relationship", ()):
        properties = feature["properties"]
        ends = [properties["origin"], *properties["intermediary"], properties["destination"]]
        assert all(by_id[one["id"]] == one["feature_type"] for one in ends)
    ordinals = [feature["properties"]["ordinal"] for feature in features["level"]]
    assert len(set(ordinals)) == len(ordinals)


def shape_of(feature: dict):
    return shapely.geometry.shape(feature["geometry"])


def metres(one, other) -> float:
    """The least distance of two geometries on the ellipsoid."""
    a, b = shapely.get_coordinates(shapely.shortest_line(one, other))
    return WGS84.inv(*a, *b)[2]


def check_geometry(features: dict) -> None:
    for kind in ("venue", "footprint", "level", "unit"):
        for feature in features[kind]:
            shape = shape_of(feature)
            assert shape.is_valid and not shape.is_empty
            for part in shapely.get_parts(shape):
                # RFC 7946, section 3.1.6: the right-hand rule.
                assert part.exterior.is_ccw
                assert not any(ring.is_ccw for ring in part.interiors)
    for all_ in features.values():
        for feature in all_:
            at = feature["properties"].get("display_point")
            if at and feature["geometry"]:
                assert shape_of(feature).distance(shapely.geometry.shape(at)) <= ROUNDED_DEG
    venue = shapely.union_all([shape_of(one) for one in features["venue"]]).buffer(ROUNDED_DEG)
    footprint = shapely.union_all([shape_of(one) for one in features["footprint"]])
    assert venue.covers(footprint)
    levels = {one["id"]: shape_of(one) for one in features["level"]}
    assert all(footprint.buffer(ROUNDED_DEG).covers(level) for level in levels.values())
    units: dict[str, list] = {}
    for unit in features["unit"]:
        level = unit["properties"]["level_id"]
        units.setdefault(level, []).append(shape_of(unit))
        assert levels[level].buffer(ROUNDED_DEG).covers(shape_of(unit))
    for opening in features.get("opening", ()):
        line = shape_of(opening)
        boundaries = [unit.boundary for unit in units[opening["properties"]["level_id"]]]
        ends = [shapely.Point(line.coords[0]), shapely.Point(line.coords[-1])]
        assert any(all(metres(b, end) < ROUNDED_M for end in ends) for b in boundaries)
