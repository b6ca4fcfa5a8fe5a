# SPDX-License-Identifier: GPL-2.0-or-later
"""A tree of small simulated surveys, one a building.

    OMP_NUM_THREADS=1 python tests/benchmarks/many_surveys.py FOLDER [COUNT]

Three rooms each and a station or more in every room, 800 readings a ring, compass and geotag, in
the open sea, so that no real place is meant. Run it from anywhere but the checkout's top, whose
`processing` would shadow the host's.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from simulated_buildings import simulated_building  # noqa: E402

FIRST_SEED = 5000
LONGITUDE_DEG, LATITUDE_DEG = 4.60037, 55.30018
APART_DEG = 0.002


def write_survey(folder: Path, seed: int, place: int = 0, rooms: int = 3) -> None:
    """The captures of one building, in capture text."""
    folder.mkdir(parents=True)
    survey, truth = simulated_building(seed, rooms=rooms, compass=True, targets=False, readings=800)
    east = LONGITUDE_DEG + APART_DEG * (place % 10)
    north = LATITUDE_DEG + APART_DEG * (place // 10)
    for capture, pose in zip(survey.captures, truth.pose):
        noise = np.random.default_rng([seed, len(capture.station)]).normal(0.0, 2.0, 2)
        header = {
            "station": capture.station,
            "level": capture.level,
            "captured_at": "2026-04-21T09:06:00+02:00",
            "angle_unit": "deg",
            "distance_unit": "m",
            "rotation": "clockwise",
            "magnetic_azimuth_deg": f"{capture.magnetic_azimuth_deg % 360.0:.1f}",
            "magnetic_azimuth_sigma_deg": "3.0",
            "longitude_deg": f"{east + (pose[0] + noise[0]) / 63.5e3:.7f}",
            "latitude_deg": f"{north + (pose[1] + noise[1]) / 111.3e3:.7f}",
            "geotag_sigma_m": "2.0",
            "ellipsoidal_height_m": "48.0",
        }
        lines = [f"# {key}: {value}" for key, value in header.items()]
        lines.append("angle,distance")
        for angle, distance in zip(capture.angle_deg, capture.slope_distance_m):
            lines.append(f"{angle:.3f},{'' if np.isnan(distance) else f'{distance:.4f}'}")
        text = "\n".join(lines) + "\n"
        (folder / f"{capture.station}.csv").write_text(text, encoding="utf-8")


def write_tree(top: Path, count: int) -> None:
    """`count` buildings in blocks of ten."""
    for number in range(count):
        folder = top / f"block {number // 10:02d}" / f"{number:03d}" / "captures"
        write_survey(folder, FIRST_SEED + number, number)


if __name__ == "__main__":
    write_tree(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 100)
