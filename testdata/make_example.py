# SPDX-License-Identifier: GPL-2.0-or-later
"""Makes the example survey and its truth: ``python testdata/make_example.py [FOLDER]``.

Writes ``example/captures/*.csv``, ``example/control.csv``, ``example/taped_distances.csv``,
``example/site_buildings.geojson``, ``example/site_paths.geojson`` and ``example_truth.json`` into
the folder (this one by default), the same bytes each time.
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import place
from building import STOREYS, Floats, Storey
from fieldwork import (
    BENT,
    BENT_DEG,
    BUMP_SHIFT,
    BUMP_TURN_DEG,
    BUMPED,
    INSTRUMENT_HEIGHT_M,
    PASSER_BY,
    STATIONS,
    STOREY_HEIGHT_M,
    Target,
    around,
    plan_of_work,
    visible,
)
from instrument import Ring, Scene, ring, scene_of, sight, with_person
from site_map import write_site_map
from taping import Taped, tape
from truth import SetUp, write_truth

SEED = 20260421
ZONE = timezone(timedelta(hours=2))
FIRST_CAPTURE = datetime(2026, 4, 21, 9, 6, tzinfo=ZONE)
SURFACE_READINGS = 5
CONTROL_SIGMA_M = 0.005
COMPASS_SIGMA_DEG = 3.0


def main(folder: Path) -> None:
    """Survey the building and write everything."""
    targets = plan_of_work()
    site = place.site()
    captures = folder / "example" / "captures"
    captures.mkdir(parents=True, exist_ok=True)
    scenes = {storey.level: scene_of(storey) for storey in STOREYS}

    set_ups = []
    at = FIRST_CAPTURE
    for number, station in enumerate(STATIONS, start=1):
        rng = np.random.default_rng([SEED, number])
        set_up = _set_up(station, at, site, rng)
        scene = scenes[set_up.level]
        during = with_person(scene, *PASSER_BY[station]) if station in PASSER_BY else scene
        turn = ring(during, set_up.xy, set_up.orientation_deg, rng)
        rows = _sightings(set_up, scene, targets, rng)
        set_up.cause = turn.cause
        (captures / f"{station}.csv").write_text(
            _capture_text(set_up, turn, rows), encoding="utf-8", newline="\n"
        )
        set_ups.append(set_up)
        at += timedelta(minutes=int(rng.integers(5, 10)), seconds=int(rng.integers(0, 60)))

    taped = tape({t.name: t for t in targets}, np.random.default_rng([SEED, 1001]))
    _write_control(folder / "example" / "control.csv", targets, site)
    _write_taped(folder / "example" / "taped_distances.csv", taped)
    write_site_map(
        folder / "example",
        lambda xy: site.geographic(site.grid(xy - plan_origin())),
        [SEED, 1003],
    )
    write_truth(folder / "example_truth.json", site, set_ups, targets, taped)


def plan_origin() -> Floats:
    """The plan's origin in the building's axes: the first station."""
    return np.array(next(iter(STATIONS.values()))[1])


def _storey(level: int) -> Storey:
    return next(storey for storey in STOREYS if storey.level == level)


def _set_up(station: str, at: datetime, site: place.Site, rng: np.random.Generator) -> SetUp:
    level, point = STATIONS[station]
    xy = np.array(point)
    orientation = rng.uniform(0, 360)
    compass = orientation + site.magnetic_azimuth_of_plan_north_deg
    compass += rng.normal(0, COMPASS_SIGMA_DEG) + (BENT_DEG if station == BENT else 0.0)
    geotag_sigma = round(rng.uniform(4, 6), 1)
    scatter = rng.normal(0, geotag_sigma, 2)
    longitude, latitude = site.geographic(site.grid((xy - plan_origin())[None, :]) + scatter)[0]
    header = {
        "station": station,
        "level": level,
        "captured_at": at.isoformat(),
        "angle_unit": "deg",
        "distance_unit": "m",
        "rotation": "clockwise",
        "instrument_height_m": f"{INSTRUMENT_HEIGHT_M:.2f}",
        "magnetic_azimuth_deg": f"{round(compass % 360, 1) % 360:.1f}",
        "magnetic_azimuth_sigma_deg": f"{COMPASS_SIGMA_DEG:.1f}",
        "compass_calibrated": "yes",
        "longitude_deg": f"{longitude:.7f}",
        "latitude_deg": f"{latitude:.7f}",
        "geotag_sigma_m": f"{geotag_sigma:.1f}",
        "ellipsoidal_height_m": f"{place.ELLIPSOIDAL_HEIGHT_M + rng.normal(0, 1.5):.1f}",
        "tilt_deg": f"{min(abs(rng.normal(0, 0.12)), 0.30):.2f}",
        "comment": _storey(level).room_at(*point),
    }
    return SetUp(station, level, xy, orientation, header)


def _sightings(
    set_up: SetUp, scene: Scene, targets: list[Target], rng: np.random.Generator
) -> list[tuple[float, float, float, str, str]]:
    """Rows of angle, zenith, slope distance, kind and target, in the order of the targets."""
    xy, orientation = set_up.xy, set_up.orientation_deg
    if set_up.station == BUMPED:
        xy, orientation = xy + BUMP_SHIFT, orientation + BUMP_TURN_DEG
    eye = set_up.level * STOREY_HEIGHT_M + INSTRUMENT_HEIGHT_M
    rows = []
    for number, target in enumerate(targets):
        if set_up.station not in target.stations:
            continue
        level = np.isclose(target.height_m, eye)
        points = target.xy[None, :]
        if level and target.role == "tie" and number % 3 != 0:
            points = np.concatenate([points, around(target, SURFACE_READINGS, rng)])
        if not visible(scene, xy, points).all():
            raise ValueError(f"station {set_up.station} cannot see target {target.name}")
        rise = np.full(len(points), 0.0 if level else target.height_m - eye)
        angle, zenith, distance = sight(xy, orientation, points, rise, rng)
        kinds = ["target"] + ["surface"] * (len(points) - 1)
        rows += [(a, z, d, k, target.name) for a, z, d, k in zip(angle, zenith, distance, kinds)]
    return rows


def _capture_text(
    set_up: SetUp, turn: Ring, rows: list[tuple[float, float, float, str, str]]
) -> str:
    """The capture as a text file; a zenith column only where a sighting is inclined."""
    inclined = any(zenith != 90.0 for _, zenith, _, _, _ in rows)
    lines = [f"# {key}: {value}" for key, value in set_up.header.items()]
    lines.append("angle,zenith,distance,kind,target" if inclined else "angle,distance,kind,target")
    every = [
        (angle, 90.0, distance, "ring", "")
        for angle, distance in zip(turn.angle_deg, turn.distance_m)
    ] + rows
    for angle, zenith, distance, kind, target in every:
        slope = "" if np.isnan(distance) else f"{distance:.4f}"
        middle = f"{zenith:.3f},{slope}" if inclined else slope
        lines.append(f"{round(angle, 3) % 360:.3f},{middle},{kind},{target}")
    return "\n".join(lines) + "\n"


def _write_control(path: Path, targets: list[Target], site: place.Site) -> None:
    rng = np.random.default_rng([SEED, 1002])
    lines = ["target,east_m,north_m,sigma_mm"]
    for target in targets:
        if target.role == "control":
            east, north = site.grid((target.xy - plan_origin())[None, :])[0]
            east, north = (east, north) + rng.normal(0, CONTROL_SIGMA_M, 2)
            lines.append(f"{target.name},{east:.3f},{north:.3f},{1000 * CONTROL_SIGMA_M:.0f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def _write_taped(path: Path, taped: list[Taped]) -> None:
    lines = ["from_ref,to_ref,taped_m,sigma_taped_mm"]
    lines += [f"{t.from_ref},{t.to_ref},{t.taped_m:.3f},{t.sigma_mm:.1f}" for t in taped]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
