# SPDX-License-Identifier: GPL-2.0-or-later
"""The example survey is what its generator makes, and its truth is true."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod, Transformer
from shapely.geometry import LineString, Point, Polygon, shape
from shapely.ops import unary_union

TESTDATA = Path(__file__).resolve().parents[2] / "testdata"
CAPTURES = sorted((TESTDATA / "example" / "captures").glob("*.csv"))
RANGE_SIGMA_M, ANGLE_SIGMA_RAD = 0.002, np.radians(0.03)


@pytest.fixture(scope="module")
def truth():
    return json.loads((TESTDATA / "example_truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def rows():
    """Rows of every capture file by station."""
    tables = {}
    for path in CAPTURES:
        lines = path.read_text(encoding="utf-8").splitlines()
        tables[path.stem] = list(csv.DictReader(ln for ln in lines if not ln.startswith("#")))
    return tables


@pytest.fixture(scope="module")
def made_again(tmp_path_factory):
    pytest.importorskip("pygeomag", reason="the generator takes the declination from pygeomag")
    folder = tmp_path_factory.mktemp("made_again")
    subprocess.run([sys.executable, TESTDATA / "make_example.py", folder], check=True)
    return folder


def header(path: Path) -> dict[str, str]:
    lines = [ln for ln in path.read_text(encoding="utf-8").splitlines() if ln.startswith("#")]
    return dict(ln[2:].split(": ", 1) for ln in lines)


def positions(table, pose, kind):
    """Measured points ``(n, 2)`` in the plan frame (NaN: no return) and distances ``(n,)``."""
    chosen = [row for row in table if row["kind"] == kind]
    azimuth = np.radians([float(row["angle"]) + pose["orientation_deg"] for row in chosen])
    zenith = np.radians([float(row.get("zenith") or 90.0) for row in chosen])
    flat = np.array([float(row["distance"] or "nan") for row in chosen]) * np.sin(zenith)
    offset = flat[:, None] * np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    return offset + (pose["x"], pose["y"]), flat, [row["target"] for row in chosen]


def off_walls(truth, pose, points):
    """How far points lie from the nearest wall face of the pose's level, in units of the noise."""
    faces = [w for w in truth["walls"] if w["level"] == pose["level"]]
    start, end = (np.array([w[key] for w in faces]) for key in ("start", "end"))
    along = end - start
    share = np.einsum("pfk,fk->pf", points[:, None] - start, along) / np.sum(along**2, axis=1)
    foot = start + np.clip(share, 0, 1)[..., None] * along
    off = np.hypot(*np.moveaxis(points[:, None] - foot, -1, 0))
    nearest = np.argmin(off, axis=1)
    normal = (
        np.stack([along[:, 1], -along[:, 0]], 1)[nearest] / np.hypot(*along[nearest].T)[:, None]
    )
    beam = points - (pose["x"], pose["y"])
    distance = np.hypot(*beam.T)
    cosine = np.abs(np.sum(beam * normal, axis=1)) / distance
    across = distance * ANGLE_SIGMA_RAD * np.sqrt(1 - np.minimum(cosine, 1) ** 2)
    return off[np.arange(len(off)), nearest] / np.hypot(RANGE_SIGMA_M * cosine, across)


def test_generator_makes_the_committed_bytes(made_again):
    made = {p.relative_to(made_again) for p in made_again.rglob("*") if p.is_file()}
    written = ("*.csv", "*.geojson")
    kept = {p.relative_to(TESTDATA) for w in written for p in (TESTDATA / "example").rglob(w)}
    assert made == kept | {Path("example_truth.json")}
    for path in sorted(made):
        assert (made_again / path).read_bytes() == (TESTDATA / path).read_bytes(), path


def test_survey_is_small_enough_to_bring_along():
    assert len(CAPTURES) >= 14
    assert sum(path.stat().st_size for path in CAPTURES) < 1_500_000


def test_wall_readings_lie_on_true_walls_within_noise(truth, rows):
    off = []
    for pose in truth["stations"]:
        points, _, _ = positions(rows[pose["station"]], pose, "ring")
        assert len(points) == len(pose["cause"]) == 1600
        on_wall = np.array([letter == "w" for letter in pose["cause"]])
        off.append(off_walls(truth, pose, points[on_wall]))
    off = np.concatenate(off)
    # 1.96 sigma holds 95 % of normal residuals. Corners allow a little more, as the nearest face
    # is taken; with 20,000 readings the share itself is good to 0.2 %.
    assert np.mean(off < 1.96) == pytest.approx(0.95, abs=0.012)
    assert np.mean(off < 5.0) > 0.999


def test_every_cause_occurs_and_lost_readings_are_blank(truth, rows):
    causes = "".join(pose["cause"] for pose in truth["stations"])
    assert set(causes) == set(truth["causes"])
    assert causes.count("s") / len(causes) == pytest.approx(0.01, abs=0.002)
    for pose in truth["stations"]:
        _, flat, _ = positions(rows[pose["station"]], pose, "ring")
        assert [bool(np.isnan(d)) for d in flat] == [letter == "." for letter in pose["cause"]]


def after_the_bump(pose):
    """The pose of the sightings."""
    x, y = pose["moved_before_sightings"]["shift_m"]
    turned = pose["orientation_deg"] + pose["moved_before_sightings"]["turn_deg"]
    return {**pose, "x": pose["x"] + x, "y": pose["y"] + y, "orientation_deg": turned}


def off_targets(truth, pose, table, kind):
    """Vectors ``(n, 2)`` from the true targets to the measured points, their components square to
    the faces ``(n,)``, and one sigma of a sighting ``(n,)``."""
    targets = {t["target"]: t for t in truth["targets"]}
    points, flat, names = positions(table, pose, kind)
    assert all(pose["station"] in targets[name]["stations"] for name in names)
    offset = points - np.array([(targets[n]["x"], targets[n]["y"]) for n in names]).reshape(-1, 2)
    along = np.radians([targets[n]["face_azimuth_deg"] for n in names])
    across = offset[:, 0] * np.cos(along) - offset[:, 1] * np.sin(along)
    return offset, across, np.hypot(RANGE_SIGMA_M, flat * ANGLE_SIGMA_RAD)


def test_sightings_meet_their_targets(truth, rows):
    for pose in truth["stations"]:
        table = rows[pose["station"]]
        then = after_the_bump(pose) if "moved_before_sightings" in pose else pose
        offset, _, sigma = off_targets(truth, then, table, "target")
        assert np.all(np.hypot(*offset.T) < 4.5 * sigma)
        offset, across, sigma = off_targets(truth, then, table, "surface")
        assert np.all(np.abs(across) < 4.5 * sigma)
        assert np.all(np.hypot(*offset.T) < 0.15 + 4.5 * sigma)


def test_one_tripod_was_bumped_and_its_file_does_not_say_so(truth, rows):
    bumped = [pose for pose in truth["stations"] if "moved_before_sightings" in pose]
    assert len(bumped) == 1
    pose = bumped[0]
    assert np.hypot(*pose["moved_before_sightings"]["shift_m"]) == pytest.approx(0.06, abs=0.005)
    offset, _, sigma = off_targets(truth, pose, rows[pose["station"]], "target")
    assert np.all(np.hypot(*offset.T) > 5 * sigma)
    assert "moved" not in header(TESTDATA / f"example/captures/{pose['station']}.csv")


def test_stations_hang_together_and_share_targets_where_said(truth):
    names = [pose["station"] for pose in truth["stations"]]
    group = {name: {name} for name in names}

    def join(one, two):
        both = group[one] | group[two]
        for name in both:
            group[name] = both

    overlap_only = {name for pair in truth["overlap_only"] for name in pair[1:]}
    for target in truth["targets"]:
        assert not overlap_only & set(target["stations"])
        if target["role"] == "tie":
            assert len(target["stations"]) >= 2
            for other in target["stations"][1:]:
                join(target["stations"][0], other)
    assert group[names[0]] == set(names) - overlap_only
    for one, two in truth["overlap_only"]:
        join(one, two)
    assert group[names[0]] == set(names)
    storeys = {pose["station"]: pose["level"] for pose in truth["stations"]}
    joining = [t for t in truth["targets"] if len({storeys[s] for s in t["stations"]}) == 2]
    assert len(joining) == 2


def test_rooms_are_what_they_say(truth):
    polygons = {room["name"]: shape(room["geometry"]) for room in truth["rooms"]}
    for room in truth["rooms"]:
        polygon = polygons[room["name"]]
        assert polygon.is_valid
        assert polygon.area == pytest.approx(room["area_m2"], abs=1e-6)
        assert polygon.length == pytest.approx(room["perimeter_m"], abs=1e-6)
        inside = [
            pose
            for pose in truth["stations"]
            if pose["level"] == room["level"] and polygon.contains(Point(pose["x"], pose["y"]))
        ]
        assert bool(inside) == room["has_station"]
        assert all(pose["room"] == room["name"] for pose in inside)
    assert [room["name"] for room in truth["rooms"] if not room["has_station"]] == ["Store"]
    for level in (0, 1):
        here = [polygons[room["name"]] for room in truth["rooms"] if room["level"] == level]
        assert unary_union(here).area == pytest.approx(sum(p.area for p in here), abs=1e-9)


def test_doorways_lie_between_the_rooms_they_name(truth):
    polygons = {room["name"]: shape(room["geometry"]) for room in truth["rooms"]}
    for doorway in truth["doorways"]:
        line = LineString(doorway["line"])
        assert line.length == pytest.approx(doorway["width_m"], abs=1e-6)
        assert 0.80 <= doorway["width_m"] <= 1.20 + 1e-9
        assert 0.10 <= doorway["wall_thickness_m"] <= 0.40
        assert line.centroid.distance(Point(doorway["centre"])) < 1e-6
        through = np.radians(doorway["through_azimuth_deg"])
        step = (doorway["wall_thickness_m"] / 2 + 0.05) * np.array(
            [np.sin(through), np.cos(through)]
        )
        for room, sign in zip(doorway["rooms"], (-1, 1)):
            beyond = Point(np.array(doorway["centre"]) + sign * step)
            found = [
                name
                for name, polygon in polygons.items()
                if polygon.contains(beyond)
                and any(
                    r["name"] == name and r["level"] == doorway["level"] for r in truth["rooms"]
                )
            ]
            assert found == ([room] if room else [])


def test_walls_bound_the_rooms_with_the_free_side_to_the_right(truth):
    polygons = {room["name"]: shape(room["geometry"]) for room in truth["rooms"]}
    backed = dict.fromkeys(polygons, 0.0)
    for wall in truth["walls"]:
        start, end = np.array(wall["start"]), np.array(wall["end"])
        along = (end - start) / np.hypot(*(end - start))
        normal = np.radians(wall["normal_azimuth_deg"])
        assert np.allclose([np.sin(normal), np.cos(normal)], [along[1], -along[0]], atol=1e-6)
        if wall["kind"] == "room":
            polygon = polygons[wall["room"]]
            middle = (start + end) / 2
            assert polygon.exterior.distance(Point(middle)) < 1e-6
            assert polygon.contains(Point(middle + 0.01 * np.array([along[1], -along[0]])))
            backed[wall["room"]] += np.hypot(*(end - start))
    gaps = dict.fromkeys(polygons, 0.0)
    for opening in truth["doorways"] + truth["windows"]:
        for room in opening["rooms"]:
            if room:
                gaps[room] += opening["width_m"]
    for room in truth["rooms"]:
        whole = backed[room["name"]] + gaps[room["name"]]
        # A reveal square to one face meets a face 0.4 deg out at a slightly longer gap.
        assert whole == pytest.approx(room["perimeter_m"], abs=0.002)


def test_taped_distances_are_off_by_their_sigma_and_one_by_a_decimetre(truth):
    with (TESTDATA / "example" / "taped_distances.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert len(table) == len(truth["taped"]) >= 10
    blunders = []
    for row, true in zip(table, truth["taped"]):
        assert (row["from_ref"], row["to_ref"]) == (true["from_ref"], true["to_ref"])
        sigma = float(row["sigma_taped_mm"]) / 1000
        off = abs(float(row["taped_m"]) - true["true_m"])
        assert (off > 10 * sigma) == true["blunder"]
        assert off < 3.5 * sigma + 0.0005 or true["blunder"]
        blunders.append(true["blunder"])
    assert sum(blunders) == 1


def test_site_agrees_with_geodesy_done_another_way(truth):
    """PROJ's own factors made the site; here the ellipsoid's geodesic (Karney 2013, as pyproj.Geod)
    and the transformation of short steps must give the same convergence and scale."""
    site = truth["site"]
    back = Transformer.from_crs(site["target_crs"], "EPSG:4326", always_xy=True)
    step = 10.0
    lon, lat = back.transform(
        [site["east_m"], site["east_m"]], [site["north_m"], site["north_m"] + step]
    )
    azimuth, _, length = Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])
    assert azimuth == pytest.approx(site["convergence_deg"], abs=1e-4)
    # Radius from memory as 6371 km: at 48 m its error of 20 km changes the factor by 2e-8.
    assert site["scale"] == pytest.approx(step / length * 6371.0 / 6371.048, abs=2e-7)


def test_the_site_map_is_what_rfc_7946_says_and_lies_where_the_walls_are(truth):
    """Longitude first, exterior rings counterclockwise (RFC 7946, 3.1.1 and 3.1.6); brought into
    the plan by the site, the library's outline lies a wall's thickness outside the rooms."""
    site = truth["site"]
    there = Transformer.from_crs("EPSG:4326", site["target_crs"], always_xy=True)
    r = np.radians(site["rotation_deg"])

    def plan(shape_):
        lonlat = np.asarray(shape_.exterior.coords)
        east, north = np.array(there.transform(*lonlat.T)) - [[site["east_m"]], [site["north_m"]]]
        x, y = east * np.cos(r) - north * np.sin(r), east * np.sin(r) + north * np.cos(r)
        return Polygon(np.stack([x, y], axis=1) / site["scale"])

    text = (TESTDATA / "example" / "site_buildings.geojson").read_text(encoding="utf-8")
    features = json.loads(text)["features"]
    polygons = {f["properties"]["name"]: shape(f["geometry"]) for f in features}
    assert len(polygons) == 6
    assert all(p.is_valid and p.exterior.is_ccw for p in polygons.values())
    outlines = {name: plan(p) for name, p in polygons.items()}
    library = outlines.pop("Quillhaven Reading Rooms")
    rooms = unary_union([shape(room["geometry"]).buffer(0.2) for room in truth["rooms"]])
    assert library.buffer(0.2).contains(rooms)
    assert Polygon(rooms.exterior).hausdorff_distance(library) < 0.6
    assert all(p.distance(library) > 1.0 for p in outlines.values())
    paths = json.loads((TESTDATA / "example" / "site_paths.geojson").read_text(encoding="utf-8"))[
        "features"
    ]
    assert {f["geometry"]["type"] for f in paths} == {"LineString"}


def test_declination_agrees_with_the_other_field_model(truth):
    """IGRF-14 as in ppigrf; the two models differ by their own uncertainty, well under 0.3 deg at
    this latitude (WMM2025 technical report: 0.26 deg and 5417 nT / H)."""
    ppigrf = pytest.importorskip("ppigrf")
    from datetime import datetime

    site = truth["site"]
    lon, lat = Transformer.from_crs(site["target_crs"], "EPSG:4326", always_xy=True).transform(
        site["east_m"], site["north_m"]
    )
    east, north, _ = ppigrf.igrf(lon, lat, 0.048, datetime.fromisoformat(site["date"]))
    declination = np.degrees(np.arctan2(np.ravel(east)[0], np.ravel(north)[0]))
    assert site["declination_deg"] == pytest.approx(declination, abs=0.3)


def test_control_and_geotags_stand_where_the_site_puts_them(truth):
    site = truth["site"]
    r, k = np.radians(site["rotation_deg"]), site["scale"]

    def grid(x, y):
        east = site["east_m"] + k * (x * np.cos(r) + y * np.sin(r))
        return np.array([east, site["north_m"] + k * (-x * np.sin(r) + y * np.cos(r))])

    targets = {t["target"]: t for t in truth["targets"]}
    with (TESTDATA / "example" / "control.csv").open(encoding="utf-8", newline="") as file:
        control = list(csv.DictReader(file))
    assert [row["target"] for row in control] == ["C1", "C2"]
    known = [np.array([float(row["east_m"]), float(row["north_m"])]) for row in control]
    assert np.hypot(*(known[1] - known[0])) > 15
    for row, at in zip(control, known):
        target = targets[row["target"]]
        off = at - grid(target["x"], target["y"])
        assert np.all(np.abs(off) < 3.5 * float(row["sigma_mm"]) / 1000)

    forth = Transformer.from_crs("EPSG:4326", site["target_crs"], always_xy=True)
    bearing = site["rotation_deg"] + site["convergence_deg"] - site["declination_deg"]
    for pose in truth["stations"]:
        head = header(TESTDATA / f"example/captures/{pose['station']}.csv")
        tag = forth.transform(float(head["longitude_deg"]), float(head["latitude_deg"]))
        off = (tag - grid(pose["x"], pose["y"])) / float(head["geotag_sigma_m"])
        assert np.all(np.abs(off) < 3.5)
        compass = float(head["magnetic_azimuth_deg"]) - pose["orientation_deg"] - bearing
        compass -= pose.get("compass_bent_deg", 0.0)
        assert abs((compass + 180) % 360 - 180) < 3.5 * float(head["magnetic_azimuth_sigma_deg"])
    assert sum("compass_bent_deg" in pose for pose in truth["stations"]) == 1
